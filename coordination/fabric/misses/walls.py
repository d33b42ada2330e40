"""Misses in walls: empty bays, gaps between pieces, pockets, lintels, rims, squeezed batts."""

from __future__ import annotations

from dataclasses import replace

from coordination.fabric import layers
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.misses.ceilings import left_in
from coordination.fabric.misses.kinds import INSIDE_R, LAYERS, OUTSIDE_R, Loss, R, offer
from coordination.fabric.registry import Input

CLEAR = Input("clear", "mm", "clear width of the bay")
HEIGHT = Input("height", "m", "height of the bay", 2.4)
DEPTH = Input("depth", "mm", "depth of the stud", 90)
STILL_AIR = "the empty bay is a still air layer (0.18); with openings top and bottom it is worse"


def _outside_words(outside_r: float) -> str:
    if abs(outside_r - layers.VENEER_OUTSIDE) < 1e-3:
        return "brick veneer outside, its cavity taken as unventilated"
    if abs(outside_r - layers.CLAD_OUTSIDE) < 1e-3:
        return "light cladding outside on a well-ventilated cavity: still air before the wrap (0.13)"
    return f"own figure: {outside_r:.3g} m²K/W from the wrap outwards, with the outside film"


def _require_still_air(name: str, depth: float, thing: str) -> None:
    if require_positive(name, depth) < 25:
        raise FabricError(name, f"{show(depth)} mm holds no still air layer; give the {thing}'s depth")


def _without(area: float, r: float, depth: float, outside_r: float, inside_r: float) -> Loss:
    """`area` of a wall in which still air stands instead of a batt."""
    _require_still_air("depth", depth, "stud")
    filled = outside_r + require_positive("r", r) + inside_r
    empty = outside_r + layers.STILL_AIR_LAYER + inside_r
    return Loss(
        watts=area * (1 / empty - 1 / filled),
        share=1 - empty / filled,
        worst_r=empty,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(STILL_AIR, _outside_words(outside_r)),
    )


@offer("empty_bay", "wall bay without its batt", CLEAR, HEIGHT, R, DEPTH, *LAYERS, beside_members=True)
def _empty_bay(
    clear: float, height: float, r: float, depth: float, outside_r: float, inside_r: float
) -> Loss:
    area = require_positive("clear", clear) / 1000 * require_positive("height", height)
    return _without(area, r, depth, outside_r, inside_r)


@offer(
    "empty_garage_bay",
    "bay of the wall to the garage without its batt",
    CLEAR,
    HEIGHT,
    R,
    DEPTH,
    Input(
        "outside_r", "m²K/W", "layers on the garage's side, with the film of 0.13 there", layers.VENEER_INSIDE
    ),
    INSIDE_R,
    beside_members=True,
)
def _empty_garage_bay(
    clear: float, height: float, r: float, depth: float, outside_r: float, inside_r: float
) -> Loss:
    area = require_positive("clear", clear) / 1000 * require_positive("height", height)
    return replace(
        _without(area, r, depth, outside_r, inside_r),
        assumptions=(STILL_AIR, "worst case: the garage, whose door lets air through, is as cold as outside"),
    )


@offer(
    "gap_between_pieces",
    "gap between two pieces of batt in a bay",
    CLEAR,
    Input("gap", "mm", "width of the gap", 10),
    R,
    DEPTH,
    *LAYERS,
    beside_members=True,
)
def _gap_between_pieces(
    clear: float, gap: float, r: float, depth: float, outside_r: float, inside_r: float
) -> Loss:
    area = require_positive("clear", clear) / 1000 * require_positive("gap", gap) / 1000
    return replace(
        _without(area, r, depth, outside_r, inside_r),
        # So narrow a strip is warmed by what lies beside it: the plain path would make it too cold.
        worst_r=None,
        assumptions=(
            "the gap runs through from face to face and across the whole bay",
            "still air stands in it; where it moves, behind a batt that does not touch, it costs far more",
            _outside_words(outside_r),
        ),
    )


@offer(
    "bare_lintel",
    "rest of the stud's depth beside a lintel left empty",
    Input("length", "m", "length of the lintel", 1.2),
    Input("height", "mm", "height of the lintel", 200),
    Input("lintel", "mm", "thickness of the lintel through the wall"),
    R,
    DEPTH,
    *LAYERS,
    timber_only=True,
)
def _bare_lintel(
    length: float,
    height: float,
    lintel: float,
    r: float,
    depth: float,
    outside_r: float,
    inside_r: float,
) -> Loss:
    require_positive("r", r)
    rest = require_positive("depth", depth) - require_positive("lintel", lintel)
    if rest <= 0:
        raise FabricError("lintel", f"{show(lintel)} mm fills the stud of {show(depth)} mm; nothing is left")
    around = outside_r + layers.material_r("radiata pine", lintel) + inside_r
    filled = around + r * rest / depth
    empty = around + layers.still_air_r(rest)
    area = require_positive("length", length) * require_positive("height", height) / 1000
    return Loss(
        watts=area * (1 / empty - 1 / filled),
        share=1 - empty / filled,
        worst_r=empty,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            f"a lintel of radiata pine, {show(lintel)} mm thick, and a piece with its part of the batt's R",
            f"still air in the {show(rest)} mm beside it",
            _outside_words(outside_r),
        ),
    )


@offer(
    "empty_rim",
    "rim of the upper floor left without its batt",
    Input("length", "m", "length of rim that is missed", 1),
    Input("height", "mm", "depth of the floor zone"),
    Input("timber", "mm", "thickness of the rim joist", 45),
    R,
    OUTSIDE_R,
    timber_only=True,
)
def _empty_rim(length: float, height: float, timber: float, r: float, outside_r: float) -> Loss:
    require_positive("r", r)
    empty = outside_r + layers.material_r("radiata pine", timber) + layers.INSIDE_SIDEWAYS
    filled = empty + r
    area = require_positive("length", length) * require_positive("height", height) / 1000
    return Loss(
        watts=area * (1 / empty - 1 / filled),
        share=1 - empty / filled,
        worst_r=empty,
        film=layers.INSIDE_SIDEWAYS,
        assumptions=(
            "the air of the floor zone as warm as the rooms; the rim joist is radiata pine",
            "air that leaks past an unsealed rim comes on top",
            _outside_words(outside_r),
        ),
    )


@offer(
    "squeezed_strip",
    "pipe or cable that squeezes the batt",
    Input("size", "mm", "diameter of the pipe or cable"),
    Input("length", "m", "length that it runs in the batt", 2.4),
    R,
    Input("batt", "mm", "thickness of the batt", 90),
    *LAYERS,
    beside_members=True,
)
def _squeezed_strip(
    size: float, length: float, r: float, batt: float, outside_r: float, inside_r: float
) -> Loss:
    require_positive("length", length)
    if require_positive("size", size) >= require_positive("batt", batt):
        raise FabricError("size", f"{show(size)} mm leaves no batt in {show(batt)} mm; give its diameter")
    left, how = left_in(r, batt, batt - size)
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


@offer(
    "empty_pocket",
    "corner or junction pocket left empty",
    Input("width", "mm", "width of the pocket along the wall", 90),
    Input("height", "m", "height of the pocket", 2.4),
    Input("depth", "mm", "depth of the pocket", 45),
    Input("r", "m²K/W", "R of the piece that belongs in it", 1.25),
    Input("timber", "mm", "stud that closes it on the room's side", 45),
    *LAYERS,
    timber_only=True,
)
def _empty_pocket(
    width: float, height: float, depth: float, r: float, timber: float, outside_r: float, inside_r: float
) -> Loss:
    require_positive("width", width)
    require_positive("height", height)
    _require_still_air("depth", depth, "pocket")
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
            _outside_words(outside_r),
        ),
    )
