"""The price of a miss in a house: its loss, judged in the house's winter, with its rank."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coordination.fabric import surface
from coordination.fabric.inputs import FabricError, show
from coordination.fabric.misses.kinds import MISSES, Loss, MissKind, Rank
from coordination.fabric.sources import find_limit

BETWEEN_STEEL = (
    "midway between members of steel, which are left out: beside them it is colder, and the whole loses "
    "more; ISO 6946 has no plain method for insulation bridged by metal"
)


@dataclass(frozen=True)
class Miss:
    """The price of leaving a detail undone: `loss` in W/K, `share` of the element's R that is gone.

    A `loss` of 0 and a `share` of None: none can be reckoned, and `rank` alone orders it. `frsi`,
    `temperature` and `mould` are None where no cold spot is claimed; `mould` is None, too, where steel
    beside the path makes the surface colder than it is reckoned here, unless it is too cold already.
    `frsi_least` is the limit that practice sets beside them (BRE IP 1/06), a default that may be overruled.
    """

    kind: str
    rank: Rank
    inputs: dict[str, Any]
    loss: float
    share: float | None
    frsi: float | None
    frsi_least: float
    temperature: float | None
    lowest_safe: float
    mould: bool | None
    between_steel: bool
    climate: dict[str, float]
    assumptions: tuple[str, ...]


def cost_miss(kind: str, **numbers: object) -> Miss:
    """The price of a miss of `kind` (see `MISSES`) for this house's `numbers`.

    Takes besides the kind's own inputs `inside`, `outside` (°C), `humidity` and `frame` ('timber' or
    'steel'). What is unknown, missing or impossible is refused by name (FabricError), and so is a kind
    that reckons with timber in a frame of steel.
    """
    found = MISSES.get(kind)
    if found is None:
        raise FabricError("kind", f"'{kind}' is unknown; there are {', '.join(MISSES)}")
    for name in numbers:
        if name not in found.takes:
            raise FabricError(name, f"is no input of {kind}; it takes {', '.join(found.takes)}")
    values = {name: one.value_of(numbers) for name, one in found.takes.items()}
    if found.timber_only and values["frame"] == "steel":
        raise FabricError("frame", f"'{kind}' reckons with members of timber; take metal_bridge for steel")
    loss = found.run(**{one.name: values[one.name] for one in found.inputs})
    return _judge(found, values, loss)


def _judge(found: MissKind, values: Mapping[str, Any], loss: Loss) -> Miss:
    """Look at a loss in its climate: how cold the surface gets and whether mould can grow on it."""
    inside, outside, humidity = values["inside"], values["outside"], values["humidity"]
    surface.require_warmer_inside(inside, outside)
    lowest = surface.lowest_safe_temperature(inside, humidity)
    per_cent = round(100 * surface.read_humidity("humidity", humidity), 6)
    factor = temperature = mould = None
    told = list(loss.assumptions)
    between_steel = found.beside_members and values["frame"] == "steel"
    if between_steel:
        told.append(BETWEEN_STEEL)
    if loss.worst_r is not None:
        factor = surface.surface_factor(1 / loss.worst_r, loss.film)
        temperature = outside + factor * (inside - outside)
        mould = True if temperature < lowest else None if between_steel else False
        told.append(
            f"{show(inside)} °C inside, {show(outside)} °C outside, {show(per_cent)} % "
            "humidity; surface on the mould film of 0.25"
        )
    return Miss(
        kind=found.name,
        rank=Rank.DAMP if found.rank is Rank.HEAT and mould else found.rank,
        inputs=dict(values),
        loss=loss.watts,
        share=loss.share,
        frsi=factor,
        frsi_least=find_limit("frsi.least").value,
        temperature=temperature,
        lowest_safe=lowest,
        mould=mould,
        between_steel=between_steel,
        climate={"inside": inside, "outside": outside, "humidity": per_cent},
        assumptions=tuple(told),
    )
