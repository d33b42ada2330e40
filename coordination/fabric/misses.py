"""What a miss costs: heat, share of the element's R, surface temperature, and whether mould can grow.

Each answer is for the place that was missed, in this house's numbers, and carries the assumptions it
stands on. Losses are in W/K: times the degrees between inside and outside they are watts. Conduction
only: air that moves through a gap carries more away than is reckoned here, unless an assumption says so.

>>> bay = cost_miss("empty_bay", clear=555, height=2.4, r=2.5, depth=90)
>>> round(bay.temperature, 1), bay.mould
(15.7, False)
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from coordination.fabric import compression, eaves, gaps, layers, surface
from coordination.fabric.inputs import FabricError, require_fraction, require_positive, show
from coordination.fabric.registry import Input
from coordination.fabric.sources import find_limit

# The climate in which a miss is judged unless the house gives its own: a mild winter night.
CLIMATE = (
    Input("inside", "°C", "air temperature inside", 20),
    Input("outside", "°C", "air temperature outside", 5),
    Input("humidity", "share", "relative humidity inside", 0.5),
)
BASE = Input("base", "m²K/W", "resistance of the ceiling without batts", from_limit="ceiling.base_r")
R = Input("r", "m²K/W", "label value of the batts")


@dataclass(frozen=True)
class Loss:
    """What one kind of miss does before the climate is looked at.

    `watts` in W/K, `share` of the element's R that is gone, `worst_r` of the coldest path from air to
    air with `film` as the inside resistance in it (None: no cold spot is claimed), and the assumptions.
    """

    watts: float
    share: float
    worst_r: float | None
    film: float
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class Miss:
    """The price of leaving a detail undone: `loss` in W/K, `share` of the element's R that is gone.

    `frsi`, `temperature` and `mould` are None where no cold spot is claimed; `frsi_least` is the limit
    that practice sets beside them (BRE IP 1/06), a default that may be overruled.
    """

    kind: str
    inputs: dict[str, Any]
    loss: float
    share: float
    frsi: float | None
    frsi_least: float
    temperature: float | None
    lowest_safe: float
    mould: bool | None
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class MissKind:
    """A kind of miss on offer: its name, what went wrong, its inputs and its physics."""

    name: str
    what: str
    inputs: tuple[Input, ...]
    run: Callable[..., Loss]


VENEER = (
    Input("outside_r", "m²K/W", "layers outside the batt, with the outside film", layers.VENEER_OUTSIDE),
    Input("inside_r", "m²K/W", "layers inside the batt, with the inside film of 0.13", layers.VENEER_INSIDE),
)
AREA = Input("area", "m²", "area that is missed")

MISSES: dict[str, MissKind] = {}
"""The kinds on offer by name; each stands over its physics."""


def _offer(name: str, what: str, *inputs: Input) -> Callable[[Callable[..., Loss]], Callable[..., Loss]]:
    """Offer a kind of miss: its name, what went wrong, what it needs to know."""

    def keep(run: Callable[..., Loss]) -> Callable[..., Loss]:
        MISSES[name] = MissKind(name, what, inputs, run)
        return run

    return keep


@_offer(
    "bare_perimeter",
    "perimeter strip left bare",
    Input("length", "m", "length of the ceiling"),
    Input("width", "m", "width of the ceiling"),
    Input("set_back", "mm", "set-back of the full batt"),
    R,
    Input("strip_r", "m²K/W", "label value of the perimeter batt"),
    BASE,
)
def _bare_perimeter(
    length: float, width: float, set_back: float, r: float, strip_r: float, base: float
) -> Loss:
    area, share = eaves.perimeter_strip(length, width, set_back)
    as_drawn = gaps.parallel_r([(share, strip_r + base), (1 - share, r + base)]) - base
    as_left = gaps.added_r(r, base, share)
    return Loss(
        watts=area * (1 / base - 1 / (strip_r + base)),
        share=1 - as_left / as_drawn,
        worst_r=base,
        film=layers.INSIDE_UP,
        assumptions=(
            "hipped roof, same set-back on all sides, counted from the wall line",
            "the strip is bare over its whole width; wind washing under the eave is not counted",
        ),
    )


@_offer(
    "bare_ceiling",
    "share of the ceiling left bare",
    Input("area", "m²", "area of the ceiling"),
    Input("fraction", "share", "share that is bare"),
    R,
    BASE,
)
def _bare_ceiling(area: float, fraction: float, r: float, base: float) -> Loss:
    require_positive("area", area)
    require_fraction("fraction", fraction)
    return Loss(
        watts=area * fraction * (1 / base - 1 / (r + base)),
        share=gaps.lost_share(r, base, fraction),
        worst_r=base,
        film=layers.INSIDE_UP,
        assumptions=("heat flows straight up through bare and covered parts; no air circulates in the gaps",),
    )


def _left_in(r: float, batt: float, depth: float) -> tuple[float, str]:
    """R of a batt forced into `depth`, and the assumption that it rests on."""
    require_positive("r", r)
    require_positive("batt", batt)
    require_positive("depth", depth)
    if depth >= compression.LEAST_SHARE * batt:
        return (
            compression.compressed_r(r, batt, depth),
            "squeezed batt by the law fitted to a glass-fibre maker's chart (R·s^0.62)",
        )
    return (
        r * depth / batt,
        f"{show(depth)} mm is less than half the batt: reckoned as if a thinner piece of the same "
        "make filled it, since no measurement reaches there",
    )


@_offer(
    "crushed_platform",
    "platform set down on the ceiling batts",
    Input("area", "m²", "footprint of the platform"),
    Input("batt", "mm", "thickness of the ceiling batt"),
    R,
    Input("depth", "mm", "clear height that is left under the deck"),
    BASE,
)
def _crushed_platform(area: float, batt: float, r: float, depth: float, base: float) -> Loss:
    require_positive("area", area)
    left, how = _left_in(r, batt, depth)
    return Loss(
        watts=area * (1 / (left + base) - 1 / (r + base)),
        share=1 - left / r,
        worst_r=left + base,
        film=layers.INSIDE_UP,
        assumptions=(how, "the whole footprint of the platform is crushed to the same depth"),
    )


@_offer(
    "empty_bay",
    "wall bay without its batt",
    Input("clear", "mm", "clear width of the bay"),
    Input("height", "m", "height of the bay", 2.4),
    R,
    Input("depth", "mm", "depth of the stud", 90),
    *VENEER,
)
def _empty_bay(
    clear: float, height: float, r: float, depth: float, outside_r: float, inside_r: float
) -> Loss:
    require_positive("clear", clear)
    require_positive("height", height)
    if require_positive("depth", depth) < 25:
        raise FabricError("depth", f"{show(depth)} mm holds no still air layer; give the stud's depth")
    filled = outside_r + r + inside_r
    empty = outside_r + layers.STILL_AIR_LAYER + inside_r
    return Loss(
        watts=clear / 1000 * height * (1 / empty - 1 / filled),
        share=1 - empty / filled,
        worst_r=empty,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            "the empty bay is a still air layer (0.18); with openings top and bottom it is worse",
            "brick cavity taken as unventilated",
        ),
    )


@_offer(
    "squeezed_strip",
    "pipe or cable that squeezes the batt",
    Input("size", "mm", "diameter of the pipe or cable"),
    Input("length", "m", "length that it runs in the batt", 2.4),
    R,
    Input("batt", "mm", "thickness of the batt", 90),
    *VENEER,
)
def _squeezed_strip(
    size: float, length: float, r: float, batt: float, outside_r: float, inside_r: float
) -> Loss:
    require_positive("length", length)
    if require_positive("size", size) >= require_positive("batt", batt):
        raise FabricError("size", f"{show(size)} mm leaves no batt in {show(batt)} mm; give its diameter")
    left, how = _left_in(r, batt, batt - size)
    filled = outside_r + r + inside_r
    squeezed = outside_r + left + inside_r
    width = 3 * size / 1000
    return Loss(
        watts=width * length * (1 / squeezed - 1 / filled),
        share=1 - left / r,
        worst_r=squeezed,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            how,
            "the batt is lifted over a strip three diameters wide and recovers beside it",
            "a bare gap beside the pipe or cable would cost more than the squeeze",
        ),
    )


@_offer(
    "open_void",
    "void left open to the roof space",
    Input("area", "m²", "area of the void, seen from above"),
    Input("wall", "m²", "area of the walls round the void"),
    R,
    BASE,
)
def _open_void(area: float, wall: float, r: float, base: float) -> Loss:
    require_positive("area", area)
    lining = layers.PLASTERBOARD + 2 * layers.INSIDE_SIDEWAYS
    top = area * (1 / base - 1 / (r + base))
    sides = require_positive("wall", wall) / lining
    return Loss(
        watts=top + sides,
        share=1.0,
        worst_r=lining,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            "worst case: air of the roof space, as cold as outside, fills the void freely",
            "the walls round the void are one plasterboard with still air on both sides",
            "air that leaks from the rooms into the void comes on top",
        ),
    )


@_offer(
    "empty_pocket",
    "corner or junction pocket left empty",
    Input("width", "mm", "width of the pocket along the wall", 90),
    Input("height", "m", "height of the pocket", 2.4),
    Input("depth", "mm", "depth of the pocket", 45),
    Input("r", "m²K/W", "R of the piece that belongs in it", 1.25),
    Input("timber", "mm", "stud that closes it on the room's side", 45),
    *VENEER,
)
def _empty_pocket(
    width: float, height: float, depth: float, r: float, timber: float, outside_r: float, inside_r: float
) -> Loss:
    require_positive("width", width)
    require_positive("height", height)
    if require_positive("depth", depth) < 25:
        raise FabricError("depth", f"{show(depth)} mm holds no still air layer; give the pocket's depth")
    stud = layers.material_r("radiata pine", timber)
    filled = outside_r + r + stud + inside_r
    empty = outside_r + layers.STILL_AIR_LAYER + stud + inside_r
    return Loss(
        watts=width / 1000 * height * (1 / empty - 1 / filled),
        share=1 - empty / filled,
        worst_r=empty,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            "heat flows straight through; a real corner loses more, since it has more outside than inside",
            "the empty pocket is a still air layer (0.18) behind a stud of radiata pine",
        ),
    )


@_offer(
    "off_the_plane",
    "batts that hang off the lining or the warm floor",
    AREA,
    R,
    BASE,
)
def _off_the_plane(area: float, r: float, base: float) -> Loss:
    total = r + base
    correction = gaps.void_correction(2, r, total)
    corrected = 1 / (1 / total + correction)
    return Loss(
        watts=require_positive("area", area) * correction,
        share=1 - corrected / total,
        worst_r=None,
        film=layers.INSIDE_UP,
        assumptions=(
            "ISO 6946 void level 2: gaps, and air circulates on the warm side",
            "an average over the area; no cold spot is reckoned",
        ),
    )


@_offer(
    "bare_face",
    "vertical face between a room and the roof space left bare",
    AREA,
    R,
)
def _bare_face(area: float, r: float) -> Loss:
    lining = layers.PLASTERBOARD + 2 * layers.INSIDE_SIDEWAYS
    require_positive("r", r)
    return Loss(
        watts=require_positive("area", area) * (1 / lining - 1 / (lining + r)),
        share=r / (lining + r),
        worst_r=lining,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            "air of the roof space as cold as outside",
            "one plasterboard with still air on both sides is left",
        ),
    )


def cost_miss(kind: str, **numbers: object) -> Miss:
    """The price of a miss of `kind` (see `MISSES`) for this house's `numbers`.

    Takes besides the kind's own inputs `inside`, `outside` (°C) and `humidity`. Mould is None where no
    cold spot is claimed.
    """
    found = MISSES.get(kind)
    if found is None:
        raise FabricError("kind", f"'{kind}' is unknown; there are {', '.join(MISSES)}")
    known = [one.name for one in (*found.inputs, *CLIMATE)]
    for name in numbers:
        if name not in known:
            raise FabricError(name, f"is no input of {kind}; it takes {', '.join(known)}")
    values = {one.name: one.value_of(numbers) for one in found.inputs}
    climate = {one.name: one.value_of(numbers) for one in CLIMATE}
    loss = found.run(**values)
    return _judge(found, values | climate, loss, climate)


def _judge(found: MissKind, inputs: dict[str, Any], loss: Loss, climate: Mapping[str, Any]) -> Miss:
    """Look at a loss in its climate: how cold the surface gets and whether mould can grow on it."""
    inside, outside = climate["inside"], climate["outside"]
    surface.require_warmer_inside(inside, outside)
    lowest = surface.lowest_safe_temperature(inside, climate["humidity"])
    factor = temperature = None
    if loss.worst_r is not None:
        factor = surface.surface_factor(1 / loss.worst_r, loss.film)
        temperature = outside + factor * (inside - outside)
    return Miss(
        kind=found.name,
        inputs=inputs,
        loss=loss.watts,
        share=loss.share,
        frsi=factor,
        frsi_least=find_limit("frsi.least").value,
        temperature=temperature,
        lowest_safe=lowest,
        mould=None if temperature is None else temperature < lowest,
        assumptions=(
            *loss.assumptions,
            f"{show(inside)} °C inside, {show(outside)} °C outside; surface on the mould film of 0.25",
        ),
    )
