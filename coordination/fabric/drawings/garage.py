"""The line between garage and house: the wall in section, and the floor zone over it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FRAME, WEB, is_steel, paint_section
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input, whole


def _paint_garage_wall(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    require_positive("height", n["height"])
    depth, batt = require_positive("depth", n["depth"]), require_positive("batt", n["batt"])
    if batt > depth:
        raise FabricError(
            "batt", f"{show(batt)} mm is more than the {show(depth)} mm stud; give the wall's batt"
        )
    words.know(air=depth - batt)
    scale = min(0.6, 56 / depth)
    y0, tall, plate, lining = 46.0, 196.0, 45 * scale, 6.0
    deep = depth * scale
    left = (WIDTH - deep) / 2
    right, foot = left + deep, y0 + tall
    sheet.words(MARGIN, 18, words["cold"], kind="soft")
    sheet.words(WIDTH - MARGIN, 18, words["warm"], "end", kind="soft")
    if is_steel(n):
        top, bottom = y0 + WEB / 2, foot - WEB
    else:
        top, bottom = y0 + 2 * plate, foot - plate
        for y in (y0, y0 + plate, bottom):
            sheet.timber(left, y, deep, plate)
    sheet.batt(right - batt * scale, top, batt * scale, bottom - top, upright=True, kind="now batt")
    if is_steel(n):
        paint_section(sheet, left, y0, deep, plate, "down")
        paint_section(sheet, left, foot - WEB / 2 - plate, deep, plate, "up")
    # Longer than the paper: a break across it.
    y = y0 + 2 * plate + (tall - 3 * plate) * 0.45
    sheet.path(f"M{left - 16:.1f} {y:.1f}h{8 + deep / 2:.1f}l5 -7 6 14 5 -7h{deep / 2 + 8:.1f}", "ink", 1.6)
    ceiling = y0 + 14
    for x in (left - lining, right):
        sheet.board(x, ceiling, lining, foot - ceiling - 4)
    sheet.board(MARGIN, ceiling - lining, left - MARGIN, lining)
    sheet.board(right, ceiling - lining, WIDTH - MARGIN - right, lining)
    sheet.box(MARGIN, foot, WIDTH - 2 * MARGIN, 14, "ink", 1.2, tint=0.16)
    seals = [(x, at) for x in (left - lining, right + lining) for at in (ceiling, foot)]
    for x, at in [*seals, (left + deep / 2, foot)]:
        sheet.ring(x, at, 3, "now ink", 1, tint=0.9)
    sheet.across(left, right, foot + 26, words["depth"], below=True, upto=foot + 16)
    sheet.upright(right + 34, ceiling, foot, words["height"])
    sheet.number(1, left - 52, y0 + 2 * plate + 26, (right - batt * scale / 2, y0 + 2 * plate + 26))
    sheet.number(2, left - 52, foot - 34, (left + deep / 2, foot))
    sheet.number(3, left - 52, ceiling + 22, (left - lining, ceiling))
    sheet.floor = foot + 50
    sheet.note(1, words["batts"] if batt == depth else words["thin"])
    sheet.note(2, words["floor"])
    sheet.note(3, words["top"])
    sheet.note(4, words["fire"])


GARAGE_WALL = Drawing(
    name="garage_wall",
    inputs=(
        Input("depth", "mm", "depth of the stud", 90),
        Input("batt", "mm", "thickness of the wall's batt", 90),
        Input("height", "mm", "height from floor to lining", 2400),
        FRAME,
    ),
    labels={
        "title": "Wall between garage and house in section, to scale",
        "says": "From slab to ceiling, cut short on paper: filled like an outside wall and sealed at floor "
        "and ceiling on both sides.",
        "says_steel": "From slab to ceiling, cut short on paper: a track of steel below and above, filled "
        "like an outside wall and sealed at floor and ceiling on both sides.",
        "cold": "garage, cold",
        "warm": "house, warm",
        "depth": "{depth}",
        "height": "{height}",
        "batts": "Batt {batt} mm, the full depth of the stud, down to the plate and up to it",
        "batts_steel": "Batt {batt} mm, the full depth of the stud, down into the bottom track and up into "
        "the top one",
        "thin": "Batt {batt} mm in a {depth} mm stud: {air} mm stay empty. Take one as thick as the stud",
        "floor": "Sealed under the bottom plate and at both linings: the line against draught and fumes",
        "floor_steel": "Sealed under the bottom track and at both linings: the line against draught and "
        "fumes",
        "top": "Sealed at the ceiling, and round everything that passes the wall",
        "fire": "This is no fire separation: where the local code asks for one, its detail wins",
    },
    paint=_paint_garage_wall,
)


def _paint_seal_line(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, wall = require_positive("depth", n["depth"]), require_positive("wall", n["wall"])
    if n["gaps"] < 1:
        raise FabricError("gaps", f"{show(n['gaps'])} is no number of gaps between joists; give 1 or more")
    scale = min(0.36, 118 / depth)
    deep, thick = depth * scale, wall * scale
    top = 46.0
    left = (WIDTH - thick) / 2 - 8
    right = left + thick
    under = top + 22 * scale
    plate = under + deep
    foot = plate + 66
    sheet.words(MARGIN, 18, words["above"], kind="soft")
    sheet.board(MARGIN, top, WIDTH - 2 * MARGIN - 40, 22 * scale)
    end = WIDTH - MARGIN - 40
    # The joist runs over the wall: seen from the side, faint; the blocking stands in the gap beside it.
    sheet.box(MARGIN, under, end - MARGIN, deep, "soft", 1, "4 3", tint=0.03)
    sheet.batt(MARGIN, under, left - MARGIN, min(deep, 0.9 * deep))
    block = max(45 * scale, 10.0)
    x = left + (thick - block) / 2
    sheet.timber(x, under, block, deep)
    for at in (under, plate):
        for edge in (x, x + block):
            sheet.ring(edge, at, 3, "now ink", 1, tint=0.9)
    for i in range(2):
        sheet.timber(left, plate + i * 45 * scale, thick, 45 * scale)
    low = plate + 90 * scale
    sheet.batt(left, low, thick, foot - low, upright=True)
    lining = 6.0
    sheet.board(MARGIN, plate, left - MARGIN, lining)
    sheet.board(right, plate, end - right, lining)
    for edge in (left - lining, right):
        sheet.board(edge, plate + lining, lining, foot - plate - lining)
    sheet.upright(end + 8, under, plate, words["depth"])
    sheet.words(MARGIN, plate + 28, words["cold"], kind="soft")
    sheet.words(end + 32, plate + 28, words["warm"], "end", kind="soft")
    sheet.number(1, right + 40, under + deep * 0.45, (x + block / 2, under + deep * 0.45))
    sheet.number(2, right + 40, foot - 6, (x + block, plate))
    sheet.number(3, MARGIN + 26, under + deep * 0.45)
    sheet.floor = foot + 8
    sheet.note(1, words["block"])
    sheet.note(2, words["seal"])
    sheet.note(3, words["later"])


SEAL_LINE = Drawing(
    name="seal_line",
    inputs=(
        Input("depth", "mm", "depth of the floor zone"),
        Input("wall", "mm", "depth of the wall below", 90),
        Input("gaps", "gaps", "gaps between joists over the wall", 1, read=whole),
    ),
    labels={
        "title": "Floor zone over the garage wall in section, to scale",
        "says": "Between the joists the line of the wall below goes on up to the floor: blocked and sealed.",
        "above": "room above, warm",
        "cold": "garage",
        "warm": "house",
        "depth": "{depth}",
        "block": "Blocking in every gap between joists over the wall, {gaps} in this house: {depth} mm, from "
        "plate to floor",
        "seal": "Sealed all round, and round each pipe, duct and cable that passes",
        "later": "Floor-zone batts come after it, up to the blocking",
    },
    paint=_paint_seal_line,
)
