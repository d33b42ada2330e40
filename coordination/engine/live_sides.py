"""The two sides of a comparison within a live plan: dates and facts before and after a change."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from coordination.engine.changes import CauseKind
from coordination.engine.cone_kernels import BY_DATA_DATE, BY_FACT, BY_NOT_BEFORE
from coordination.engine.network import Activity, Network, Relationship
from coordination.engine.plan import Reason, explain_demand, follow_drivers
from coordination.engine.workdays import WorkingCalendar

Whole = NDArray[np.int32]

_KINDS = {
    BY_DATA_DATE: Reason("data_date"),
    BY_NOT_BEFORE: Reason("not_before"),
    BY_FACT: Reason("actual"),
}


@dataclass(frozen=True, slots=True)
class LiveDates:
    """The dates and floats of one activity as they stand; see `plan.PlannedActivity`."""

    es: int
    ef: int
    ls: int
    lf: int
    total_float: int | None
    free_float: int | None
    reason: Reason


@dataclass(frozen=True)
class SidePlaced:
    """The early dates of an activity on one side, and why they are so."""

    es: int
    ef: int
    reason: Reason


@dataclass(frozen=True)
class _Facts:
    """The input on one side."""

    side: LiveSide
    relationships: Collection[Relationship]

    def __getitem__(self, activity_id: str) -> Activity:
        return self.side.activity(activity_id)

    def calendar_of(self, activity_id: str) -> WorkingCalendar:
        return self.side.calendars[self.side.activity(activity_id).calendar]


@dataclass(frozen=True)
class LiveSide:
    """One side: rows of dates by place, and the facts, with `overlaid` ones in place of those that stand."""

    base: Network
    place: Mapping[str, int]
    standing: Sequence[Activity]
    calendars: Mapping[str, WorkingCalendar]
    data_date: int
    block: Whole
    rows: NDArray[np.int64]
    overlaid: Mapping[int, Activity] = field(default_factory=dict)

    @property
    def network(self) -> _Facts:
        """The input, asked by id."""
        return _Facts(self, self.base.relationships)

    @property
    def activities(self) -> Collection[str]:
        """All ids."""
        return self.place.keys()

    def activity(self, activity_id: str) -> Activity:
        """The facts of an activity on this side."""
        p = self.place[activity_id]
        return self.overlaid.get(p, self.standing[p])

    def __getitem__(self, activity_id: str) -> SidePlaced:
        """Dates and reason of an activity on this side."""
        p, actual = self.place[activity_id], self.activity(activity_id).actual_start
        start = int(self.block[0, p]) if actual is None else actual
        return SidePlaced(start, int(self.block[1, p]), self.reason_of(activity_id))

    def reason_of(self, activity_id: str) -> Reason:
        """Why an activity is where it is."""
        driver, waits = self.block[6:, self.place[activity_id]].tolist()
        if driver < 0:
            return explain_demand(_KINDS[driver], waits)
        return explain_demand(Reason("relationship", self.base.relationships[self.rows[driver]]), waits)

    def driving_links(self, to: str) -> tuple[Relationship, ...]:
        """The relationships that drive an activity, first cause first."""
        return follow_drivers(to, self.reason_of, self.activity)


def name_only_change(was: Activity, now: Activity) -> CauseKind | None:
    """Which one input of an activity differs; None when several do, or none that moves early dates."""
    differs: dict[CauseKind, bool] = {
        "progress": (was.actual_start, was.actual_finish, was.remaining)
        != (now.actual_start, now.actual_finish, now.remaining),
        "duration": was.duration != now.duration,
        "not_before": was.not_before != now.not_before,
        "calendar": was.calendar != now.calendar,
    }
    kinds = [kind for kind, is_so in differs.items() if is_so]
    return kinds[0] if len(kinds) == 1 else None
