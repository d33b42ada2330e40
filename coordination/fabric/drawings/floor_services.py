"""The upper floor's zone where more than batts runs in it: its rim, wastes and pipes, ducts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric import fill
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.floors import STOCK_INPUT, paint_duct, paint_fill, paint_zone
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_not_negative, require_positive, show
from coordination.fabric.registry import Input

DEPTH = Input("depth", "mm", "depth of the floor zone, less services")
PLATE = 45.0
# Share of the paper for the bay without services: theirs is drawn wider.
BESIDE = 0.36


def _paint_rim(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, wall = require_positive("depth", n["depth"]), require_positive("wall", n["wall"])
    out = require_not_negative("out", n["out"])
    if out > 600:
        raise FabricError("out", f"{show(out)} mm is more than a floor stands out; give 0 to 600")
    scale = min(0.36, 118 / depth, 120 / (out + wall + 60))
    rim, top = MARGIN + 44.0, 58.0
    thick, end = PLATE * scale, WIDTH - MARGIN - 40
    under = top + 22 * scale
    ground = under + depth * scale
    foot = ground + 58
    face = rim + out * scale
    inner = face + wall * scale
    sheet.words(MARGIN, 18, words["warm"], kind="soft")
    # The upper wall on the floor, cut off below its sill; the rim stands under its outer edge.
    sheet.batt(rim, 30, wall * scale, top - 30 - thick, upright=True)
    sheet.timber(rim, top - thick, wall * scale, thick)
    sheet.board(rim, top, end - rim, 22 * scale)
    sheet.line((rim - 3, 30), (rim - 3, ground + 4), "wrap ink", 2, "7 3")
    # Cut between two joists: the batt is one piece from the rim inwards.
    full = _fill_above(depth, n["stock"])
    if full is not None:
        words.know(total=full.total, air=full.air)
    filled = depth if full is None else min(depth, full.total)
    sheet.batt(rim + thick, under, end - rim - thick, filled * scale, kind="now batt")
    sheet.timber(rim, under, thick, depth * scale)
    for y in (under, ground):
        sheet.ring(rim + thick, y, 3, "now ink", 1, tint=0.9)
    for i in range(2):
        sheet.timber(face, ground + i * thick, wall * scale, thick)
    low = ground + 2 * thick
    sheet.batt(face, low, wall * scale, foot - low, upright=True)
    if out:
        sheet.board(rim - 3, ground, face - rim + 3, 5)
    sheet.board(inner, ground, end - inner, 6)
    sheet.board(inner, ground + 6, 6, foot - ground - 6)
    sheet.upright(end + 8, under, ground, words["depth"])
    if out:
        sheet.across(rim, face, ground + 26, words["out"], below=True, upto=ground + 8)
    sheet.number(1, MARGIN + 12, (under + ground) / 2, (rim + thick, under + 1))
    sheet.number(2, (inner + end) / 2, (under + ground) / 2)
    sheet.number(3, inner + 34, ground + 28, (inner + 16, ground + 3))
    sheet.words(WIDTH - MARGIN, foot, words["cold"], "end", kind="soft")
    sheet.floor = foot + 8
    sheet.note(1, words["rim"])
    flush = "" if out else "_flush"
    sheet.note(2, words[f"{'part' if full is not None and full.air else 'batt'}{flush}"])
    sheet.note(3, words["held"])


RIM = Drawing(
    name="rim",
    inputs=(
        DEPTH,
        Input("wall", "mm", "depth of the wall's stud", 90),
        Input("out", "mm", "how far the floor stands out beyond the wall below, 0 for not at all", 300),
        STOCK_INPUT,
    ),
    labels={
        "title": "Rim and cantilever of the upper floor in section, to scale",
        "says": "The end of the floor at its rim joist, standing out over the wall below: batts "
        "lie against the floor, from the rim inwards.",
        "warm": "room above, warm",
        "cold": "garage",
        "depth": "{depth}",
        "out": "{out}",
        "rim": "Rim sealed to the floor and at its foot, before the batt",
        "batt": "Batts to the full {depth} mm between the joists, hard against the rim and over what stands "
        "out beyond the wall",
        "batt_flush": "Batts to the full {depth} mm between the joists, hard against the rim",
        "part": "{total} mm of batts between the joists, against the floor and hard against the rim, over "
        "what stands out beyond the wall; {air} mm of air stay below",
        "part_flush": "{total} mm of batts between the joists, against the floor and hard against the rim; "
        "{air} mm of air stay below",
        "held": "Held up by straps or netting before the lining; rim first, then the field",
    },
    paint=_paint_rim,
)


def _paint_pipes(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, waste, pipe = (require_positive(key, n[key]) for key in ("depth", "waste", "pipe"))
    # Where the wastes need more height than what they leave, the zone is as deep as they are.
    zone = paint_zone(sheet, max(depth, waste + pipe + 20), first=0.3)
    scale = zone.scale
    inner, across = zone.bay(0)
    sheet.batt(inner, zone.under, across, depth * scale)
    left, across = zone.bay(1)
    wide = max(waste, pipe) * scale + 8
    if across - wide > 16:
        sheet.batt(left, zone.under, across - wide - 3, depth * scale)
    x = left + across - wide / 2 - 1
    low = zone.ground - waste * scale / 2 - 3
    sheet.ring(x, low, waste * scale / 2, "pipe ink", 1.8, tint=0.08)
    high = low - (waste + pipe) * scale / 2 - 5
    sheet.ring(x, high, pipe * scale / 2, "pipe soft", 1, tint=0.12)
    sheet.ring(x, high, pipe * scale / 4, "now ink", 1.4)
    sheet.upright(zone.x0 - 10, zone.under, zone.under + depth * scale, words["depth"], left=True)
    sheet.words(zone.x0, zone.top - 8, words["warm"], kind="soft")
    sheet.number(1, zone.right + 26, zone.ground + 20, (x + waste * scale / 2, low))
    sheet.number(2, zone.right + 26, zone.under + 4, (x + pipe * scale / 4, high))
    sheet.number(3, inner + zone.bay(0)[1] / 2, zone.under + depth * scale / 2)
    sheet.number(4, zone.x0 + 14, zone.ground + 22, (zone.stands[0] + zone.joist / 2, zone.ground - 5))
    sheet.floor = zone.ground + 36
    sheet.note(1, words["waste"])
    sheet.note(2, words["pipe"])
    sheet.note(3, words["left"])
    sheet.note(4, words["joist"])


FLOOR_PIPES = Drawing(
    name="floor_pipes",
    inputs=(
        DEPTH,
        Input("waste", "mm", "outer diameter of the waste", 110),
        Input("pipe", "mm", "diameter of the heated pipe over its lagging", 46),
    ),
    labels={
        "title": "Wastes and pipes in the floor zone in section, to scale",
        "says": "Joists cut across: a waste and a lagged pipe keep to one side of their bay, the rest of the "
        "depth stays for the batt.",
        "warm": "room above, warm",
        "depth": "{depth}",
        "waste": "Waste {waste} mm against one side of the bay, with its fall, tested before it is hidden",
        "pipe": "Heated pipe lagged, {pipe} mm over the lagging, clips included",
        "left": "{depth} mm stay for the batts over the garage",
        "joist": "Joist: holes only where its maker's sheet allows them, no notch",
    },
    paint=_paint_pipes,
)


def _fill_above(above: float, stock: tuple[fill.Batt, ...]) -> fill.Fill | None:
    """The batts between floor and duct, or None where the thinnest of the stock does not go in."""
    if above < min(one.thickness for one in stock):
        return None
    return fill.fill_depth(above, stock)


def _paint_duct_zone(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, above = require_positive("depth", n["depth"]), require_not_negative("above", n["above"])
    if above >= depth:
        raise FabricError(
            "above",
            f"{show(above)} mm leave no room for a duct in {show(depth)} mm; give what is left above it",
        )
    zone = paint_zone(sheet, depth, first=BESIDE)
    scale = zone.scale
    full, rest = _fill_above(depth, n["stock"]), _fill_above(above, n["stock"]) if above else None
    if full is not None:
        words.know(filled=full.total)
        paint_fill(sheet, zone, 0, full, scale)
    # Where nothing is said of the room above it, the duct takes a part of the depth.
    high = depth - above if above else 0.6 * depth
    spot = paint_duct(sheet, zone, 1, high)
    if rest is not None:
        words.know(first=rest.first, second=rest.second, total=rest.total, r=f"{rest.r:g}")
        paint_fill(sheet, zone, 1, rest, scale)
    if above:
        sheet.upright(zone.right + 8, zone.under, zone.under + above * scale, words["above"])
    sheet.upright(zone.x0 - 10, zone.under, zone.ground, words["depth"], left=True)
    sheet.words(zone.x0, zone.top - 8, words["warm"], kind="soft")
    sheet.number(1, WIDTH - MARGIN - 60, zone.ground + 22, spot)
    inner, across = zone.bay(0)
    sheet.number(2, inner + across * 0.35, zone.ground + 22, (inner + across * 0.35, zone.under + 10))
    if above:
        left, wide = zone.bay(1)
        sheet.number(
            3, WIDTH - MARGIN - 12, zone.top - 18, (left + wide * 0.8, zone.under + above * scale / 2)
        )
    sheet.floor = zone.ground + 36
    sheet.note(1, words["duct"])
    sheet.note(2, words["full" if full is None or not full.air else "most"])
    if above:
        pair = rest is not None and rest.second > 0
        sheet.note(3, words["none"] if rest is None else words["pair" if pair else "one"])


FLOOR_DUCT = Drawing(
    name="floor_duct",
    inputs=(
        DEPTH,
        Input("above", "mm", "what is left between floor and duct, 0 for no duct over the garage", 0),
        STOCK_INPUT,
    ),
    labels={
        "title": "Duct in the floor zone in section, to scale",
        "says": "Joists cut across: one bay with batts alone, in the next a duct below and the batts that "
        "go in between it and the floor.",
        "warm": "room above, warm",
        "depth": "{depth}",
        "above": "{above}",
        "duct": "Duct sealed at every joint, supported, carried on to the outside; sides and underside "
        "wrapped as its maker says",
        "full": "Bays without a duct filled to their {depth} mm",
        "most": "Bays without a duct: {filled} mm of batts against the floor, of their {depth} mm",
        "pair": "{first} mm and {second} mm batt in the {above} mm above the duct, R{r} by the labels; note "
        "the bay on the plan",
        "one": "{first} mm batt in the {above} mm above the duct, R{r} by the label; note the bay on the "
        "plan",
        "none": "{above} mm above the duct hold no batt of the stock: order a thinner one, note the bay",
    },
    paint=_paint_duct_zone,
)
