"""Where air would get through: void caps, window perimeters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FLANGE, FRAME, WEB, is_steel, paint_plate, paint_stud
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input

BATT = Input("batt", "mm", "thickness of the ceiling batt")


def _paint_void_cap(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    width, batt = require_positive("width", n["width"]), require_positive("batt", n["batt"])
    side = 620.0
    scale = min((WIDTH - 2 * MARGIN - 34) / (width + 2 * side), 110 / batt)
    x0, right = MARGIN, MARGIN + (width + 2 * side) * scale
    a, b = x0 + side * scale, x0 + (side + width) * scale
    ground = 44 + batt * scale
    stud = max(6.0, 70 * scale)
    foot = ground + 96
    sheet.words(MARGIN, 18, words["above"], kind="soft")
    for left, wide in ((x0, a - stud - x0), (b + stud, right - b - stud)):
        sheet.board(left, ground, wide, 5)
    for x in (a - stud, b):
        paint_plate(sheet, is_steel(n), x, ground - stud * 0.6, stud, stud * 0.6, "down")
        sheet.box(x, ground, stud, foot - ground, "soft", 1, tint=0.05)
    for x in (a - stud - 5, b + stud):
        sheet.board(x, ground + 5, 5, foot - ground - 5)
    cap = ground - stud * 0.6 - 5
    sheet.board(a - stud - 6, cap, b - a + 2 * stud + 12, 5)
    for x in (a - stud - 6, b + stud + 6):
        sheet.ring(x, cap + 5, 3, "now ink", 1, tint=0.9)
    sheet.batt(x0, ground - batt * scale, a - stud - 6 - x0, batt * scale)
    sheet.batt(b + stud + 6, ground - batt * scale, right - b - stud - 6, batt * scale)
    sheet.batt(a - stud - 6, cap - batt * scale, b - a + 2 * stud + 12, batt * scale)
    sheet.across(a, b, foot + 10, words["width"], below=True, upto=foot + 4)
    sheet.upright(right + 8, ground - batt * scale, ground, words["batt"])
    middle = (a + b) / 2
    sheet.number(1, x0 + 46, foot - 34, (a - stud + 4, cap + 2.5))
    sheet.number(2, middle, ground + 34)
    sheet.number(3, right - 46, foot - 34, (b + stud + 6, cap + 5))
    sheet.floor = foot + 28
    sheet.note(1, words["cap"])
    sheet.note(2, words["void"])
    sheet.note(3, words["seal"])


VOID_CAP = Drawing(
    name="void_cap",
    inputs=(Input("width", "mm", "width of the void", 300), BATT, FRAME),
    labels={
        "title": "Cap over an unused void in section, to scale",
        "says": "A void between two walls, closed at the ceiling by a cap, sealed all round, the batts "
        "over it.",
        "says_steel": "A void between two walls with tracks of steel, closed at the ceiling by a cap, sealed "
        "all round, the batts over it.",
        "above": "roof space",
        "width": "{width}",
        "batt": "{batt}",
        "cap": "Rigid cap over the whole void, before the ceiling batts, which run over it",
        "void": "Unused void: no lamp, no flue, no duct in it. Those keep their clearance and get no cap",
        "seal": "Sealed all round",
    },
    paint=_paint_void_cap,
)


def _paint_window_seal(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    gap, depth, stud = n["gap"], n["depth"], n["stud"]
    if not 3 <= gap <= 40:
        raise FabricError("gap", f"{show(gap)} mm is no gap to seal; give 3 to 40 (pack it first)")
    scale = min(1.0, 104 / require_positive("depth", depth))
    thick = require_positive("depth", depth) * scale
    x0, y = MARGIN + 4, 46.0
    wide = 64.0
    jamb = x0 + wide + (FLANGE if is_steel(n) else 2 * stud) * scale
    frame = jamb + gap * scale
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.line((x0, y), (jamb, y), "wrap ink", 2, "7 3")
    if is_steel(n):
        sheet.batt(x0, y + WEB, jamb - x0 - WEB / 2, thick - WEB)
        paint_stud(sheet, jamb - WEB / 2, y + WEB, thick - WEB, scale, "left")
    else:
        sheet.batt(x0, y, wide, thick)
        sheet.timber(x0 + wide, y, stud * scale, thick)
        sheet.timber(x0 + wide + stud * scale, y, stud * scale, thick)
    sheet.board(x0, y + thick, jamb - x0 - 6, 10)
    sheet.box(frame, y + 4, 42 * scale, thick * 0.62, "ink", 1.4, tint=0.08)
    sheet.line((frame + 42 * scale, y + thick * 0.32), (WIDTH - MARGIN, y + thick * 0.32), "soft", 1)
    sheet.line((frame + 42 * scale, y + thick * 0.4), (WIDTH - MARGIN, y + thick * 0.4), "soft", 1)
    sheet.path(f"M{jamb:.1f} {y:.1f}L{frame + 6:.1f} {y:.1f}", "wrap ink", 2)
    sheet.outline(
        [(jamb, y + 16), (frame, y + 16), (frame, y + 34), (jamb, y + 34)], "now ink", 1.2, tint=0.55
    )
    sheet.board(jamb - 6, y + thick, frame - jamb + 30, 10)
    foot = y + thick + 10
    sheet.across(jamb, frame, foot + 14, words["gap"], below=True, upto=foot + 2)
    sheet.number(1, jamb - 50, foot + 22, ((jamb + frame) / 2, y + 25))
    sheet.number(2, WIDTH - MARGIN - 24, y + thick * 0.72, (frame + 24 * scale, y + thick * 0.5))
    sheet.number(3, jamb + 26, y - 26, (jamb + 2, y))
    sheet.words(MARGIN, foot + 54, words["inside"], kind="soft")
    sheet.floor = foot + 58
    sheet.note(1, words["seal"])
    sheet.note(2, words["frame"])
    sheet.note(3, words["flashing"])


WINDOW_SEAL = Drawing(
    name="window_seal",
    inputs=(
        Input("gap", "mm", "gap between frame and stud", 12),
        Input("depth", "mm", "depth of the stud", 90),
        Input("stud", "mm", "thickness of the stud", 45),
        FRAME,
    ),
    labels={
        "title": "Window perimeter in plan, to scale",
        "says": "The gap between the window's frame and the stud, sealed all round before the lining.",
        "says_steel": "The gap between the window's frame and the web of the steel stud, sealed all round "
        "before the lining; the batt fills the hollow of the stud.",
        "outside": "outside",
        "inside": "inside: reveal comes later",
        "gap": "{gap}",
        "seal": "Gap of {gap} mm sealed on all four sides: backing rod and sealant, or low-expansion foam "
        "where the window's maker allows it",
        "frame": "Window frame, packed and fixed; never bent by the seal",
        "flashing": "Wrap and flashing drain to the outside; the seal keeps clear of the drain",
    },
    paint=_paint_window_seal,
)
