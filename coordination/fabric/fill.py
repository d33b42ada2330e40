"""Filling spaces with batts of real thickness: platforms, floor zones, bays, pieces to order.

Lengths in mm, areas in m², R in m²K/W.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

from coordination.fabric.inputs import (
    FabricError,
    read_number,
    require_fraction,
    require_not_negative,
    require_positive,
    require_some,
    show,
)

MOST_SQUEEZE = 0.05
WASTE = 0.03
TRIM_OVERSIZE = 10.0
# Less batt than this behind a pipe is none: common practice.
LEAST_BEHIND_PIPE = 20.0
SAME = 1e-9


@dataclass(frozen=True)
class Batt:
    """One line of the batt schedule: thickness in mm as printed on the bag, R in m²K/W."""

    thickness: float
    r: float

    def __post_init__(self) -> None:
        require_positive("stock", self.thickness)
        require_positive("stock", self.r)


@dataclass(frozen=True)
class Fill:
    """One or two batts in a depth; `second` is 0 for a single batt, `air` is what stays empty."""

    first: float
    second: float
    total: float
    r: float
    air: float


def platform_rise(joist: float, batt: float) -> float:
    """Height in mm of the packers under a platform's bearers so that the ceiling batt stays uncrushed.

    `joist` is the depth of the bottom chord or ceiling joist that the platform stands on.
    """
    require_not_negative("joist", joist)
    require_positive("batt", batt)
    return max(0.0, batt - joist)


def read_stock(text: object) -> tuple[Batt, ...]:
    """Batts from text such as `75:2.0,90:2.5` (thickness:R), or from pairs of numbers."""
    pairs: Sequence[object]
    if isinstance(text, str):
        pairs = [part for part in text.split(",") if part.strip()]
    elif isinstance(text, Iterable):
        pairs = list(text)
    else:
        raise FabricError("stock", f"{text!r} is no list of batts; write thickness:R, as in 75:2.0,90:2.5")
    require_some("stock", pairs, "write thickness:R, as in 75:2.0,90:2.5")
    return tuple(_read_batt(pair) for pair in pairs)


def _read_batt(pair: object) -> Batt:
    if isinstance(pair, Batt):
        return pair
    sides = pair.split(":") if isinstance(pair, str) else pair
    if not isinstance(sides, (list, tuple)) or len(sides) != 2:
        raise FabricError("stock", f"'{pair}' is no batt; write thickness:R, as in 90:2.5")
    return Batt(read_number("stock", sides[0]), read_number("stock", sides[1]))


def fill_depth(depth: float, stock: Sequence[Batt], squeeze: float = 0) -> Fill:
    """Fill `depth` with one or two batts of `stock`, as full as they go.

    `squeeze` is the number of mm by which the batts together may exceed the depth; never more than
    5 % of their thickness. Between equal fills the higher R wins, then fewer kinds of batt, then fewer
    pieces, then the thinner first piece. `r` is the sum of the labels: a squeezed pair resists a little
    less (see `compression`).
    """
    require_positive("depth", depth)
    require_not_negative("squeeze", squeeze)
    require_some("stock", stock, "write thickness:R, as in 75:2.0,90:2.5")
    ordered = sorted(set(stock), key=lambda batt: (batt.thickness, batt.r))
    choices: list[tuple[Batt, ...]] = [(batt,) for batt in ordered]
    choices += list(combinations_with_replacement(ordered, 2))
    fitting = [choice for choice in choices if _fits(choice, depth, squeeze)]
    if not fitting:
        thinnest = ordered[0].thickness
        raise FabricError(
            "depth",
            f"{show(depth)} mm holds no batt of the stock, the thinnest is {show(thinnest)} mm; "
            "add a thinner batt to the stock",
        )
    best = min(fitting, key=lambda choice: _rank(choice, depth))
    total = sum(batt.thickness for batt in best)
    return Fill(
        first=best[0].thickness,
        second=best[1].thickness if len(best) == 2 else 0.0,
        total=total,
        r=round(sum(batt.r for batt in best), 9),
        air=max(0.0, depth - total),
    )


def _fits(choice: tuple[Batt, ...], depth: float, squeeze: float) -> bool:
    total = sum(batt.thickness for batt in choice)
    return total - depth <= min(squeeze, MOST_SQUEEZE * total) + SAME


def _rank(choice: tuple[Batt, ...], depth: float) -> tuple[float, float, int, int, float]:
    total = sum(batt.thickness for batt in choice)
    r = sum(batt.r for batt in choice)
    kinds = len({batt.thickness for batt in choice})
    return round(abs(depth - total), 6), -round(r, 6), kinds, len(choice), choice[0].thickness


def count_batts(area: float, width: float, length: float, waste: float = WASTE) -> int:
    """Batts to bring for `area` m² net, each `width` by `length` mm, with `waste` as a share added."""
    require_positive("area", area)
    require_positive("width", width)
    require_positive("length", length)
    require_fraction("waste", waste)
    # Rounded before the ceiling: 100 batts must not become 101 by the last bit of a product.
    return math.ceil(round(area * (1 + waste) / (width * length / 1e6), 9))


def clear_bay(centres: float, stud: float) -> float:
    """Clear width in mm between two studs at `centres`."""
    require_positive("stud", stud)
    if require_positive("centres", centres) <= stud:
        raise FabricError(
            "centres",
            f"{show(centres)} mm leaves nothing between studs {show(stud)} mm thick; give centre to centre",
        )
    return centres - stud


def count_bays(length: float, centres: float) -> int:
    """Bays along a wall of `length` m framed at `centres` mm."""
    require_positive("length", length)
    require_positive("centres", centres)
    return math.ceil(round(length * 1000 / centres, 9))


def cut_width(clear: float, batt_width: float) -> float:
    """Width in mm to cut for a bay: the batt as it is, or the bay and 10 mm where it is narrower.

    A bay wider than the batt is refused: butt strips in it, a stretched batt leaves a gap.
    """
    require_positive("clear", clear)
    require_positive("width", batt_width)
    if clear > batt_width:
        raise FabricError(
            "width",
            f"a {show(batt_width)} mm batt does not fill a bay of {show(clear)} mm; "
            "take the wider batt or butt strips edge to edge",
        )
    return min(batt_width, clear + TRIM_OVERSIZE) if batt_width - clear > 25 else batt_width


def split_round_pipe(depth: float, pipe: float, lagging: float) -> tuple[float, float]:
    """Diameter over the lagging, and what is left of the stud behind it for a whole layer of batt; mm.

    The pipe stands against the lining, on the warm side: all the batt that there is room for lies between
    it and the cold.
    """
    require_positive("depth", depth)
    require_not_negative("lagging", lagging)
    whole = require_positive("pipe", pipe) + 2 * lagging
    if whole > depth - LEAST_BEHIND_PIPE:
        raise FabricError(
            "pipe",
            f"{show(whole)} mm over the lagging leaves no batt in {show(depth)} mm; move it out of the wall",
        )
    return whole, depth - whole


def count_pockets(corners: int, junctions: int) -> int:
    """Pockets to fill before the wrap: one per external corner, one per wall that meets an outside wall."""
    require_not_negative("corners", corners)
    require_not_negative("junctions", junctions)
    return corners + junctions
