"""What a kind of miss is: its inputs, its physics, and how much it matters where no heat can be reckoned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from coordination.fabric import layers
from coordination.fabric.registry import Input, choice


class Rank(StrEnum):
    """What a miss does in the end, the gravest first.

    Only heat has a figure by which two misses can be compared; people and the life of the house come
    before it, and what nobody can reckon comes after it.
    """

    DANGER = "danger"
    """Somebody can be hurt: fire, fumes, a live cable."""
    DAMP = "damp"
    """Water or damp air gets into the house's fabric, or mould can grow on a surface that is too cold."""
    HEAT = "heat"
    """Heat is lost: the larger loss first."""
    METAL = "metal"
    """Heat is lost through metal, and no plain method reckons how much."""
    COMFORT = "comfort"
    """Noise and the like: nothing is harmed."""


@dataclass(frozen=True)
class Loss:
    """What one kind of miss does before the climate is looked at.

    `watts` in W/K, 0 where none can be reckoned; `share` of the element's R that is gone (None: the miss
    takes nothing from an R); `worst_r` of the coldest path from air to air with `film` as the inside
    resistance in it (None: no cold spot is claimed); and the assumptions.
    """

    watts: float
    share: float | None
    worst_r: float | None
    film: float
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class MissKind:
    """A kind of miss on offer: its name, what went wrong, its inputs and its physics.

    `timber_only`: it reckons with members of timber, and holds for no frame of metal. `beside_members`: its
    path runs beside members of the frame, so that steel ones would make it worse.
    """

    name: str
    what: str
    inputs: tuple[Input, ...]
    run: Callable[..., Loss]
    rank: Rank = Rank.HEAT
    timber_only: bool = False
    beside_members: bool = False

    @property
    def takes(self) -> dict[str, Input]:
        """By name all that it may be told: its own inputs, and what every miss may be told of the house."""
        return {one.name: one for one in (*self.inputs, *CIRCUMSTANCES)}


CLIMATE = (
    Input("inside", "°C", "air temperature inside", 20),
    Input("outside", "°C", "air temperature outside", 5),
    Input("humidity", "share", "relative humidity inside", 0.5),
)
"""In which a miss is judged unless the house gives its own: a mild winter night."""

FRAME = Input("frame", "", "what the frame beside it is made of", "timber", read=choice("timber", "steel"))
CIRCUMSTANCES = (*CLIMATE, FRAME)
"""What every miss may be told of the house besides its own inputs."""

R = Input("r", "m²K/W", "label value of the batts")
BASE = Input("base", "m²K/W", "resistance of the ceiling without batts", from_limit="ceiling.base_r")
AREA = Input("area", "m²", "area that is missed")
OUTSIDE_R = Input(
    "outside_r", "m²K/W", "layers outside the batt, with the outside film", layers.VENEER_OUTSIDE
)
INSIDE_R = Input(
    "inside_r", "m²K/W", "layers inside the batt, with the inside film of 0.13", layers.VENEER_INSIDE
)
LAYERS = (OUTSIDE_R, INSIDE_R)

MISSES: dict[str, MissKind] = {}
"""The kinds on offer by name; each stands over its physics."""


def offer(
    name: str,
    what: str,
    *inputs: Input,
    rank: Rank = Rank.HEAT,
    timber_only: bool = False,
    beside_members: bool = False,
) -> Callable[[Callable[..., Loss]], Callable[..., Loss]]:
    """Offer a kind of miss over its physics; see `MissKind`."""

    def keep(run: Callable[..., Loss]) -> Callable[..., Loss]:
        MISSES[name] = MissKind(name, what, inputs, run, rank, timber_only, beside_members)
        return run

    return keep
