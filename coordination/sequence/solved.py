"""The answer of a computation, in plain values: what a plan saves and a preview shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coordination.sequence.calendars import ResolvedCalendar, ResolvedDays
from coordination.sequence.house_network import HouseNetwork


@dataclass(frozen=True)
class SolvedDate:
    """Dates of one activity; fields as in `PlannedDate`, reason as in `reasons`."""

    key: str
    es: int
    ef: int
    ls: int
    lf: int
    start: int
    last: int
    total_float: int | None
    free_float: int | None
    float_to_stake: int | None
    critical: bool
    reason: dict[str, Any]


@dataclass(frozen=True)
class SolvedWindow:
    """Access window of one detail; fields as in `PlannedWindow`."""

    key: str
    opens: int
    due: int
    buried: int
    put_right_until: int
    slack_due: int
    slack_buried: int
    inverted: bool


@dataclass(frozen=True)
class Solved:
    """All dates of a house, computed and not saved.

    Attributes:
        finish: exclusive finish of the house.
        stake_start: first half-day of the stake, or None without one.
        driving_chain, stake_chain: from the first cause to the house's end, to the stake; each link
            ``{"key", "start", "last", "reason"}``.
        warnings: see `reasons.say_warning`.
        days: the calendars that were used; `days.as_stored()` is kept with the plan.
        calendar_names: activity key → name of its calendar in `days`.
    """

    rows: HouseNetwork
    dates: Mapping[str, SolvedDate]
    windows: Mapping[str, SolvedWindow]
    finish: int
    stake_start: int | None
    driving_chain: list[dict[str, Any]]
    stake_chain: list[dict[str, Any]]
    warnings: list[dict[str, Any]]
    days: ResolvedDays
    calendar_names: Mapping[str, str]

    def calendar_of(self, key: str) -> ResolvedCalendar:
        """The working calendar of an activity."""
        return self.days.calendars[self.calendar_names[key]]
