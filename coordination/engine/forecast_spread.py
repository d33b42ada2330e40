"""What the draws of a forecast came to: exact counts by half-day, and the choices a forecast is made with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coordination.engine.workdays import Refused


@dataclass(frozen=True)
class SharedFactors:
    """How much of the spread works have in common (0 to 1 each, together at most 1).

    `crew`: of the durations and the lateness of one crew, at whatever house. `weather`: of the durations of
    works in one region (`Activity.region`). They are squared weights of normal deviates behind the ranges, so
    that the ranges themselves stay as given. No published figure is known for house building: the defaults
    are an assumption.
    """

    crew: float = 0.2
    weather: float = 0.3

    def __post_init__(self) -> None:
        for name in ("crew", "weather"):
            value = getattr(self, name)
            if type(value) not in (int, float) or not 0 <= value <= 1:
                raise Refused(f"the shared part {name!r} must be a number from 0 to 1, not {value!r}")
        if self.crew + self.weather > 1:
            raise Refused("the shared parts of crew and weather are together more than 1: lower one of them")


@dataclass(frozen=True)
class Spread:
    """How many draws fell on each instant from `first` on.

    Dates are whole half-days, so that these counts, and every percentile read from them, are exact for the
    draws: nothing is interpolated.
    """

    first: int
    counts: tuple[int, ...]

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return sum(self.counts)

    def at(self, confidence: float) -> int:
        """The earliest instant by which at least this share of the draws is through.

        >>> Spread(10, (2, 5, 3)).at(0.8)
        12
        """
        if not 0 < confidence <= 1:
            raise Refused(f"a confidence must lie above 0 and not above 1, not {confidence!r}")
        needed, through = math.ceil(confidence * self.draws - 1e-9), 0
        for step, count in enumerate(self.counts):
            through += count
            if through >= needed:
                return self.first + step
        return self.first + len(self.counts) - 1

    def share_by(self, instant: int) -> float:
        """The share of draws that are through at an instant.

        >>> Spread(10, (2, 5, 3)).share_by(11)
        0.7
        """
        return sum(self.counts[: max(0, instant - self.first + 1)]) / self.draws

    @classmethod
    def of(cls, instants: Sequence[int]) -> Spread:
        """The spread of plain instants.

        >>> Spread.of([3, 5, 3])
        Spread(first=3, counts=(2, 0, 1))
        """
        if not instants:
            raise Refused("a spread needs at least one draw")
        first = min(instants)
        counts = [0] * (max(instants) - first + 1)
        for instant in instants:
            counts[instant - first] += 1
        return cls(first, tuple(counts))
