"""One report of fact about one activity: checked, written to its row and to the diary. See `progress`."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.calendars import calendar_key, read_stored
from coordination.sequence.diary import write_change
from coordination.sequence.house_network import HouseNetwork
from coordination.sequence.models import Activity, House
from coordination.sequence.moves import count_working
from coordination.sequence.replanning import current_plan

LONGEST_REMAINING = 500
"""Half-days; more than a year of work in one activity is a slip of the finger."""


@dataclass(frozen=True)
class Report:
    """What is said of one activity; leave out what is not said.

    Attributes:
        key: the activity.
        started: first half-day worked.
        last: last half-day worked, when it is finished.
        remaining: half-days still to work, when it is under way.
    """

    key: str
    started: int | None = None
    last: int | None = None
    remaining: int | None = None


def apply_report(rows: HouseNetwork, report: Report, now: int, by: Person | None, crew: Crew | None) -> int:
    """Write one report and its line in the diary; returns the instant that the record must reach."""
    activity = rows.by_key.get(report.key)
    if activity is None:
        raise BadInput(report.key, _("This house has no such activity. Choose one of its programme."))
    refuse_hold(activity)
    refuse_foreign_crew(rows, activity, crew)
    if activity.actual_finish is not None:
        raise WrongState(
            _("%(name)s finished %(half_day)s already. Take that back first.")
            % {"name": activity.name, "half_day": clock.say_half_day(activity.actual_finish - 1)}
        )
    facts: dict[str, Any] = {}
    reached = 0
    if report.started is not None:
        reached = _start(activity, report.started, now)
        facts["started"] = report.started
    if report.remaining is not None:
        _leave(activity, report)
        facts["remaining"] = report.remaining
    if report.last is not None:
        reached = _finish(rows, activity, report.last, now)
        facts |= {"started": activity.actual_start, "last": report.last}
    if not facts:
        raise BadInput(activity.name, _("Say when it started or finished, or what is left."))
    early = [] if report.remaining is not None and len(facts) == 1 else find_unfinished_before(rows, activity)
    if early:
        facts["out_of_sequence"] = [one.key for one in early]
    activity.save(update_fields=["actual_start", "actual_finish", "remaining"])
    words = say_report(activity.name, report)
    if early:
        words = _("%(words)s, though not finished: %(names)s") % {
            "words": words,
            "names": ", ".join(one.name for one in early),
        }
    what = "finished" if report.last is not None else "started" if report.started is not None else "remaining"
    write_change(rows.house, what, f"activity:{activity.pk}", words, facts, by, crew)
    # In its turn it does not move the record past the beginning of the present half-day: what is reported
    # during a morning must not push into the afternoon what others do that morning.
    return reached if early else min(reached, now)


def _start(activity: Activity, at: int, now: int) -> int:
    if activity.actual_start is not None:
        raise WrongState(
            _("%(name)s started %(half_day)s already. Take that back first.")
            % {"name": activity.name, "half_day": clock.say_half_day(activity.actual_start)}
        )
    if at > now:
        raise lies_in_future(activity.name, now)
    activity.actual_start = at
    return at


def _leave(activity: Activity, report: Report) -> None:
    if activity.actual_start is None:
        raise WrongState(_("%(name)s has not started. Report its start first.") % {"name": activity.name})
    if report.last is not None:
        raise BadInput(activity.name, _("Finished work has nothing left. Say one of the two."))
    if report.remaining is None or not 1 <= report.remaining <= LONGEST_REMAINING:
        raise BadInput(
            activity.name,
            _("Half-days left are from 1 to %(most)s; report work with nothing left as finished.")
            % {"most": LONGEST_REMAINING},
        )
    activity.remaining = report.remaining


def _finish(rows: HouseNetwork, activity: Activity, last: int, now: int) -> int:
    if last > now:
        raise lies_in_future(activity.name, now)
    if activity.actual_start is None:
        activity.actual_start = min(_planned_start(rows.house, activity), last)
    if last < activity.actual_start:
        raise BadInput(
            activity.name,
            _("Its last half-day, %(last)s, lies before its first, %(first)s. Correct one of the two.")
            % {
                "last": clock.say_half_day(last),
                "first": clock.say_half_day(activity.actual_start),
            },
        )
    activity.actual_finish = last + 1
    activity.remaining = None
    return last + 1


def _planned_start(house: House, activity: Activity) -> int:
    plan = current_plan(house)
    date = plan.dates.filter(activity=activity).first() if plan else None
    return date.start if date else clock.as_half_day(house.starts_on)


def refuse_hold(activity: Activity) -> None:
    """Raise `WrongState` for a hold point, which is released and not reported."""
    if activity.holds:
        raise WrongState(
            _("%(name)s is a hold point: it is released or re-opened, not reported.")
            % {"name": activity.name}
        )


def refuse_foreign_crew(rows: HouseNetwork, activity: Activity, crew: Crew | None) -> None:
    """Raise `NotAllowed` when the crew does not hold the live booking of the activity's visit."""
    if crew is not None and rows.crew_of(activity) != crew:
        raise NotAllowed(_("%(name)s is not work of %(crew)s.") % {"name": activity.name, "crew": crew})


def lies_in_future(where: str, now: int) -> BadInput:
    """The refusal of a half-day that has not come yet."""
    return BadInput(
        where,
        _("That lies in the future. Only what has happened is recorded, at the latest %(half_day)s.")
        % {"half_day": clock.say_half_day(now)},
    )


def find_unfinished_before(rows: HouseNetwork, activity: Activity) -> list[Activity]:
    """Finish-to-start predecessors that are not finished."""
    links = [one for one in rows.relationships if one.successor_id == activity.pk and one.kind == "FS"]
    before = [rows.by_id[link.predecessor_id] for link in links]
    return [one for one in before if one.actual_finish is None]


def say_report(name: str, report: Report) -> str:
    """'Wall wrap finished Tue 14 Apr, morning'."""
    if report.last is not None:
        return _("%(name)s finished %(half_day)s") % {
            "name": name,
            "half_day": clock.say_half_day(report.last),
        }
    if report.started is not None:
        return _("%(name)s started %(half_day)s") % {
            "name": name,
            "half_day": clock.say_half_day(report.started),
        }
    return _("%(name)s needs %(length)s more") % {
        "name": name,
        "length": clock.say_length(report.remaining or 0),
    }


def leave_remaining(rows: HouseNetwork, up_to: int) -> dict[int, int]:
    """Activity id → half-days left by then, of work under way whose remainder was stated.

    It is taken to have gone on as stated: what was worked since is taken off, at least one half-day stays.
    Without a stated remainder the plan does the same.
    """
    house = rows.house
    stated = [one for one in rows.activities if one.remaining is not None and one.actual_finish is None]
    plan = current_plan(house) if stated else None
    calendars = read_stored(plan.calendars) if plan else {}
    left = {}
    for activity in stated:
        crew = rows.crew_of(activity)
        calendar_id = crew.calendar_id if crew else house.calendar_id
        calendar = calendars.get(calendar_key(calendar_id, outdoor=activity.outdoor))
        if calendar is not None and activity.remaining is not None:
            worked = count_working(calendar, house.recorded_up_to, up_to)
            left[activity.pk] = max(1, activity.remaining - worked)
    return left


def move_record(rows: HouseNetwork, up_to: int, reported: set[str]) -> None:
    """Move the half-day up to which work is recorded, never back; see `leave_remaining`."""
    house = rows.house
    if up_to <= house.recorded_up_to:
        return
    for pk, remaining in leave_remaining(rows, up_to).items():
        activity = rows.by_id[pk]
        if activity.key not in reported:
            activity.remaining = remaining
            activity.save(update_fields=["remaining"])
    house.recorded_up_to = up_to
    house.save(update_fields=["recorded_up_to"])


def imagine_recorded(rows: HouseNetwork, up_to: int) -> HouseNetwork:
    """The rows as they would be if nothing were new up to then; saves nothing, `rows` stay as they are."""
    if up_to <= rows.house.recorded_up_to:
        return rows
    left = leave_remaining(rows, up_to)
    house = copy.copy(rows.house)
    house.recorded_up_to = up_to
    activities = []
    for one in rows.activities:
        if one.pk in left:
            one = copy.copy(one)
            one.remaining = left[one.pk]
        activities.append(one)
    return replace(rows, house=house, activities=tuple(activities))
