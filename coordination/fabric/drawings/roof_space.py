"""Above the ceiling: pipes on trusses, strapped walls, the lining plane, fittings that stay clear."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from coordination.fabric.catalogue.roof import PITCH
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FRAME, is_steel, paint_chord, paint_plate
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import (
    FabricError,
    require_not_negative,
    require_pitch,
    require_positive,
    show,
)
from coordination.fabric.registry import Input

TALLEST_WALL = 850.0
SPAN = 2600.0
BATT = Input("batt", "mm", "thickness of the ceiling batt")


@dataclass(frozen=True)
class Truss:
    """The part of a truss that is drawn, in mm from its heel: where the two webs and three pipes are."""

    start: float
    run: float
    rise: float
    begins: float
    webs: tuple[float, float]


def _fit_truss(slope: float, batt: float, lower: float, room: float) -> Truss:
    """A length of roof with room for pipes over the batt; a flat one is shown from further in.

    `lower` is the depth of the top chord measured upright, `room` what a pipe needs of height between batt
    and top chord.
    """
    rise = min(SPAN * slope, 2000.0)
    run = rise / slope
    begins = (batt + lower) / slope
    first, second = 0.47 * run, 0.72 * run
    # Between the start of the batt and the first web lies the pipe on the chord; at the second web
    # the top chord stands high enough over the batt.
    start = max(0.0, begins + 0.1 * run - first, (batt + lower + room) / slope - second)
    return Truss(start, run, rise, max(begins, start), (start + first, start + second))


def _paint_truss(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    slope = math.tan(math.radians(require_pitch("pitch", n["pitch"])))
    batt, chord, pipe = require_positive("batt", n["batt"]), n["chord"], require_positive("pipe", n["pipe"])
    if batt <= require_positive("chord", chord):
        raise FabricError(
            "batt", f"{show(batt)} mm does not cover the {show(chord)} mm chord; give the ceiling batt"
        )
    slant = math.cos(math.radians(n["pitch"]))
    run = min(SPAN, 2000.0 / slope)
    scale = min((WIDTH - 2 * MARGIN - 36) / run, 210 / (run * slope))
    # A pipe is drawn to scale, yet never so small that it is not seen; it touches neither batt nor chord.
    size = max(4.0, pipe * scale / 2)
    truss = _fit_truss(slope, batt, chord / slant, (2 * size + 6) / scale)
    start, end = truss.start, truss.start + truss.run
    x0, ground = MARGIN, 34 + end * slope * scale
    right = x0 + truss.run * scale
    deep, lower = max(5.0, chord * scale), chord / slant * scale

    def px(x: float) -> float:
        return x0 + (x - start) * scale

    def top(x: float) -> float:
        return ground - x * slope * scale

    over = ground - batt * scale
    sheet.batt(px(truss.begins), over, right - px(truss.begins), batt * scale)
    sheet.box(x0, ground - deep, right - x0, deep, "ink", 1.2, tint=0.2)
    sheet.board(x0, ground, right - x0, 4)
    sheet.outline(
        [(x0, top(start)), (right, top(end)), (right, top(end) + lower), (x0, top(start) + lower)], tint=0.2
    )
    if start:
        sheet.line((x0, top(start) - 6), (x0, ground + 10), "soft", 1.2, "7 3 2 3")
    w1, w2 = truss.webs
    head = (px(w2), top(w2) + lower)
    for foot in (w1, w2 + 0.1 * truss.run):
        sheet.line((px(foot), ground - deep), head, "ink", 5, faint=0.35)
    high = min((over + head[1]) / 2, over - size - 2)
    share = (ground - deep - high) / (ground - deep - head[1])
    good = (px(w1) + (head[0] - px(w1)) * share + size + 3, high)
    hung = w2 + 0.14 * truss.run
    bad = (px((truss.begins + w1) / 2), ground - deep - size)
    sheet.ring(*good, size, "open ink", 1.6, tint=0.2)
    sheet.ring(px(hung), top(hung) + lower + (size + 1) / slant, size, "open ink", 1.6, tint=0.2)
    sheet.ring(*bad, size, "held ink", 1.6, tint=0.2)
    x, y = bad
    sheet.path(f"M{x - 8:.1f} {y - 8:.1f}l16 16m0 -16l-16 16", "held ink", 2)
    sheet.upright(right + 8, over, ground, words["batt"])
    sheet.number(1, good[0] - 58, max(24.0, good[1] - 52), good)
    sheet.number(2, x0 + 40, ground + 30, (bad[0] - 3, bad[1] + 3))
    beside = max(right - 60, x0 + 66)
    sheet.number(3, beside, ground + 30, (beside, ground - deep / 2))
    words.know(cut=words["cut"] if start else "")
    sheet.floor = ground + 44
    sheet.note(1, words["good"])
    sheet.note(2, words["bad"])
    sheet.note(3, words["never"])


TRUSS_PIPES = Drawing(
    name="truss_pipes",
    inputs=(
        PITCH,
        BATT,
        Input("chord", "mm", "depth of the bottom chord", 90),
        Input("pipe", "mm", "diameter of the pipe over its lagging", 46),
    ),
    labels={
        "title": "Pipes in the roof space in section, to scale",
        "says": "A truss with two pipes clear of the batts, on a web and under the top chord, and one "
        "the wrong way, resting on the bottom chord.{cut}",
        "cut": " The roof is shown from where a pipe fits over the batts; the heel lies further out.",
        "batt": "{batt}",
        "good": "Pipe on a web or under the top chord, supported as the truss designer allows, lagged, clips "
        "included: {pipe} mm over the lagging",
        "bad": "Not so: on the bottom chord it lifts the {batt} mm batt off the lining",
        "never": "No member cut, notched, drilled or moved without written approval",
    },
    paint=_paint_truss,
)


def _paint_raked_wall(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    height, batt, stud, ceiling = (require_positive(k, n[k]) for k in ("height", "batt", "stud", "ceiling"))
    if batt > stud:
        raise FabricError(
            "batt", f"{show(batt)} mm is more than the {show(stud)} mm stud; give the wall's batt"
        )
    # A tall wall is cut short on paper, with a break across it, so that its batt stays wide enough to read.
    shown = min(height, TALLEST_WALL)
    scale = 190 / (shown + ceiling)
    y0 = 44.0
    foot = y0 + shown * scale
    face = WIDTH * 0.42
    lining = 5.0
    sheet.words(MARGIN, 18, words["cold"], kind="soft")
    sheet.words(WIDTH - MARGIN, 18, words["warm"], "end", kind="soft")
    deep = stud * scale
    thick = deep * batt / stud
    paint_plate(sheet, is_steel(n), face - deep, y0 - 8, deep, 8, "down")
    sheet.batt(face - thick, y0, thick, foot - y0, upright=True)
    paint_plate(sheet, is_steel(n), face - deep, foot, deep, 8, "up")
    sheet.board(face, y0 - 8, lining, foot - y0 + 16)
    if shown < height:
        y = (y0 + foot) / 2
        sheet.path(f"M{face - deep - 14:.1f} {y:.1f}h8l5 -7 6 14 5 -7h{deep + 6:.1f}", "ink", 1.6)
    rows = 4
    for i in range(rows):
        y = y0 + (i + 0.5) * (foot - y0) / rows
        sheet.line((face - thick - 3, y - 7), (face - thick - 3, y + 7), "now ink", 3)
        sheet.path(f"M{face - thick - 3:.1f} {y:.1f}h3", "now ink", 1.6)
    sheet.batt(MARGIN, foot + 8 - ceiling * scale, face - thick - 5 - MARGIN, ceiling * scale)
    sheet.board(MARGIN, foot + 8, face - MARGIN + lining, 5)
    sheet.upright(face + 26, y0, foot, words["height"])
    sheet.upright(MARGIN + 16, foot + 8 - ceiling * scale, foot + 8)
    sheet.number(1, face + 64, foot - 24, (face - thick / 2, foot - 34))
    sheet.number(2, face - thick - 52, y0 + 8, (face - thick - 4, y0 + 0.5 * (foot - y0) / rows))
    sheet.number(3, MARGIN + 62, foot + 8 - ceiling * scale / 2)
    sheet.floor = foot + 18
    sheet.note(1, words["batt"])
    sheet.note(2, words["straps"])
    sheet.note(3, words["meets"])


RAKED_WALL = Drawing(
    name="raked_wall",
    inputs=(
        Input("height", "mm", "height of the wall above the ceiling", 1200),
        Input("batt", "mm", "thickness of the wall's batt", 90),
        Input("stud", "mm", "depth of the wall's stud", 90),
        Input("ceiling", "mm", "thickness of the ceiling batt", 290),
        FRAME,
    ),
    labels={
        "title": "Wall of a raked ceiling or light shaft in section, to scale",
        "says": "A wall between a warm shaft and the roof space: its batts are strapped from behind so "
        "that they cannot fall away from the lining.",
        "says_steel": "A wall between a warm shaft and the roof space, tracks of steel above and below: its "
        "batts are strapped from behind so that they cannot fall away from the lining.",
        "cold": "roof space, cold",
        "warm": "shaft, warm",
        "height": "{height}",
        "batt": "Batt {batt} mm, full depth of the {stud} mm stud, hard against the lining",
        "straps": "Strapped or netted behind, so that nothing falls away when it gets hot and dry",
        "meets": "Ceiling batt {ceiling} mm meets it without a gap",
    },
    paint=_paint_raked_wall,
)


def _paint_over_chords(
    sheet: Sheet,
    bay: tuple[float, float],
    low: float,
    thick: float,
    notch: float,
    sides: tuple[float, float],
) -> None:
    """A batt that fills its bay between two chords and meets its neighbours over them.

    `bay` runs from the left edge of one chord to that of the next, `sides` are the chords' widths (0 at
    the edge of the drawing), `notch` is how high the chords stand in the batt.
    """
    left, right = bay
    top = low - thick
    if notch >= thick:
        sheet.batt(left + sides[0], top, right - left - sides[0], thick)
        return
    over_left, over_right = left + sides[0] / 2, right + sides[1] / 2
    shoulder = low - notch
    sheet.outline(
        [
            (over_left, top),
            (over_right, top),
            (over_right, shoulder),
            (right, shoulder),
            (right, low),
            (left + sides[0], low),
            (left + sides[0], shoulder),
            (over_left, shoulder),
        ],
        "batt pencil",
        tint=0.04,
    )
    sheet.soften(left + sides[0], top, right - left - sides[0], thick)


def _paint_lining_plane(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    batten, chord, batt = (
        n["batten"],
        require_positive("chord", n["chord"]),
        require_positive("batt", n["batt"]),
    )
    require_not_negative("batten", batten)
    scale = min(0.32, 90 / batt)
    wide = (WIDTH - 2 * MARGIN - 40) / scale
    x0, right = MARGIN, MARGIN + wide * scale

    def paint(y: float, good: bool) -> float:
        ground = y + batt * scale + (0 if good else batten * scale)
        under = ground - batten * scale
        for i in range(2):
            x = x0 + (0.22 + 0.5 * i) * (right - x0)
            paint_chord(sheet, is_steel(n), x, under - chord * scale, 45 * scale, chord * scale, scale)
            if batten:
                paint_plate(sheet, is_steel(n), x, under, 45 * scale, batten * scale, "up")
        stops = [x0, *(x0 + (0.22 + 0.5 * i) * (right - x0) for i in range(2)), right]
        low = ground if good else under
        notch = (chord + batten if good else chord) * scale
        for i, (a, b) in enumerate(pairwise(stops)):
            sides = (45 * scale if i else 0.0, 45 * scale if i < 2 else 0.0)
            _paint_over_chords(sheet, (a, b), low, batt * scale, notch, sides)
        sheet.board(x0, ground, right - x0, 5)
        return ground

    sheet.verdict(MARGIN, 24, True, words["right"])
    ground = paint(36, True)
    sheet.upright(right + 8, ground - batt * scale, ground, words["batt"])
    sheet.number(1, x0 + (right - x0) * 0.5, ground - batt * scale / 2)
    last = ground
    if batten:
        sheet.verdict(MARGIN, ground + 38, False, words["wrong"])
        last = paint(ground + 50, False)
        middle = x0 + (right - x0) * 0.5
        sheet.number(2, middle, last + 26, (middle, last - batten * scale / 2))
    sheet.floor = last + (38 if batten else 12)
    sheet.note(1, words["on"])
    if batten:
        sheet.note(2, words["off"])


LINING_PLANE = Drawing(
    name="lining_plane",
    inputs=(
        BATT,
        Input("batten", "mm", "depth of the ceiling battens, 0 for direct fixing", 35),
        Input("chord", "mm", "depth of the bottom chord", 90),
        FRAME,
    ),
    labels={
        "title": "Ceiling batt on the lining in section, to scale",
        "says": "The batts lie on the plane of the lining, not on that of the chords; below, the wrong way.",
        "says_steel": "The batts lie on the plane of the lining, not on that of the steel chords, whose "
        "hollow they fill; below, the wrong way.",
        "right": "So",
        "wrong": "Not so",
        "batt": "{batt}",
        "on": "Batt {batt} mm down on the lining plane, snug between the chords",
        "off": "A gap of {batten} mm over the lining: warm air moves in it and the batt counts for less",
    },
    paint=_paint_lining_plane,
)


def _paint_clear_fitting(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    diameter, clearance, batt = (
        require_positive("diameter", n["diameter"]),
        require_not_negative("clearance", n["clearance"]),
        require_positive("batt", n["batt"]),
    )
    words.know(open=diameter + 2 * clearance)
    hole = diameter + 2 * clearance
    scale = min((WIDTH - 2 * MARGIN - 40) / (hole + 2 * max(260.0, hole)), 110 / batt)
    x0, right = MARGIN, WIDTH - MARGIN - 40
    middle = (x0 + right) / 2
    half, guard = diameter * scale / 2, hole * scale / 2
    ground = 40 + batt * scale
    sheet.batt(x0, ground - batt * scale, middle - guard - x0, batt * scale)
    sheet.batt(middle + guard, ground - batt * scale, right - middle - guard, batt * scale)
    if clearance:
        for x in (middle - guard, middle + guard):
            sheet.line((x, ground), (x, ground - batt * scale - 8), "now ink", 2.4)
    sheet.board(x0, ground, middle - half - x0, 5)
    sheet.board(middle + half, ground, right - middle - half, 5)
    tall = min(batt * scale * 0.55, 2.2 * half + 8)
    sheet.box(middle - half, ground - tall, 2 * half, tall + 5, "ink", 1.6, tint=0.15)
    sheet.line((middle - half - 6, ground + 6), (middle + half + 6, ground + 6), "ink", 3)
    if clearance:
        y = ground + 20
        sheet.across(middle + half, middle + guard, y, words["clearance"], below=True, upto=ground + 8)
    sheet.upright(right + 8, ground - batt * scale, ground, words["batt"])
    edge = (middle - guard, ground - batt * scale - 4) if clearance else (middle - guard, ground - tall / 2)
    sheet.number(1, middle - guard - 40, 20, edge)
    sheet.number(2, middle - guard - 20, ground + 30, (middle - 2, ground - tall / 3))
    sheet.floor = ground + 44
    sheet.note(1, words["guard"] if clearance else words["covered"])
    sheet.note(2, words["marking"])


CLEAR_FITTING = Drawing(
    name="clear_fitting",
    inputs=(
        Input("diameter", "mm", "diameter of the fitting", 90),
        Input("clearance", "mm", "insulation kept clear all round", from_limit="clear.hot_lamp"),
        BATT,
    ),
    labels={
        "title": "Recessed or hot fitting in section, to scale",
        "says": "A fitting in the ceiling with the insulation held clear of it by a rigid guard, open above.",
        "clearance": "{clearance}",
        "batt": "{batt}",
        "guard": "Rigid guard keeps the batts {clearance} mm clear all round; nothing laid over it",
        "covered": "Marked to be covered: the batts may touch it. Without that mark, keep clear and ask",
        "marking": "The fitting's marking and its maker's sheet prevail; a licensed electrician decides. "
        "Never capped "
        "unless its marking allows it",
    },
    paint=_paint_clear_fitting,
)
