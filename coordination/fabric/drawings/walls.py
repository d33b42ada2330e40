"""The wall in plan, cut level: stud bays with cable or pipe."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric import fill
from coordination.fabric.catalogue.thickness import LAGGING, PIPE
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FLANGE, FRAME, WEB, is_steel, paint_stud
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input

DEEPEST = 110.0
DEPTH = Input("depth", "mm", "depth of the stud", 90)
CENTRES = Input("centres", "mm", "spacing of the studs", 600)
STUD = Input("stud", "mm", "thickness of the stud, of steel at its web", 45)


def _member(n: Mapping[str, Any]) -> float:
    """Width of a stud along the wall, mm: that of a section of steel is its flange, not its web."""
    return FLANGE if is_steel(n) else float(n["stud"])


def _paint_bay(sheet: Sheet, y: float, scale: float, n: Mapping[str, Any]) -> tuple[float, float]:
    """Two studs with wrap outside (above) and lining inside (below); returns the bay's left and right.

    Between studs of steel the bay runs from web to web: the hollow of the left one is a part of it.
    """
    stud, depth, centres = n["stud"] * scale, n["depth"] * scale, n["centres"] * scale
    x0 = MARGIN + 10
    reach = (x0 - 10, x0 + centres + _member(n) * scale + 10)
    wrap = y - WEB if is_steel(n) else y
    sheet.line((reach[0], wrap), (reach[1], wrap), "wrap ink", 2, "7 3")
    sheet.board(reach[0], y + depth, reach[1] - reach[0], max(4.0, 10 * scale))
    if is_steel(n):
        sheet.batt(reach[0], y, 10 - WEB / 2, depth)
        sheet.batt(x0 + centres + WEB / 2, y, reach[1] - x0 - centres - WEB / 2, depth)
        return x0 + max(stud, WEB / 2), x0 + centres - WEB / 2
    sheet.timber(x0, y, stud, depth)
    sheet.timber(x0 + centres, y, stud, depth)
    return x0 + stud, x0 + centres


def _paint_sections(sheet: Sheet, y: float, scale: float, n: Mapping[str, Any]) -> None:
    """The studs of a bay of steel, over the batts that run into them."""
    if is_steel(n):
        for at in (0, n["centres"]):
            paint_stud(sheet, MARGIN + 10 + at * scale, y, n["depth"] * scale, scale, "right")


def _scale(n: Mapping[str, Any]) -> float:
    clear: float = fill.clear_bay(n["centres"], n["stud"])
    width = clear + n["stud"] + _member(n)
    deepest = DEEPEST / require_positive("depth", n["depth"])
    scale: float = min((WIDTH - 2 * MARGIN - 20 - 34) / width, deepest)
    return scale


def _paint_stud_bay(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    clear = fill.clear_bay(n["centres"], n["stud"])
    cable, depth = n["cable"], n["depth"]
    if cable >= depth / 2:
        raise FabricError(
            "cable", f"{show(cable)} mm is no cable in a {show(depth)} mm stud; give its diameter"
        )
    words.know(clear=clear, left=depth - cable)
    scale = _scale(n)
    thick, size = depth * scale, cable * scale

    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    y = 62.0
    sheet.verdict(MARGIN, 42, True, words["right"])
    left, right = _paint_bay(sheet, y, scale, n)
    sheet.batt(left, y, right - left, thick)
    _paint_sections(sheet, y, scale, n)
    sheet.ring(left + size / 2 + 1, y + size / 2 + 1, size / 2, "now ink", 1.4, tint=0.35)
    sheet.across(left, right, y + thick + 26, words["clear"], below=True, upto=y + thick + 8)
    sheet.upright(right + _member(n) * scale + 16, y, y + thick, words["depth"])
    sheet.number(1, left + 44, y - 22, (left + size / 2 + 1, y + size / 2 + 1))
    sheet.number(2, (left + right) / 2, y + thick / 2)

    y2 = y + thick + 92
    sheet.verdict(MARGIN, y2 - 20, False, words["wrong"])
    left, right = _paint_bay(sheet, y2, scale, n)
    middle, half = (left + right) / 2, min(max(20.0, 3 * size), (right - left) / 7)
    pinch = thick - size * 1.6
    points = [(left, y2, thick), (middle - 3 * half, y2, thick), (middle - half / 2, y2, pinch)]
    points += [(middle + half / 2, y2, pinch), (middle + 3 * half, y2, thick), (right, y2, thick)]
    sheet.taper(points)
    _paint_sections(sheet, y2, scale, n)
    sheet.ring(middle, y2 + thick - size / 2 - 1, size / 2, "held ink", 1.4, tint=0.35)
    sheet.number(3, middle + 50, y2 - 22, (middle + 2, y2 + thick - size))
    sheet.words(MARGIN, y2 + thick + 26, words["inside"], kind="soft")
    sheet.floor = y2 + thick + 30
    sheet.note(1, words["back"])
    sheet.note(2, words["batt"])
    sheet.note(3, words["middle"])


STUD_BAY = Drawing(
    name="stud_bay",
    inputs=(CENTRES, STUD, DEPTH, Input("cable", "mm", "diameter of the cable", 12), FRAME),
    labels={
        "title": "Stud bay in plan, to scale",
        "says": "Two studs seen from above, wrap outside, lining inside. First with the cable at the back "
        "of the stud, then the wrong way with the cable in front.",
        "says_steel": "Two C-sections of steel seen from above, wrap outside, lining inside; the batt runs "
        "into the hollow of the section. First with the cable held to the web, then the wrong way with the "
        "cable in front.",
        "outside": "outside: wrap, then cladding or brick",
        "inside": "inside: plasterboard",
        "right": "So",
        "wrong": "Not so",
        "clear": "{clear} clear",
        "depth": "{depth}",
        "back": "Cable clipped to the back of the stud, where the electrician agrees; his rules decide",
        "back_steel": "Cable in clips of plastic on the web, near the outer flange, where the electrician "
        "agrees; his rules decide",
        "batt": "Batt flush with the stud's face, {depth} mm, whole",
        "batt_steel": "Batt {depth} mm, whole, from web to web: it fills the hollow of the section and is "
        "flush with its inner flange",
        "middle": "Cable in front: the batt cannot fill its {depth} mm and air moves behind the lining",
    },
    paint=_paint_stud_bay,
)


def _paint_pipe(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    pipe, depth = n["pipe"], n["depth"]
    whole, left_behind = fill.split_round_pipe(depth, pipe, n["lagging"])
    words.know(whole=whole, behind=left_behind)
    scale = _scale(n)
    thick, size = depth * scale, whole * scale
    y = 44.0
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    left, right = _paint_bay(sheet, y, scale, n)
    middle = (left + right) / 2
    inner = y + thick
    behind = thick - size
    sheet.batt(left, y, right - left, behind)
    sheet.batt(left, y + behind, middle - size / 2 - left, size)
    sheet.batt(middle + size / 2, y + behind, right - middle - size / 2, size)
    _paint_sections(sheet, y, scale, n)
    sheet.ring(middle, inner - size / 2, size / 2, "soft", 1, tint=0.12)
    sheet.ring(middle, inner - size / 2, pipe * scale / 2, "now ink", 1.6)
    sheet.upright(right + _member(n) * scale + 16, y, y + behind, words["behind"])
    sheet.number(1, middle, inner + 34, (middle, inner - size / 2 + pipe * scale / 2))
    sheet.number(2, left + 40, inner + 34, (left + 40, y + behind / 2))
    sheet.number(3, right - 40, inner + 34, (right - 40, y + behind + size / 2))
    sheet.words(MARGIN, inner + 68, words["inside"], kind="soft")
    sheet.floor = inner + 72
    sheet.note(1, words["pipe"])
    sheet.note(2, words["back"])
    sheet.note(3, words["front"])


PIPE_SPLIT = Drawing(
    name="pipe_split",
    inputs=(
        CENTRES,
        STUD,
        DEPTH,
        PIPE,
        LAGGING,
        FRAME,
    ),
    labels={
        "title": "Pipe in an outside wall in plan, to scale",
        "says": "The batt is split: one layer runs behind the pipe, the other stops at both sides of it.",
        "says_steel": "Between C-sections of steel the batt is split: one layer runs behind the pipe from "
        "web to web, the other stops at both sides of the pipe.",
        "outside": "outside: wrap",
        "inside": "inside: plasterboard",
        "behind": "{behind}",
        "pipe": "Pipe {pipe} mm on the warm side, lagged to {whole} mm, clips included",
        "back": "Back layer of the batt, {behind} mm, whole behind the pipe, on its cold side",
        "front": "Front layer, {whole} mm, cut to both sides of the lagging: nothing squeezed over it",
    },
    paint=_paint_pipe,
)
