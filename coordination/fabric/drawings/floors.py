"""Batts under weight: the equipment platform on its packers, the floor zone over a garage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coordination.fabric import fill
from coordination.fabric.catalogue.thickness import STOCK
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FRAME, is_steel, paint_chord
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_not_negative, require_positive, show
from coordination.fabric.registry import Input, choice

BATT = Input("batt", "mm", "thickness of the ceiling batt")
CENTRES = 600.0


def _paint_platform(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    joist, batt = n["joist"], n["batt"]
    if joist < 35:
        raise FabricError("joist", f"{show(joist)} mm is no chord to stand on; give its depth, such as 90")
    rise = fill.platform_rise(joist, batt)
    words.know(rise=rise, clear=joist + rise)
    span = 2 * CENTRES + 260
    scale = min((WIDTH - 2 * MARGIN - 44 - 40) / span, 150 / (joist + rise + 60))
    x0 = MARGIN + 44
    ground = 76 + (joist + rise) * scale
    width = span * scale
    chord = 45 * scale
    stands = [x0 + (100 + i * CENTRES) * scale for i in range(3)]

    sheet.board(x0, ground, width, 5)
    deck = ground - (joist + rise) * scale
    edges = [x0, *[stand + chord for stand in stands]]
    for left, right in zip(edges, [*stands, x0 + width], strict=True):
        sheet.batt(left, ground - batt * scale, right - left, batt * scale)
    for stand in stands:
        paint_chord(sheet, is_steel(n), stand, ground - joist * scale, chord, joist * scale, scale)
        if rise > 0:
            sheet.timber(stand, deck, chord, rise * scale)
    sheet.board(x0 + 40 * scale, deck - 7, width - 80 * scale, 7)
    sheet.box(x0 + width * 0.3, deck - 45, width * 0.4, 38, "soft", 1, "4 3")

    sheet.upright(x0 - 10, ground, deck, words["clear"], left=True)
    if rise > 0:
        sheet.upright(x0 + width + 8, ground - joist * scale, deck, words["rise"])
        sheet.number(1, WIDTH - MARGIN - 12, deck - 26, (stands[2] + chord / 2, deck + rise * scale / 2))
    sheet.number(2, (stands[0] + chord + stands[1]) / 2, ground - batt * scale / 2)
    sheet.number(3, x0 + width * 0.5, deck - 26)
    sheet.floor = ground + 12
    if rise > 0:
        sheet.note(1, words["packers"])
    sheet.note(2, words["batts"])
    sheet.note(3, words["load"])


PLATFORM = Drawing(
    name="platform",
    inputs=(Input("joist", "mm", "depth of the chord or joist under the platform"), BATT, FRAME),
    labels={
        "title": "Equipment platform in section, to scale",
        "says": "Three bottom chords with packers under a deck; the ceiling batts run through "
        "below it uncrushed.",
        "says_steel": "Three bottom chords of steel with packers under a deck; the ceiling batts run through "
        "below it uncrushed and into the hollow of the chords.",
        "clear": "{clear}",
        "rise": "{rise}",
        "packers": "Packers {rise} mm on the {joist} mm chord: {clear} mm clear under the deck",
        "batts": "Ceiling batt {batt} mm, full thickness, put in from below under the finished deck, before "
        "the lining",
        "load": "Tank or unit only where the truss design carries it",
    },
    paint=_paint_platform,
)


def _read_stock(name: str, value: object) -> tuple[fill.Batt, ...]:
    return fill.read_stock(value)


STOCK_INPUT = Input("stock", "mm:R", "batt schedule as thickness:R,...", STOCK, read=_read_stock)
FLOOR = 22.0


@dataclass(frozen=True)
class Zone:
    """A floor zone on paper: floor sheet above three joists, its bays between them."""

    scale: float
    x0: float
    right: float
    top: float
    under: float
    ground: float
    joist: float
    stands: tuple[float, float, float]

    def bay(self, i: int) -> tuple[float, float]:
        """Left edge and clear width of a bay."""
        left = self.stands[i] + self.joist
        return left, self.stands[i + 1] - left


def paint_zone(sheet: Sheet, depth: float, lined: bool = True, first: float = 0.55) -> Zone:
    """Floor sheet and joists of a zone that is `depth` mm deep, with the lining below where it has one.

    `first` is the share of the paper that the first bay takes: the joists' spacing is not to scale.
    """
    scale = min(150 / (depth + 60), 0.5)
    x0, right, top = MARGIN + 44, WIDTH - MARGIN - 40, 46.0
    joist = 45 * scale
    under = top + FLOOR * scale
    ground = under + depth * scale
    stands = (x0 + 6, x0 + (right - x0) * first, right - 6 - joist)
    sheet.board(x0, top, right - x0, FLOOR * scale)
    for x in stands:
        sheet.timber(x, under, joist, depth * scale)
    if lined:
        sheet.board(x0, ground, right - x0, 5)
    return Zone(scale, x0, right, top, under, ground, joist, stands)


def paint_fill(sheet: Sheet, zone: Zone, i: int, best: fill.Fill, pressed: float) -> float:
    """The batts of a bay against the floor, held up by their strap; the height at which they end."""
    inner, across = zone.bay(i)
    sheet.batt(inner, zone.under, across, best.first * pressed)
    sheet.batt(inner, zone.under + best.first * pressed, across, best.second * pressed)
    low = zone.under + best.total * pressed
    sheet.path(f"M{inner:.1f} {low + 2:.1f}h{across:.1f}", "now ink", 1.4, "2 3")
    return low


def paint_duct(sheet: Sheet, zone: Zone, i: int, high: float) -> tuple[float, float]:
    """A duct `high` mm on the lower side of a bay; the middle of it on paper."""
    inner, across = zone.bay(i)
    wide, tall = across * 0.7, high * zone.scale
    x, y = inner + (across - wide) / 2, zone.ground - tall
    sheet.box(x, y, wide, tall, "duct ink", 1.6, tint=0.12)
    return x + wide / 2, y + tall / 2


def _paint_floor_zone(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, duct = n["depth"], n["duct"]
    require_not_negative("duct", duct)
    room = depth - duct
    if require_positive("depth", depth) <= duct:
        raise FabricError("duct", f"{show(duct)} mm leaves nothing of {show(depth)} mm; give its height")
    best = fill.fill_depth(depth, n["stock"], n["squeeze"])
    pair = best.second > 0
    last = 3 if pair else 2
    words.know(
        first=best.first, second=best.second, total=best.total, r=f"{best.r:g}", air=best.air, room=room
    )
    zone = paint_zone(sheet, depth, lined=n["below"] == "garage")
    # A squeezed pair fills the depth: each batt gives up its share of the squeeze.
    pressed = min(1.0, depth / best.total) * zone.scale
    low = paint_fill(sheet, zone, 0, best, pressed)
    if duct:
        paint_duct(sheet, zone, 1, duct)
    else:
        paint_fill(sheet, zone, 1, best, pressed)
    under, ground = zone.under, zone.ground
    sheet.upright(zone.right + 8, under, ground, words["depth"])
    sheet.upright(zone.x0 - 10, under, under + best.first * pressed, words["first"], left=True)
    if pair:
        sheet.upright(zone.x0 - 10, under + best.first * pressed, low, words["second"], left=True)
    sheet.words(zone.x0, zone.top - 8, words["warm"], kind="soft")
    sheet.words(zone.x0, ground + 22, words["cold"], kind="soft")
    inner, across = zone.bay(0)
    sheet.number(1, inner + across / 2, under + best.first * pressed / 2)
    if pair:
        sheet.number(2, inner + across / 2, under + (best.first + best.second / 2) * pressed)
    side = inner + across - 8 if duct else sum(zone.stands[1:]) / 2
    sheet.number(last, WIDTH - MARGIN - 60, ground + 24, (side, low + 2))
    sheet.floor = ground + 34
    sheet.note(1, words["against"])
    if pair:
        sheet.note(2, words["below" if best.air else "below_full"])
    sheet.note(last, words["straps"])
    if duct:
        sheet.note(last + 1, words["duct"])


FLOOR_ZONE = Drawing(
    name="floor_zone",
    inputs=(
        Input("depth", "mm", "depth of the floor zone"),
        STOCK_INPUT,
        Input("squeeze", "mm", "squeeze that is allowed", 0),
        Input("duct", "mm", "height of a duct or waste within the zone", 0),
        Input("below", "", "what lies under the floor", "garage", read=choice("garage", "subfloor")),
    ),
    labels={
        "title": "Floor zone over the garage in section, to scale",
        "title_subfloor": "Framed floor over an open subfloor in section, to scale",
        "says": "Joists under the warm floor; the batts touch the floor and are held up; "
        "what air is left lies below.",
        "depth": "{depth}",
        "first": "{first}",
        "second": "{second}",
        "warm": "bedroom, warm",
        "warm_subfloor": "room, warm",
        "cold": "garage, cold",
        "cold_subfloor": "subfloor, open",
        "against": "{first} mm batt hard against the floor: no air gap above it",
        "below": "{second} mm batt under it, R{r} together by the labels; {air} mm air left below",
        "below_full": "{second} mm batt under it, R{r} together by the labels; the zone is full",
        "straps": "Straps or netting hold the batts up before the garage lining",
        "straps_subfloor": "Straps or netting hold the batts up: nothing else closes the floor below",
        "duct": "Duct {duct} mm high: {room} mm are left above it",
    },
    paint=_paint_floor_zone,
)
