"""Wall faces: the second frame at the switchboard, laps of the wrap, pieces in a bay, the lintel."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import (
    FLANGE,
    FRAME,
    WEB,
    is_steel,
    lip_of,
    paint_plate,
    paint_section,
    paint_stud,
)
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input, whole


def _paint_switchboard(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, second, board, batt = (require_positive(k, n[k]) for k in ("depth", "second", "board", "batt"))
    if batt > depth:
        raise FabricError(
            "batt", f"{show(batt)} mm is more than the {show(depth)} mm stud; give the wall's batt"
        )
    scale = min((WIDTH - 2 * MARGIN - 44) / (board + 330), 0.62)
    x0, y = MARGIN + 4, 34.0
    wide = (board + 300) * scale
    thick, inner = depth * scale, second * scale
    stud = 45 * scale
    right = x0 + wide
    a = x0 + (wide - board * scale) / 2
    b = a + board * scale
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.line((x0, y), (right, y), "wrap ink", 2, "7 3")
    mid = y + thick
    if is_steel(n):
        stud = FLANGE * scale
        sheet.batt(x0 + WEB / 2, y + WEB, wide - stud - WEB, batt * scale - WEB, kind="now batt")
        for left, stop in ((x0, a - WEB / 2), (b + WEB / 2, right)):
            sheet.batt(left, mid, stop - left, inner)
        for x in (x0, right - stud):
            paint_stud(sheet, x, y + WEB, thick - WEB, scale, "right")
        paint_stud(sheet, a, mid, inner, scale, "left")
        paint_stud(sheet, b, mid, inner, scale, "right")
    else:
        for x in (x0, right - stud):
            sheet.timber(x, y, stud, thick)
        sheet.batt(x0 + stud, y, wide - 2 * stud, batt * scale, kind="now batt")
        for x in (a - stud, b):
            sheet.timber(x, mid, stud, inner)
        for left, stop in ((x0, a - stud), (b + stud, right)):
            sheet.batt(left, mid, stop - left, inner)
    sheet.box(a + 3, mid + 3, b - a - 6, inner - 3, "ink", 1.8, tint=0.12)
    sheet.board(x0, mid + inner, a - x0, 6)
    sheet.board(b, mid + inner, right - b, 6)
    sheet.upright(right + 12, y, mid, words["depth"])
    sheet.upright(right + 12, mid, mid + inner, words["second"])
    sheet.number(1, (a + b) / 2 - 24, y + batt * scale / 2)
    sheet.number(2, max(a - stud - 26, MARGIN + 12), mid + inner + 38, (a - stud / 2, mid + inner / 2))
    sheet.number(3, (a + b) / 2 + 24, mid + inner / 2)
    sheet.words(WIDTH - MARGIN, mid + inner + 26, words["inside"], "end", kind="soft")
    sheet.floor = mid + inner + 46
    sheet.note(1, words["batt"])
    sheet.note(2, words["frame"])
    sheet.note(3, words["board"])


SWITCHBOARD = Drawing(
    name="switchboard",
    inputs=(
        Input("depth", "mm", "depth of the outside wall's stud", 90),
        Input("second", "mm", "depth of the second frame", 90),
        Input("board", "mm", "width of the switchboard", 400),
        Input("batt", "mm", "thickness of the batt behind it", 90),
        FRAME,
    ),
    labels={
        "title": "Wall behind the switchboard in plan, to scale",
        "says": "The switchboard stands in a second frame; a whole batt runs behind it in the outside wall.",
        "says_steel": "The switchboard stands in a second frame of C-sections; a whole batt runs behind it "
        "from web to web of the outside wall's studs.",
        "outside": "outside: wrap",
        "inside": "inside",
        "depth": "{depth}",
        "second": "{second}",
        "batt": "Batt {batt} mm behind the board: in and photographed before the board is screwed on",
        "frame": "Second frame {second} mm carries the board",
        "board": "Switchboard and cables: licensed electrician only",
    },
    paint=_paint_switchboard,
)


def _paint_wrap_laps(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    lap, roll = require_positive("lap", n["lap"]), require_positive("roll", n["roll"])
    if lap >= roll / 2:
        raise FabricError("lap", f"{show(lap)} mm is half the roll of {show(roll)} mm or more; give the lap")
    scale = 200 / (2 * roll - lap)
    x, y = MARGIN + 44.0, 30.0
    wide = 124.0
    lower = y + (roll - lap) * scale
    sheet.box(x, lower, wide, roll * scale, "wrap soft", 1.2, "7 3", tint=0.03)
    sheet.box(x, y, wide, roll * scale, "wrap ink", 1.6, tint=0.06)
    seam = y + roll * scale
    sheet.line((x, seam), (x + wide, seam), "now ink", 3)
    sheet.upright(x - 12, lower, seam, words["lap"], left=True)
    for i in range(3):
        drop = x + 22 + i * 40
        sheet.arrow((drop, y + 18), (drop, y + 58), "pencil", 1.4)
    # The same lap cut through, so that it is seen which sheet lies in front.
    cut = x + wide + 50
    sheet.line((cut + 8, y), (cut + 8, seam), "wrap ink", 2.4)
    sheet.line((cut, lower), (cut, y + (2 * roll - lap) * scale), "wrap ink", 2.4)
    sheet.box(cut - 30, y, 24, 200, "soft", 1, tint=0.05)
    sheet.arrow((cut + 20, y + 20), (cut + 20, seam + 26), "pencil", 1.4)
    sheet.number(1, x + wide - 22, (lower + seam) / 2 + 0.5)
    sheet.number(2, x + 24, seam + 34, (x + 44, seam))
    sheet.number(3, cut - 18, y + 100)
    sheet.floor = y + 206
    sheet.note(1, words["over"])
    sheet.note(2, words["tape"])
    sheet.note(3, words["flat"])


WRAP_LAPS = Drawing(
    name="wrap_laps",
    inputs=(
        Input("lap", "mm", "lap of one length over the next", from_limit="wrap.lap"),
        Input("roll", "mm", "width of the roll", 1350),
    ),
    labels={
        "title": "Laps of the wall wrap, to scale",
        "says": "Seen from outside, and beside it cut through: the upper length hangs over the lower one, "
        "so that "
        "water runs off outside.",
        "lap": "{lap}",
        "over": "Upper length over the lower by {lap} mm: water runs off on the outside",
        "tape": "Laps and tears taped, with the maker's tape",
        "flat": "Studs behind: no batt pushes the wrap into the cavity",
    },
    paint=_paint_wrap_laps,
)


def _paint_pieces(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    height, clear, most = (
        require_positive("height", n["height"]),
        require_positive("clear", n["clear"]),
        n["most"],
    )
    if most < 1:
        raise FabricError("most", f"{show(most)} is no number of pieces; give 1 or more")
    scale = 210 / height
    wide, stud = clear * scale, 45 * scale
    y = 42.0

    def paint(x: float, cuts: list[float]) -> None:
        for left in (x, x + stud + wide):
            sheet.box(left, y, stud, 210, "ink", 1.2, tint=0.12)
        stops = [0.0, *cuts, 1.0]
        for a, b in pairwise(stops):
            sheet.batt(x + stud, y + a * 210, wide, (b - a) * 210, upright=True)

    left, right = MARGIN + 30.0, WIDTH - MARGIN - wide - 2 * stud - 40
    sheet.verdict(left, 28, True, words["right"])
    sheet.verdict(right, 28, False, words["wrong"])
    paint(left, [1160 / height] if height > 1300 else [])
    paint(right, [0.16, 0.31, 0.42, 0.6, 0.78, 0.9])
    sheet.upright(left + 2 * stud + wide + 14, y, y + 210, words["height"])
    sheet.number(1, left + stud + wide / 2, y + 52)
    sheet.number(2, right + stud + wide / 2, y + 77)
    sheet.floor = y + 220
    sheet.note(1, words["few"])
    sheet.note(2, words["many"])


PIECES = Drawing(
    name="pieces",
    inputs=(
        Input("height", "mm", "height of the bay", 2400),
        Input("clear", "mm", "clear width of the bay", 555),
        Input("most", "pieces", "most pieces in one bay", from_limit="batts.pieces_per_bay", read=whole),
    ),
    labels={
        "title": "Pieces in a wall bay, to scale",
        "says": "Two bays seen from inside: one filled with two whole batts, one patched from seven pieces.",
        "right": "So",
        "wrong": "Not so",
        "height": "{height}",
        "few": "Whole batts, cut to butt: at most about {most} pieces",
        "many": "Patchwork: each joint is a gap, each piece can sag",
    },
    paint=_paint_pieces,
)


def _paint_lintel(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, lintel, high = (require_positive(k, n[k]) for k in ("depth", "lintel", "high"))
    if lintel > depth:
        raise FabricError(
            "lintel", f"{show(lintel)} mm is thicker than the {show(depth)} mm wall; give its thickness"
        )
    rest = depth - lintel
    words.know(rest=rest)
    scale = min(1.0, 130 / high, 96 / depth)
    thick = depth * scale
    x, y = (WIDTH - thick) / 2, 50.0
    sheet.words(x - 10, 20, words["outside"], "end", kind="soft")
    sheet.words(x + thick + 10, 20, words["inside"], kind="soft")
    sheet.line((x, y - 14), (x, y + high * scale + 40), "wrap ink", 2, "7 3")
    line = WEB if is_steel(n) else 0.0
    paint_plate(sheet, is_steel(n), x, y - 20, thick, 20 - line, "down")
    if is_steel(n):
        # The open side of the section is filled as well: the batt runs on from its web to the lining.
        sheet.batt(x + WEB / 2, y, thick - WEB / 2, high * scale, upright=True, kind="now batt")
        paint_section(sheet, x, y, lintel * scale, high * scale, "right", lip_of(scale))
    else:
        sheet.timber(x, y, lintel * scale, high * scale)
        if rest:
            sheet.batt(x + lintel * scale, y, rest * scale, high * scale, upright=True, kind="now batt")
    paint_plate(sheet, is_steel(n), x, y + high * scale + line, thick, 20, "up")
    sheet.board(x + thick, y - 20, 7, high * scale + 40)
    foot = y + high * scale + 40
    if rest:
        sheet.across(x + lintel * scale, x + thick, foot + 10, words["rest"], below=True, upto=foot - 16)
    sheet.number(1, x - 46, y + 40, (x if is_steel(n) else x + lintel * scale / 2, y + 40))
    if rest:
        sheet.number(2, x + thick + 46, y + 70, (x + (lintel + rest / 2) * scale, y + 70))
    sheet.floor = foot + (28 if rest else 4)
    sheet.note(1, words["timber"] if rest else words["full"])
    if rest:
        sheet.note(2, words["fill"])


LINTEL = Drawing(
    name="lintel",
    inputs=(
        Input("depth", "mm", "depth of the stud", 90),
        Input("lintel", "mm", "thickness of the lintel", 45),
        Input("high", "mm", "height of the lintel", 190),
        FRAME,
    ),
    labels={
        "title": "Lintel in section, to scale",
        "says": "A lintel thinner than the wall stands outside, with insulation between it and the lining.",
        "says_steel": "A C-section of steel as the lintel, its hollow towards the room; the insulation runs "
        "from its web to the lining.",
        "outside": "outside",
        "inside": "inside",
        "rest": "{rest}",
        "timber": "Lintel {lintel} mm, thinner than the {depth} mm wall",
        "timber_steel": "Lintel of steel, {lintel} mm in the {depth} mm wall",
        "full": "Lintel as deep as the wall, {depth} mm: it cannot be insulated",
        "full_steel": "Lintel of steel as deep as the wall, {depth} mm: fill its hollow before it closes",
        "fill": "{rest} mm behind it insulated before the lining",
        "fill_steel": "{rest} mm beside it insulated before the lining, and its hollow where it is open; a "
        "boxed one that came closed is named on the walk",
    },
    paint=_paint_lintel,
)
