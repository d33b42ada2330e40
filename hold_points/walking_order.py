"""The order of a walk: five minutes outside, then the rooms, then up, the garage last.

Within a room: walls, wet walls, ceiling, window perimeter. Checks of the whole house come first.
Common practice of supervisors; a house's own order of places prevails within each leg.
"""

from __future__ import annotations

from collections.abc import Iterable

from coordination.sequence.models import Place

OUTSIDE_WORDS = ("outside", "external", "elevation", "eave", "roof", "facade", "yard")
UP_WORDS = ("ceiling", "roof space", "attic", "hatch")

SURFACES: tuple[tuple[str, ...], ...] = (
    ("window", "door perimeter"),
    (
        "ceiling",
        "chord",
        "cap",
        "duct",
        "eave",
        "perimeter batt",
        "platform",
        "bulkhead",
        "vertical",
        "fitting",
        "airway",
        "ridge",
        "floor zone",
    ),
    ("wet",),
)
"""Words of a detail by the surface it lies on, from the last of a room to the second; the rest is walls."""

SURFACE_STEP, PLACE_STEP = 1_000, 10_000


def rank_places(places: Iterable[Place]) -> dict[int, int]:
    """Rank of each place in the walk, from 1."""
    ordered = sorted(places, key=lambda place: (_leg(place), place.order, place.key))
    return {place.pk: rank for rank, place in enumerate(ordered, start=1)}


def _leg(place: Place) -> int:
    words = f"{place.kind} {place.zone}".lower().replace("_", " ").replace("-", " ")
    if "garage" in words:
        return 4
    if any(word in words for word in UP_WORDS):
        return 3
    if any(word in words for word in OUTSIDE_WORDS):
        return 0
    return 2 if "upper" in words else 1


def rank_surface(words: str) -> int:
    """0 walls, 1 wet walls, 2 ceiling, 3 window perimeter, by the words of a detail or check."""
    text = words.lower()
    for number, known in enumerate(SURFACES):
        if any(word in text for word in known):
            return len(SURFACES) - number
    return 0


def order_of(place_rank: int, words: str, row: int) -> int:
    """Position of a check in its walk; `row` is its place in the sequence's file."""
    return place_rank * PLACE_STEP + rank_surface(words) * SURFACE_STEP + min(row, SURFACE_STEP - 1)
