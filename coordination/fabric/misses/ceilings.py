"""Misses overhead and underfoot: bare strips, crushed batts, open voids, batts off their plane."""

from __future__ import annotations

from coordination.fabric import compression, eaves, gaps, layers
from coordination.fabric.inputs import FabricError, require_fraction, require_positive, show
from coordination.fabric.misses.kinds import AREA, BASE, Loss, R, offer
from coordination.fabric.registry import Input

STRIP_R = Input("strip_r", "m²K/W", "label value of the perimeter batt")
SET_BACK = Input("set_back", "mm", "set-back of the full batt")
WIND = "the strip is bare over its whole width; wind washing under the eave is not counted"
COLD_ROOF = "air of the roof space as cold as outside"


@offer(
    "bare_perimeter",
    "perimeter strip left bare all round, from the ceiling's length and width",
    Input("length", "m", "length of the ceiling"),
    Input("width", "m", "width of the ceiling"),
    SET_BACK,
    R,
    STRIP_R,
    BASE,
    beside_members=True,
)
def _bare_perimeter(
    length: float, width: float, set_back: float, r: float, strip_r: float, base: float
) -> Loss:
    area, share = eaves.perimeter_strip(length, width, set_back)
    shape = "hipped roof, same set-back on all sides, counted from the wall line"
    return _bare_strip_of(area, share, share, r, strip_r, base, shape)


@offer(
    "bare_strip",
    "perimeter strip of one side of the roof left bare",
    Input("area", "m²", "net area of the strip on all sides"),
    Input("ceiling", "m²", "net area of the full batts beside it"),
    Input("sides", "", "sides of the roof that share the strip"),
    SET_BACK,
    R,
    STRIP_R,
    BASE,
    beside_members=True,
)
def _bare_strip(
    area: float, ceiling: float, sides: float, set_back: float, r: float, strip_r: float, base: float
) -> Loss:
    require_positive("area", area)
    require_positive("ceiling", ceiling)
    require_positive("set_back", set_back)
    if require_positive("sides", sides) < 1:
        raise FabricError("sides", f"{show(sides)} is no number of sides; give 1 or more")
    strip = area / (area + ceiling)
    shape = "the strip is shared evenly by the sides of the roof; the other sides keep their batts"
    return _bare_strip_of(area / sides, strip / sides, strip, r, strip_r, base, shape)


def _bare_strip_of(
    area: float, bare: float, strip: float, r: float, strip_r: float, base: float, shape: str
) -> Loss:
    """A strip of `area` bare: the share `bare` of the ceiling, whose share `strip` is to have `strip_r`."""
    as_drawn = gaps.parallel_r([(strip, strip_r + base), (1 - strip, r + base)]) - base
    kept = max(0.0, strip - bare)
    as_left = gaps.parallel_r([(bare, base), (kept, strip_r + base), (1 - strip, r + base)]) - base
    return Loss(
        watts=area * (1 / base - 1 / (strip_r + base)),
        share=1 - as_left / as_drawn,
        worst_r=base,
        film=layers.INSIDE_UP,
        assumptions=(shape, WIND),
    )


@offer(
    "bare_ceiling",
    "share of the ceiling left bare",
    Input("area", "m²", "area of the ceiling"),
    Input("fraction", "share", "share that is bare"),
    R,
    BASE,
    beside_members=True,
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


def left_in(r: float, batt: float, depth: float) -> tuple[float, str]:
    """R of a batt of `batt` mm forced into `depth` mm, and the assumption that it rests on."""
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


@offer(
    "crushed_platform",
    "platform set down on the ceiling batts",
    Input("area", "m²", "footprint of the platform"),
    Input("batt", "mm", "thickness of the ceiling batt"),
    R,
    Input("depth", "mm", "clear height that is left under the deck"),
    BASE,
    beside_members=True,
)
def _crushed_platform(area: float, batt: float, r: float, depth: float, base: float) -> Loss:
    require_positive("area", area)
    left, how = left_in(r, batt, depth)
    return Loss(
        watts=area * (1 / (left + base) - 1 / (r + base)),
        share=1 - left / r,
        worst_r=left + base,
        film=layers.INSIDE_UP,
        assumptions=(how, "the whole footprint of the platform is crushed to the same depth"),
    )


@offer(
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


@offer(
    "off_the_plane",
    "batts that hang off the lining or the warm floor",
    AREA,
    R,
    BASE,
    beside_members=True,
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


@offer(
    "bare_floor",
    "floor over a garage or open air left without its batts",
    AREA,
    R,
    Input("base", "m²K/W", "resistance of the floor without batts", 0.35),
    beside_members=True,
)
def _bare_floor(area: float, r: float, base: float) -> Loss:
    require_positive("r", r)
    require_positive("base", base)
    return Loss(
        watts=require_positive("area", area) * (1 / base - 1 / (r + base)),
        share=r / (r + base),
        worst_r=base,
        film=layers.INSIDE_DOWN,
        assumptions=(
            "air below the floor as cold as outside",
            "between the joists; no covering on the floor",
        ),
    )


@offer(
    "bare_face",
    "vertical face between a room and the roof space left bare",
    AREA,
    R,
    beside_members=True,
)
def _bare_face(area: float, r: float) -> Loss:
    lining = layers.PLASTERBOARD + 2 * layers.INSIDE_SIDEWAYS
    require_positive("r", r)
    return Loss(
        watts=require_positive("area", area) * (1 / lining - 1 / (lining + r)),
        share=r / (lining + r),
        worst_r=lining,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(COLD_ROOF, "one plasterboard with still air on both sides is left"),
    )
