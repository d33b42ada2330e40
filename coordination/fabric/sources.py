"""Every limit with its value, unit, source, where it applies and how sure we are.

No limit is a truth of nature: a builder, a certifier or a maker's instruction may overrule each that
is marked so, and the record then names the new source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from coordination.fabric.inputs import FabricError


class Sure(StrEnum):
    """How well a value is known."""

    READ = "published, read"
    MEMORY = "published, from memory"
    PRACTICE = "common practice"
    DERIVED = "derived"


@dataclass(frozen=True)
class Limit:
    """A value that a check or a calculation measures against."""

    key: str
    value: float
    unit: str
    meaning: str
    source: str
    applies: str
    sure: Sure
    overridable: bool = True


LIMITS: dict[str, Limit] = {
    one.key: one
    for one in (
        Limit(
            "airway.least",
            25,
            "mm",
            "clear air between the ceiling batt and the roof's underside",
            "BRANZ Build magazine: 25 mm to a flexible underlay; United Kingdom trussed-rafter guidance asks 50",
            "New Zealand, taken as the default in Australia; your certifier's figure prevails",
            Sure.READ,
        ),
        Limit(
            "batts.waste",
            0.03,
            "share",
            "batts ordered above the net area",
            "common practice of installers",
            "everywhere",
            Sure.PRACTICE,
        ),
    )
}


def find_limit(key: str) -> Limit:
    """The limit of that key, or a refusal that names it."""
    found = LIMITS.get(key)
    if found is None:
        raise FabricError(key, f"is no limit; there are {', '.join(sorted(LIMITS))}")
    return found
