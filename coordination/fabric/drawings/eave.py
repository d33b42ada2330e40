"""The eave in section: heel, airway, perimeter batt, and the full batt at its set-back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from coordination.fabric import eaves
from coordination.fabric.catalogue.roof import AIRWAY, CHORD, HEEL, LINE, PITCH
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FRAME, WEB, is_steel, paint_section
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import require_positive
from coordination.fabric.registry import Input, choice

OVERHANG = 330.0
VENEER = 150.0
# Light cladding: 20 mm of cavity or break strip, and a board.
CAVITY = 20.0
CLADDING = 12.0
TALLEST = 235.0


def _paint(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    pitch, airway, batt, edge = n["pitch"], n["airway"], n["batt"], n["perimeter"]
    heel = eaves.roof_height(pitch, n["heel"], n["line"], n["chord"])
    slope = math.tan(math.radians(pitch))
    start = eaves.set_back(pitch, heel, batt, airway)
    words.know(set_back=start, full_heel=eaves.full_heel(pitch, batt, airway, n["line"], n["chord"]))

    reach = start + max(420.0, 1.4 * batt)
    # Enough of the wall to stand below the edge of a steep roof.
    wall = max(200.0, OVERHANG * slope - heel + 20)
    high = heel + reach * slope
    scale = min((WIDTH - 2 * MARGIN - 34) / (OVERHANG + reach), TALLEST / (high + wall))
    left = MARGIN + OVERHANG * scale
    sky = 34.0
    ground = sky + high * scale

    def px(x: float, y: float) -> tuple[float, float]:
        return left + x * scale, ground - y * scale

    base = ground + wall * scale
    words.know(leaf=words["leaf"], member=words["member"])
    plate = require_positive("plate", n["plate"]) * scale
    _paint_wall(sheet, n, (left, ground), scale, plate, wall * scale)
    out = VENEER if n["outside"] == "masonry" else sum(_cladding(scale)) / scale
    _paint_outside(sheet, n, left, ground + max(45.0, out * slope - heel + 10) * scale, base, scale)
    right = px(reach, 0)[0]
    sheet.board(left + plate, ground, right - left - plate, max(4.0, 10 * scale))
    sheet.line(px(-OVERHANG, heel - OVERHANG * slope), px(reach, high), "roof ink", 3)
    sheet.line(px(-OVERHANG, heel - OVERHANG * slope - airway), px(reach, high - airway), "soft", 1, "5 4")

    first = _paint_edge(sheet, px, scale, heel, slope, airway, edge, start) if start > 0 else None
    sheet.batt(*px(start, batt), right - px(start, 0)[0], batt * scale)

    if start > 0:
        sheet.across(left, px(start, 0)[0], base + 12, words["set_back"], below=True, upto=ground + 12)
    sheet.upright(right + 8, ground, px(0, batt)[1], words["thickness"])
    sheet.upright(left, ground, px(0, heel)[1])
    sheet.upright(
        *(px(start, 0)[0], px(start, heel + start * slope)[1], px(start, heel + start * slope - airway)[1])
    )

    sheet.number(1, max(MARGIN + 10, left - 30), sky - 12, (left, px(0, heel * 0.75)[1]))
    top = px(start, heel + start * slope)
    sheet.number(2, max(left + 22, top[0] - 34), sky - 12, (top[0], top[1] + airway * scale / 2))
    sheet.number(3, px(start + (reach - start) / 2, 0)[0], ground - batt * scale / 2)
    if first is not None:
        sheet.number(4, px(start, 0)[0] + 40, base + 2, first)
    sheet.floor = base + (30 if start > 0 else 4)
    sheet.note(1, words["heel"])
    sheet.note(2, words["airway"])
    sheet.note(3, words["full"] if start > 0 else words["no_set_back"])
    if first is not None:
        sheet.note(4, words["perimeter"])


def _paint_wall(
    sheet: Sheet,
    n: Mapping[str, Any],
    corner: tuple[float, float],
    scale: float,
    plate: float,
    wall: float,
) -> None:
    """The frame of the wall below the eave, from its top plate or track down to the edge of the paper."""
    left, ground = corner
    if is_steel(n):
        sheet.batt(left, ground + WEB, plate, wall - WEB, upright=True)
        paint_section(sheet, left, ground + WEB / 2, plate, max(6.0, 45 * scale), "down")
        return
    sheet.timber(left, ground, plate, 45 * scale)
    sheet.timber(left, ground + 45 * scale, plate, 45 * scale)
    sheet.batt(left, ground + 90 * scale, plate, wall - 90 * scale, upright=True)


def _paint_outside(
    sheet: Sheet, n: Mapping[str, Any], left: float, head: float, base: float, scale: float
) -> None:
    """What stands outside the wrap, from `head` below the roof down to `base`: brick, or light cladding."""
    if n["outside"] == "masonry":
        sheet.brick(left - VENEER * scale, head, 110 * scale, base - head)
        return
    gap, board = _cladding(scale)
    sheet.board(left - gap - board, head, board, base - head)


def _cladding(scale: float) -> tuple[float, float]:
    """Gap and board of light cladding on paper, never so thin that they are not seen."""
    return max(4.0, CAVITY * scale), max(3.0, CLADDING * scale)


def _paint_edge(
    sheet: Sheet,
    px: Any,
    scale: float,
    heel: float,
    slope: float,
    airway: float,
    edge: float,
    start: float,
) -> tuple[float, float]:
    """The perimeter batt from the wall line to the full batt, thinned where the airway asks for it."""
    own = max(0.0, (edge + airway - heel) / slope)
    zero = max(0.0, (airway - heel) / slope)
    stops = sorted({zero, min(own, start), start})
    pieces = []
    for x in stops:
        thick = min(edge, max(0.0, heel + x * slope - airway))
        across, upper = px(x, thick)
        pieces.append((across, upper, thick * scale))
    sheet.taper(pieces, "batt perimeter")
    middle = (stops[0] + start) / 2
    thick = min(edge, heel + middle * slope - airway)
    spot: tuple[float, float] = px(middle, thick / 2)
    return spot


EAVE = Drawing(
    name="eave",
    inputs=(
        PITCH,
        HEEL,
        Input("batt", "mm", "thickness of the full batt"),
        Input("perimeter", "mm", "thickness of the perimeter batt", 90),
        AIRWAY,
        LINE,
        CHORD,
        Input("plate", "mm", "depth of the wall's plate: that of its stud", 90),
        Input("outside", "", "what stands outside the wall", "masonry", read=choice("masonry", "cladding")),
        FRAME,
    ),
    labels={
        "title": "Eave in section, to scale",
        "says": "Between two trusses: the roof at {pitch} degrees over the wall line, the ceiling batts "
        "below it.{leaf}{member}",
        "leaf": "",
        "leaf_cladding": " Light cladding stands outside the wall.",
        "member": "",
        "member_steel": " The wall's frame is of steel: a track closes it at the top.",
        "set_back": "{set_back}",
        "thickness": "{batt}",
        "heel": "Heel height {heel} mm at the wall line (outer face of the plate), lining to {line}; "
        "{full_heel} mm would need no set-back",
        "airway": "Airway {airway} mm clear, all the way up the {pitch}° roof",
        "full": "Full batt {batt} mm, from {set_back} mm inside the wall line",
        "no_set_back": "Full batt {batt} mm, out to the wall line",
        "perimeter": "Perimeter batt {perimeter} mm, thinner where the airway asks for it",
    },
    paint=_paint,
)
