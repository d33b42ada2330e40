"""What it costs to leave a detail of a house undone, in the house's own numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric import FabricError
from coordination.fabric.misses import MISSES, cost_miss
from coordination.sequence.conditions import Value
from coordination.sequence.library.entry import Detail
from coordination.sequence.library.limits import inputs_for, number_for

CLIMATE = {"outside": ("winter_outside", 1.0), "humidity": ("winter_humidity", 0.01)}
"""Inputs of every miss that a house may give itself: the feature, and what it is multiplied by."""


def _climate_of(features: Mapping[str, Value]) -> dict[str, float]:
    """The climate in which this house's misses are judged, as far as it gives one."""
    return {
        name: float(value) * factor
        for name, (feature, factor) in CLIMATE.items()
        if isinstance(value := features.get(feature), int | float) and not isinstance(value, bool)
    }


def miss_of(detail: Detail, features: Mapping[str, Value]) -> dict[str, Any]:
    """The cost as plain values that a house can keep: `loss` in W/K, `share`, `temperature` in °C, `mould`.

    Empty where the sequence reckons none, and where the numbers of this house give none: a house without a
    set-back has no perimeter strip that could be left bare. What is wrong with a feature is said by the
    limits and drawings that rest on it; the price of a miss stops nothing.
    """
    if detail.miss is None:
        return {}
    own = {name: number_for(source, features).value for name, source in detail.numbers.items()}
    inputs = {**_climate_of(features), **inputs_for(detail.miss.inputs, {**features, **own})}
    try:
        miss = cost_miss(detail.miss.kind, **inputs)
    except FabricError:
        return {}
    if miss.loss <= 0:
        return {}
    labels = {one.name: (one.meaning, one.unit) for one in MISSES[miss.kind].inputs}
    return {
        "kind": miss.kind,
        "what": MISSES[miss.kind].what,
        "loss": round(miss.loss, 3),
        "share": round(miss.share, 3),
        "temperature": None if miss.temperature is None else round(miss.temperature, 1),
        "mould": miss.mould,
        "assumptions": list(miss.assumptions),
        "inputs": [[*labels[name], value] for name, value in miss.inputs.items() if name in labels],
    }
