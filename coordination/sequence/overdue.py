"""When the dates of a plan are too old to be real: work that it has for days gone by and nobody reported."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coordination import clock
from coordination.sequence.models import Activity, House, PlannedDate

GRACE = 4
"""Weekday half-days within which work is usually reported: two days."""


def oldest_real(now: int) -> int:
    """The half-day before which dates of unreported work are too old to be real."""
    half_day, left = now, GRACE
    while left:
        half_day -= 1
        left -= clock.as_date(half_day)[0].weekday() < 5
    return half_day


def is_overdue(activity: Activity, date: PlannedDate | None, oldest: int) -> bool:
    """Whether work ought to have begun or ended by its plan before `oldest`, and nobody said so."""
    if date is None or activity.actual_finish is not None:
        return False
    return (date.start if activity.actual_start is None else date.last) < oldest


def find_unreported(
    house: House, activities: Iterable[Activity], dates: Mapping[int, PlannedDate], now: int
) -> int | None:
    """The half-day since when nothing is recorded, where work is overdue since; None: its dates are real.

    Args:
        activities, dates: of its latest plan, as they are read already.
        now: the present half-day of its builder.
    """
    oldest = oldest_real(now)
    if house.finished_at is not None or house.recorded_up_to >= oldest:
        return None
    overdue = any(is_overdue(one, dates.get(one.pk), oldest) for one in activities)
    return house.recorded_up_to if overdue else None
