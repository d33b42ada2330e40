"""Above the ceiling: pipes on trusses, strapped walls, the lining plane, fittings that stay clear."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from coordination.fabric.catalogue.roof import PITCH
from coordination.fabric.drawings.drawing import Drawing, Words
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
BATT = Input("batt", "mm", "thickness of the ceiling batt")


def _paint_truss(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    slope = math.tan(math.radians(require_pitch("pitch", n["pitch"])))
    batt, chord, pipe = require_positive("batt", n["batt"]), n["chord"], n["pipe"]
    if batt <= require_positive("chord", chord):
        raise FabricError(
            "batt", f"{show(batt)} mm does not cover the {show(chord)} mm chord; give the ceiling batt"
        )
    span = 2600.0
    rise = min(span * slope, 2000.0)
    run = rise / slope
    scale = min((WIDTH - 2 * MARGIN - 36) / run, 210 / rise)
    x0, ground = MARGIN, 34 + rise * scale
    right = x0 + run * scale
    deep = max(5.0, chord * scale)

    def top(x: float) -> float:
        return ground - (x - x0) * slope

    sheet.batt(
        x0 + (batt / slope) * scale, ground - batt * scale, right - x0 - batt / slope * scale, batt * scale
    )
    sheet.box(x0, ground - deep, right - x0, deep, "ink", 1.2, tint=0.2)
    sheet.board(x0, ground, right - x0, 4)
    cosine = math.cos(math.radians(n["pitch"]))
    lower = deep / cosine
    sheet.outline(
        [(x0, ground), (right, top(right)), (right, top(right) + lower), (x0, ground + lower)], tint=0.2
    )
    w1, w2 = x0 + run * scale * 0.45, x0 + run * scale * 0.72
    for foot, head in ((w1, w2), (w2 + 8, w2)):
        sheet.line((foot, ground - deep), (head, top(head) + lower), "ink", 5, faint=0.35)
    size = max(4.0, pipe * scale)
    web = (w1 + (w2 - w1) * 0.62, ground - deep + (top(w2) + lower - ground + deep) * 0.62)
    hung = (x0 + run * scale * 0.86, top(x0 + run * scale * 0.86) + lower + size + 1)
    bad = (x0 + run * scale * 0.34, ground - deep - size)
    sheet.ring(web[0] + size + 3, web[1], size, "open ink", 1.6, tint=0.2)
    sheet.ring(*hung, size, "open ink", 1.6, tint=0.2)
    sheet.ring(*bad, size, "held ink", 1.6, tint=0.2)
    x, y = bad
    sheet.path(f"M{x - 8:.1f} {y - 8:.1f}l16 16m0 -16l-16 16", "held ink", 2)
    sheet.upright(right + 8, ground - batt * scale, ground, words["batt"])
    sheet.number(1, web[0] - 52, max(24.0, web[1] - 52), (web[0] + size, web[1]))
    sheet.number(2, x0 + 40, ground + 30, (bad[0] - 3, bad[1] + 3))
    sheet.number(3, right - 60, ground + 30, (right - 60, ground - deep / 2))
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
        "the wrong way, resting on the bottom chord.",
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
    sheet.timber(face - deep, y0 - 8, deep, 8)
    sheet.batt(face - thick, y0, thick, foot - y0, upright=True)
    sheet.timber(face - deep, foot, deep, 8)
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
    ),
    labels={
        "title": "Wall of a raked ceiling or light shaft in section, to scale",
        "says": "A wall between a warm shaft and the roof space: its batts are strapped from behind so "
        "that they "
        "cannot fall away from the lining.",
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
            sheet.timber(x, under - chord * scale, 45 * scale, chord * scale)
            if batten:
                sheet.timber(x, under, 45 * scale, batten * scale)
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
    ),
    labels={
        "title": "Ceiling batt on the lining in section, to scale",
        "says": "The batts lie on the plane of the lining, not on that of the chords; below, the wrong way.",
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
