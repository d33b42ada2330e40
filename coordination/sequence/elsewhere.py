"""Where a crew is besides, as plain values: what fits and forecasts have in common, without either."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Elsewhere:
    """A crew, or units of it, taken over ``[first, end)`` by work that the fit does not move.

    `where` names the house; it is empty for another builder's work, of which only the time is known.
    """

    crew: int
    first: int
    end: int
    units: int
    where: str
