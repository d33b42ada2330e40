"""What it costs to leave a detail of a house undone, in the house's own numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric import FabricError, find_limit
from coordination.fabric.misses import MISSES, Miss, Rank, cost_miss
from coordination.sequence.conditions import Value
from coordination.sequence.library.entry import Detail
from coordination.sequence.library.limits import inputs_for, with_own
from coordination.sequence.library.refusals import FeatureErrors

CLIMATE = {"outside": ("winter_outside", 1.0), "humidity": ("winter_humidity", 0.01)}
"""Inputs of every miss that a house may give itself: the feature, and what it is multiplied by."""
WINTER_BY, BY_ZONE = "winter_by", "climate zone"
"""The feature that says whose winter it is, and its word for that of the zone instead of the house's own."""
WARMEST_WINTER = 18.0
"""In °C. Where the coldest month is as warm as the rooms, nothing is heated and no surface gets cold."""
FRAME, STEEL = "frame_material", "steel"
"""The feature that says what the frame is made of, and its word for one that bridges what it touches."""


def _circumstances_of(features: Mapping[str, Value]) -> dict[str, object]:
    """Climate and frame in which this house's misses are judged, as far as it gives them."""
    said: dict[str, object] = {
        name: float(value) * factor
        for name, (feature, factor) in CLIMATE.items()
        if isinstance(value := features.get(feature), int | float) and not isinstance(value, bool)
    }
    if features.get(WINTER_BY) == BY_ZONE:
        coldest = find_limit(f"winter.zone_{features.get('climate_zone')}").value
        said["outside"] = min(coldest, WARMEST_WINTER)
    return {**said, "frame": STEEL} if features.get(FRAME) == STEEL else said


def miss_of(detail: Detail, features: Mapping[str, Value]) -> dict[str, Any]:
    """The cost as plain values that a house can keep.

    `rank` and `loss` in W/K order it; `share`, `temperature` in °C and `mould` are None where they are not
    claimed. Empty where the sequence reckons none, and where the numbers of this house give none: a house
    without a set-back has no perimeter strip that could be left bare. What is wrong with a feature is said
    by the limits and drawings that rest on it; the price of a miss stops nothing.
    """
    try:
        return keep_miss(cost_of(detail, features))
    except (FabricError, FeatureErrors):
        return {}


def cost_of(detail: Detail, features: Mapping[str, Value]) -> Miss | None:
    """The miss of a detail on a house with `features`; None where its row reckons none.

    Raises FabricError or FeatureErrors naming the input or the feature from which none can be reckoned.
    """
    if detail.miss is None:
        return None
    own = inputs_for(detail.miss.inputs, with_own(detail.numbers, features))
    return cost_miss(detail.miss.kind, **{**_circumstances_of(features), **own})


def keep_miss(miss: Miss | None) -> dict[str, Any]:
    """A miss as the plain values of `miss_of`; empty for none, and where nothing is lost."""
    if miss is None or (miss.rank is Rank.HEAT and miss.loss <= 0):
        return {}
    kind = MISSES[miss.kind]
    return {
        "kind": miss.kind,
        "what": kind.what,
        "rank": str(miss.rank),
        "loss": round(miss.loss, 3),
        "share": None if miss.share is None else round(miss.share, 3),
        "temperature": None if miss.temperature is None else round(miss.temperature, 1),
        "mould": miss.mould,
        "between_steel": miss.between_steel,
        "climate": miss.climate,
        "assumptions": list(miss.assumptions),
        "inputs": [[one.meaning, one.unit, miss.inputs[one.name]] for one in kind.inputs],
    }
