"""Members of the frame cut across: sawn timber, or a thin section of steel with its hollow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from coordination.fabric.drawings.sheet import Sheet, place
from coordination.fabric.registry import Input, choice

FRAME = Input("frame", "", "material of the frame: timber or steel", "timber", read=choice("timber", "steel"))
# A lipped C-section of a house frame, as common in practice: 40 mm of flange, 9 mm of lip.
FLANGE = 40.0
LIP = 9.0
WEB = 2.4
"""Weight of the line that a section is drawn with: steel of 1 mm is thinner than any pen."""

Side = Literal["left", "right", "up", "down"]


def is_steel(numbers: Mapping[str, Any]) -> bool:
    """Whether this house's frame is of steel."""
    return bool(numbers["frame"] == "steel")


def paint_section(
    sheet: Sheet, x: float, y: float, width: float, height: float, opens: Side, lip: float = 0
) -> None:
    """A section of steel: web, two flanges towards the side that `opens`, and lips at their ends.

    Without `lip` it is a track, as plates are.
    """
    right, lower = x + width, y + height
    if opens in ("right", "left"):
        web, free = (x, right) if opens == "right" else (right, x)
        points = [(free, y), (web, y), (web, lower), (free, lower)]
        ends = [(free, y + lip), (free, lower - lip)]
    else:
        web, free = (lower, y) if opens == "up" else (y, lower)
        points = [(x, free), (x, web), (right, web), (right, free)]
        ends = [(x + lip, free), (right - lip, free)]
    if lip:
        points = [ends[0], *points, ends[1]]
    d = "L".join(f"{place(a)} {place(b)}" for a, b in points)
    sheet.path(f"M{d}", "steel ink", WEB)


def paint_stud(sheet: Sheet, x: float, y: float, depth: float, scale: float, opens: Side) -> None:
    """A stud of steel in plan: `depth` on paper through the wall, its hollow towards `opens`.

    `x` is where its web stands.
    """
    flange = FLANGE * scale
    paint_section(sheet, x if opens == "right" else x - flange, y, flange, depth, opens, lip_of(scale))


def lip_of(scale: float) -> float:
    """Length of a lip on paper, never so short that it is not seen."""
    return max(3.4, LIP * scale)


def paint_plate(
    sheet: Sheet, steel: bool, x: float, y: float, width: float, height: float, opens: Side
) -> None:
    """A plate or the head of an opening: crossed timber, or a track that `opens` to where its studs stand."""
    if steel:
        paint_section(sheet, x, y, width, height, opens)
    else:
        sheet.timber(x, y, width, height)


def paint_chord(
    sheet: Sheet, steel: bool, x: float, y: float, width: float, height: float, scale: float
) -> None:
    """A chord or joist across: crossed timber, or a section of steel into whose hollow the batt runs on."""
    if steel:
        sheet.batt(x, y, width, height)
        paint_section(sheet, x, y, width, height, "right", lip_of(scale))
    else:
        sheet.timber(x, y, width, height)
