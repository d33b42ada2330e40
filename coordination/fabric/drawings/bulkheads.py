"""A bulkhead in section, as it is built: framed under open trusses, before batts and lining.

Two ways keep the warm side whole: a sheet seals across above the frame and the ceiling batt lies on it, or
the bulkhead stays open above and its own faces and base carry the batts. Both are drawn, one under the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FRAME, WEB, is_steel, paint_plate
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import require_positive
from coordination.fabric.registry import Input

WALL = 90.0
ROOM = 420.0
SHEET = 5.0


@dataclass(frozen=True)
class Section:
    """Where a bulkhead stands on paper: the wall's faces, the bulkhead's face, its ceiling and its base."""

    scale: float
    x0: float
    inner: float
    face: float
    right: float
    ground: float
    base: float
    foot: float
    rail: float


def _place_section(n: Mapping[str, Any], top: float) -> Section:
    width, drop = require_positive("width", n["width"]), require_positive("drop", n["drop"])
    batt = require_positive("batt", n["batt"])
    wide = (WIDTH - 2 * MARGIN - 38) / (WALL + width + ROOM)
    scale = min(wide, 150 / (batt + drop))
    inner = MARGIN + WALL * scale
    face = inner + width * scale
    ground = top + batt * scale
    base = ground + drop * scale
    right = WIDTH - MARGIN - 38
    rail = min(max(7.0, 45 * scale), drop * scale / 3)
    return Section(scale, MARGIN, inner, face, right, ground, base, base + 46, rail)


def _paint_wall(sheet: Sheet, at: Section, steel: bool) -> None:
    """The outside wall with its batt up to the plate; its lining begins below the bulkhead."""
    # A track is open below: the wall's batt runs up into it.
    head = at.ground - (45 * at.scale - WEB if steel else 0)
    sheet.batt(at.x0, head, WALL * at.scale, at.foot - head, upright=True)
    paint_plate(sheet, steel, at.x0, at.ground - 45 * at.scale, WALL * at.scale, 45 * at.scale, "down")
    sheet.board(at.inner, at.base, SHEET, at.foot - at.base)


def _paint_frame(sheet: Sheet, at: Section, steel: bool, top: float) -> None:
    """Rails at the four corners, then the lining of base and face, which comes last, and the ceiling's."""
    low = at.base - at.rail
    # The hollow of a section of steel faces into the bulkhead.
    for y in (top, low):
        paint_plate(sheet, steel, at.inner, y, at.rail, at.rail, "right")
        paint_plate(sheet, steel, at.face - at.rail, y, at.rail, at.rail, "left")
    sheet.board(at.inner, at.base, at.face - at.inner + SHEET, SHEET)
    sheet.board(at.face, at.ground, SHEET, at.base - at.ground)
    sheet.board(at.face + SHEET, at.ground, at.right - at.face - SHEET, SHEET)


def _paint_sealed(sheet: Sheet, words: Words, n: Mapping[str, Any], at: Section) -> None:
    """First way: a sheet from the wall's plate to beyond the face, the ceiling batt on it."""
    _paint_wall(sheet, at, is_steel(n))
    sheet.batt(at.inner, at.ground - n["batt"] * at.scale, at.right - at.inner, n["batt"] * at.scale)
    _paint_frame(sheet, at, is_steel(n), at.ground + SHEET)
    over = at.face + SHEET + 10
    sheet.box(at.inner - 4, at.ground, over - at.inner + 4, SHEET, "now ink", 1.4, tint=0.5)
    for x in (at.inner, over):
        sheet.ring(x, at.ground + SHEET, 3, "now ink", 1, tint=0.9)
    sheet.upright(at.right + 8, at.ground - n["batt"] * at.scale, at.ground, words["batt"])
    sheet.upright(at.face + 22, at.ground + SHEET, at.base + SHEET, words["drop"])
    middle = (at.inner + at.face) / 2
    sheet.number(1, middle, (at.ground + SHEET + at.base) / 2 + 1, (middle, at.ground + SHEET / 2))
    sheet.number(2, at.inner + 36, at.foot - 12, (at.x0 + WALL * at.scale / 2, at.base - 8))


def _paint_insulated(sheet: Sheet, words: Words, n: Mapping[str, Any], at: Section) -> None:
    """Second way: open above; batts on the base and on the face, the ceiling's butted to them."""
    _paint_wall(sheet, at, is_steel(n))
    thick, on_face = n["batt"] * at.scale, require_positive("face", n["face"]) * at.scale
    on_face = min(on_face, (at.face - at.inner) / 2)
    sheet.batt(at.inner, at.base - thick, at.face - on_face - at.inner, thick)
    drop = at.base - at.ground
    sheet.batt(at.face - on_face, at.ground, on_face, drop, upright=True, kind="now batt")
    # The ceiling's batt lies over the top of the face's: at a corner alone the two would leave a gap.
    sheet.batt(at.face - on_face, at.ground - thick, at.right - at.face + on_face, thick)
    _paint_frame(sheet, at, is_steel(n), at.ground)
    sheet.across(at.inner, at.face, at.base + 16, words["width"], below=True, upto=at.base + 7)
    middle = (at.inner + at.face - on_face) / 2
    sheet.number(3, middle, at.base - min(thick / 2, (at.base - at.ground) / 2))
    sheet.number(4, at.right - 12, at.foot - 8, (at.face - on_face / 2, (at.ground + at.base) / 2 + 4))


def _paint_bulkhead(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    first = _place_section(n, 56)
    sheet.words(MARGIN, 18, words["above"], kind="soft")
    sheet.words(MARGIN, 42, words["either"], bold=True)
    _paint_sealed(sheet, words, n, first)
    head = first.foot + 26
    sheet.words(MARGIN, head, words["or"], bold=True)
    second = _place_section(n, head + 14)
    _paint_insulated(sheet, words, n, second)
    sheet.floor = second.foot + 4
    for i, key in enumerate(("sheet", "wall", "base", "face"), start=1):
        sheet.note(i, words[key])


BULKHEAD = Drawing(
    name="bulkhead",
    inputs=(
        Input("width", "mm", "width of the bulkhead", 400),
        Input("drop", "mm", "height of the bulkhead", 300),
        Input("batt", "mm", "thickness of the ceiling batt"),
        Input("face", "mm", "thickness of the batt on the bulkhead's face", 90),
        FRAME,
    ),
    labels={
        "title": "Bulkhead in section, to scale, in two ways",
        "says": "A bulkhead framed in front of an outside wall before batts and lining. Either a sheet seals "
        "across above its frame and the ceiling batt lies on it; or it is open above, with batts on its "
        "base, its face and its ends.",
        "says_steel": "A bulkhead framed of steel in front of an outside wall before batts and lining. "
        "Either a sheet seals across above its frame and the ceiling batt lies on it; or it is open above, "
        "with batts on its base, its face and its ends.",
        "above": "roof space",
        "either": "Either: sealed across above",
        "or": "Or: batts on its own faces",
        "width": "{width}",
        "drop": "{drop}",
        "batt": "{batt}",
        "sheet": "Sheet fixed with the frame, sealed to the wall's plate and all round; the {batt} mm "
        "ceiling batt lies on it",
        "wall": "Both ways: wall batt full depth behind it, put in through the open frame, before the lining",
        "base": "Open above: {batt} mm batt down on the base, no air under it",
        "face": "Face and both ends: {face} mm batt, strapped, butted to base and ceiling batt. Lining last, "
        "its joints sealed",
    },
    paint=_paint_bulkhead,
)
