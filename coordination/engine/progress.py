"""What recorded progress leaves of an activity and of a relationship."""

from __future__ import annotations

from coordination.engine.network import Activity, Relationship
from coordination.engine.workdays import Refused, WorkingCalendar, write_half_day


def count_work_left(activity: Activity, calendar: WorkingCalendar, data_date: int) -> int:
    """Working half-days still to place: the duration, or what remains of work under way."""
    if activity.actual_start is None or activity.finished:
        return activity.duration
    if activity.remaining is not None:
        return activity.remaining
    return max(1, activity.duration - calendar.count(activity.actual_start, data_date))


def still_holds(link: Relationship, source: Activity, target: Activity) -> bool:
    """Whether a relationship still asks anything of its successor.

    Nothing holds what has finished. Work under way is no longer held by what only its start had to wait for
    (SS), nor by predecessors that have finished.
    """
    if target.under_way:
        return not source.finished and link.type != "SS"
    return not target.finished


def earliest_instant(activity: Activity, data_date: int) -> int:
    """The instant before which nothing of it happens; of finished work, its finish."""
    if activity.actual_finish is not None:
        return activity.actual_finish
    if activity.not_before is None or activity.under_way:
        return data_date
    return max(data_date, activity.not_before)


def refuse_future_facts(activity: Activity, data_date: int) -> None:
    """Raise `Refused` for actual dates after the data date."""
    for name, instant in (("actual_start", activity.actual_start), ("actual_finish", activity.actual_finish)):
        if instant is not None and instant > data_date:
            raise Refused(
                f"activity {activity.id!r}: '{name}' lies after the data date ({write_half_day(data_date)}); "
                "only what has happened can be recorded: correct it, or move the data date"
            )
