"""The answer: one computed set of dates with the reason of each.

All instants are absolute half-days of the axis (see `workdays`), floats are working half-days of the
activity's own calendar.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from coordination.engine.network import Activity, LongestGap, Network, Relationship
from coordination.engine.workdays import Refused

ReasonKind = Literal["relationship", "not_before", "data_date", "calendar", "crew", "actual"]


@dataclass(frozen=True)
class Reason:
    """Why an activity is where it is.

    Parameters
    ----------
    kind
        ``relationship`` (then `relationship` says which), ``not_before``, ``data_date``; ``calendar`` when it
        could begin at its not-before or the data date (`after` says which) but for days not worked; ``crew``
        when it waits for a busy crew (`crew`); ``actual`` when it has happened.
    waits
        half-days of the axis between the demand and the first working half-day.
    """

    kind: ReasonKind
    relationship: Relationship | None = None
    after: Literal["not_before", "data_date"] | None = None
    crew: str | None = None
    waits: int = 0


def explain_demand(demand: Reason, waits: int) -> Reason:
    """The reason with the half-days not worked before the start; a bare date gives way to the calendar."""
    if not waits:
        return demand
    if demand.kind == "not_before" or demand.kind == "data_date":
        return Reason("calendar", after=demand.kind, waits=waits)
    return Reason(demand.kind, demand.relationship, waits=waits)


@dataclass(frozen=True)
class PlannedActivity:
    """The dates of one activity: early and late start and finish, floats, reason.

    `es`, `ef`, `ls`, `lf` are instants. `first_half_day` and `last_half_day` are what is said to people: the
    first and the last half-day worked; for a milestone both are the next working half-day at or after it.
    `float_to` holds the float to each activity asked for: None when the one does not wait for the other. A
    milestone without successor delays nothing and has no float (None).
    """

    id: str
    house: str | None
    es: int
    ef: int
    ls: int
    lf: int
    total_float: int | None
    free_float: int | None
    critical: bool
    reason: Reason
    first_half_day: int
    last_half_day: int
    float_to: Mapping[str, int | None]


@dataclass(frozen=True)
class Window:
    """When a concealed detail can be seen.

    `opens`: the earliest half-day at which its installing can begin. `due`: the start of its point (without
    point: of the first coverer). `buried`: the start of the first coverer. `slack_due`, `slack_buried`:
    working half-days from the last installer's finish to these. `put_right_until`: the latest start of the
    point at which nothing behind it moves. `inverted`: the order installed, judged, buried does not hold, as
    recorded work can have it.
    """

    id: str
    opens: int
    due: int
    buried: int
    slack_due: int
    slack_buried: int
    put_right_until: int
    inverted: bool


@dataclass(frozen=True)
class GapWarning:
    """A longest gap that the plan exceeds: from `left_at` (a finish) to `taken_up_at` (a start)."""

    gap: LongestGap
    left_at: int
    taken_up_at: int
    half_days: int


@dataclass(frozen=True)
class LateWarning:
    """An activity that misses its own not-after: wanted by, and planned finish (both instants)."""

    activity_id: str
    wanted_by: int
    finish: int


PlanWarning = GapWarning | LateWarning


@dataclass(frozen=True)
class Plan:
    """Dates by activity id, windows by detail id, the finish of all and of each house."""

    network: Network
    data_date: int
    activities: Mapping[str, PlannedActivity]
    details: Mapping[str, Window]
    houses: Mapping[str, int]
    finish: int
    warnings: tuple[PlanWarning, ...]
    order: tuple[str, ...]
    """Ids in topological order."""

    def __getitem__(self, activity_id: str) -> PlannedActivity:
        """The dates of one activity; raises `Refused` when there is none of that id."""
        if activity_id not in self.activities:
            raise Refused(f"unknown activity {activity_id!r}")
        return self.activities[activity_id]

    def driving_links(self, to: str | None = None) -> tuple[Relationship, ...]:
        """The relationships of the `driving_chain`, first cause first."""
        target = self.last_activity() if to is None else to
        return follow_drivers(target, lambda name: self[name].reason, self.network.__getitem__)

    def driving_chain(self, to: str | None = None) -> tuple[str, ...]:
        """Ids from the first cause to an activity (None: the last to finish), along driving relationships.

        With calendars and elapsed lags this is not the set of activities without float: a cure over a weekend
        takes the float away, or gives some, without driving anything.
        """
        target = self.last_activity() if to is None else to
        return (*(link.from_id for link in self.driving_links(target)), target)

    def first_cause(self, to: str | None = None) -> Reason:
        """The reason at the head of the driving chain: the data date, a not-before, a calendar or a fact."""
        links = self.driving_links(to)
        if not links:
            return self[self.last_activity() if to is None else to].reason
        head = links[0]
        if head.type[0] == "S" and self.network[head.from_id].actual_start is not None:
            return Reason("actual")
        return self[head.from_id].reason

    def last_activity(self) -> str:
        """Id of the activity that finishes last; of several, the last in topological order."""
        return max(reversed(self.order), key=lambda name: self.activities[name].ef)


def follow_drivers(
    to: str, reason_of: Callable[[str], Reason], activity_of: Callable[[str], Activity]
) -> tuple[Relationship, ...]:
    """The relationships that drive an activity, from its first cause on, given the reason of each."""
    links: list[Relationship] = []
    reason = reason_of(to)
    while reason.relationship is not None:
        links.append(reason.relationship)
        source = reason.relationship.from_id
        if reason.relationship.type[0] == "S" and activity_of(source).actual_start is not None:
            break  # what counted was a start that has happened: nothing drives it any more
        reason = reason_of(source)
    return tuple(reversed(links))


def find_warnings(network: Network, dates: Mapping[str, PlannedActivity]) -> list[PlanWarning]:
    """Longest gaps exceeded and not-after dates missed, in input order."""
    warnings: list[PlanWarning] = []
    for gap in network.longest_gaps:
        left, taken = dates[gap.from_id].ef, dates[gap.to_id].es
        passed = taken - left if gap.elapsed else network.calendar_of(gap.to_id).count(left, taken)
        if passed > gap.half_days:
            warnings.append(GapWarning(gap, left, taken, passed))
    for activity in network.activities:
        if (
            activity.not_after is not None
            and not activity.finished
            and dates[activity.id].ef > activity.not_after
        ):
            warnings.append(LateWarning(activity.id, activity.not_after, dates[activity.id].ef))
    return warnings
