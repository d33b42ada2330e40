"""Changes of a plan that is kept up to date: what happened, as new facts of activities and calendars."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from coordination.engine.changes import PlanDifference, compare_plans
from coordination.engine.critical_path import compute_dates
from coordination.engine.network import RESERVED_NAMES, Activity, Network
from coordination.engine.plan import Plan
from coordination.engine.workdays import Refused, WorkingCalendar


@dataclass(frozen=True)
class Change:
    """New facts: activities (of known ids, in their houses), calendars by name, the data date if it moves."""

    activities: tuple[Activity, ...] = ()
    calendars: Mapping[str, WorkingCalendar] = field(default_factory=dict)
    data_date: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "activities", tuple(self.activities))
        names = [activity.id for activity in self.activities]
        for name in names:
            if names.count(name) > 1:
                raise Refused(f"activity {name!r} is changed twice at once: give one change of it")
        for name in self.calendars:
            if name in RESERVED_NAMES:
                raise Refused(f"the calendar {name!r} always is as it is: change another")


def apply_change(network: Network, change: Change) -> Network:
    """The network with the facts of a change in place of its own.

    Raises `Refused` for an unknown activity or calendar.
    """
    changed = {activity.id: activity for activity in change.activities}
    for name in changed:
        network[name]  # refuses an unknown one
    for name in change.calendars:
        if name not in network.calendars:
            raise Refused(f"unknown calendar {name!r}: correct the name")
    return replace(
        network,
        activities=tuple(changed.get(activity.id, activity) for activity in network.activities),
        calendars={**network.calendars, **change.calendars},
    )


def replan_house(plan: Plan, change: Change) -> tuple[Plan, PlanDifference]:
    """The plan after a change, and what moved: for a plan of one house, computed anew as a whole.

    For many houses at once see `live_plan.LivePlan`. Raises `Refused` as `compute_dates` does.
    """
    data_date = plan.data_date if change.data_date is None else change.data_date
    after = compute_dates(apply_change(plan.network, change), data_date=data_date)
    return after, compare_plans(plan, after)


def slip(activity: Activity, half_days: int) -> Change:
    """The work takes so many half-days longer (shorter if negative); of work under way, what remains of it.

    Raises `Refused` for finished work and when less than nothing would be left.
    """
    if type(half_days) is not int:
        raise Refused(
            f"activity {activity.id!r}: a slip must be a whole number of half-days, not {half_days!r}"
        )
    if activity.finished:
        raise Refused(f"activity {activity.id!r} is finished and cannot slip: re-open it first")
    if activity.remaining is not None:
        left = activity.remaining + half_days
        changed = replace(activity, remaining=max(left, 0))
    else:
        left = activity.duration + half_days
        changed = replace(activity, duration=max(left, 0))
    if left < 0:
        raise Refused(f"activity {activity.id!r} has fewer than {-half_days} half-days to give back")
    return Change((changed,))


def record(
    activity: Activity,
    *,
    actual_start: int | None,
    actual_finish: int | None = None,
    remaining: int | None = None,
    data_date: int | None = None,
) -> Change:
    """What really happened to an activity; None for all takes the record back."""
    changed = replace(activity, actual_start=actual_start, actual_finish=actual_finish, remaining=remaining)
    return Change((changed,), data_date=data_date)


def rain(calendars: Mapping[str, WorkingCalendar], half_days: Collection[int]) -> Change:
    """Half-days that are not worked after all in the calendars given (those of outdoor work in a region)."""
    if not calendars or not half_days:
        raise Refused("rain needs at least one calendar and one half-day: name them")
    lost = frozenset(half_days)
    return Change(
        calendars={
            name: replace(calendar, off=frozenset(calendar.off) | lost, on=frozenset(calendar.on) - lost)
            for name, calendar in calendars.items()
        }
    )


def reopen(activity: Activity, half_days: int | None = None) -> Change:
    """A point that was through is not: it is to be done again, with its duration or so many half-days.

    Raises `Refused` for one that has not been begun.
    """
    if activity.actual_start is None:
        raise Refused(f"activity {activity.id!r} has not been through: there is nothing to re-open")
    duration = activity.duration if half_days is None else half_days
    return Change(
        (replace(activity, actual_start=None, actual_finish=None, remaining=None, duration=duration),)
    )
