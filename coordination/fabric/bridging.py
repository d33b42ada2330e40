"""Insulation bridged by timber: the combined method of ISO 6946, with its error.

The truth lies between two limits. Upper: heat runs straight through, each path by itself. Lower: every
layer evens out before the next. R is their mean; the error is half their difference, as a share of it.
The method is not for insulation bridged by metal.

R in m²K/W, U in W/(m²K).

>>> wall = read_layers("0.04,0.169,0.18,2.5/0.75@0.12,0.059,0.13")
>>> round(combine(wall).u, 3)
0.385
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

from coordination.fabric.inputs import (
    FabricError,
    read_number,
    require_fraction,
    require_positive,
    require_some,
)

HOW_TO_WRITE = "write R values from outside to inside, a bridged layer as main/bridge@share: 2.5/0.75@0.12"


@dataclass(frozen=True)
class Part:
    """A share of a layer's area with its R."""

    share: float
    r: float


@dataclass(frozen=True)
class Layer:
    """One layer across the whole wall: a single part, or the main part and what bridges it."""

    parts: tuple[Part, ...]

    def __post_init__(self) -> None:
        require_some("layers", self.parts, HOW_TO_WRITE)
        for part in self.parts:
            require_fraction("layers", part.share)
            require_positive("layers", part.r)
        if abs(sum(part.share for part in self.parts) - 1) > 1e-6:
            raise FabricError("layers", "the shares of a layer must add up to 1; check the bridges")


@dataclass(frozen=True)
class Combined:
    """R by both limits, their mean, U, and the greatest relative error of the method."""

    upper: float
    lower: float
    total: float
    u: float
    error: float


def plain(r: float) -> Layer:
    """A layer that nothing bridges."""
    return Layer((Part(1.0, r),))


def bridged(main: float, *bridges: tuple[float, float]) -> Layer:
    """A layer of R `main` bridged by parts given as (R, share)."""
    taken = sum(share for _, share in bridges)
    if taken > 1 + 1e-9:
        raise FabricError("layers", "bridges take more than the whole layer; their shares must stay below 1")
    # Rounded: 1 - 0.12 must be written and computed as 0.88.
    rest = round(1 - taken, 12)
    return Layer((Part(rest, main), *(Part(share, r) for r, share in bridges)))


def read_layers(text: object) -> tuple[Layer, ...]:
    """Layers from text such as `0.04,0.18,2.5/0.75@0.12,0.13`, or from numbers and `Layer`s.

    A layer may have several bridges: `2.5/0.75@0.12/0.18@0.05`.
    """
    pieces: Sequence[object]
    if isinstance(text, str):
        pieces = [piece.strip() for piece in text.split(",")]
    elif isinstance(text, Iterable):
        pieces = list(text)
    else:
        raise FabricError("layers", f"{text!r} is no list of layers; {HOW_TO_WRITE}")
    require_some("layers", pieces, HOW_TO_WRITE)
    return tuple(_read_layer(piece) for piece in pieces)


def _read_layer(piece: object) -> Layer:
    if isinstance(piece, Layer):
        return piece
    if not isinstance(piece, str) or "/" not in piece:
        return plain(read_number("layers", piece))
    main, *bridges = piece.split("/")
    return bridged(read_number("layers", main), *(_read_bridge(bridge) for bridge in bridges))


def _read_bridge(text: str) -> tuple[float, float]:
    r, mark, share = text.partition("@")
    if not mark:
        raise FabricError("layers", f"the bridge '{text}' has no share; {HOW_TO_WRITE}")
    return read_number("layers", r), require_fraction("layers", read_number("layers", share))


def combine(layers: Sequence[Layer]) -> Combined:
    """Combined method of ISO 6946 over layers from air to air (surface resistances included).

    Where more than one layer is bridged, the bridges are taken to cross each other independently.
    """
    require_some("layers", layers, HOW_TO_WRITE)
    paths = list(product(*(layer.parts for layer in layers)))
    conductance = sum(prod(part.share for part in path) / sum(part.r for part in path) for path in paths)
    upper = 1 / conductance
    lower = sum(1 / sum(part.share / part.r for part in layer.parts) for layer in layers)
    total = (upper + lower) / 2
    # A wall that nothing bridges has equal limits up to the last bit; an error below that bit is none.
    error = max(0.0, (upper - lower) / (2 * total))
    return Combined(upper, lower, total, 1 / total, error)
