"""Reports of fact: what started, what finished, what is left, what was delayed; and points passed.

A fact is taken as it is, also out of sequence (then the diary says so); nonsense is refused by name: the
future, a finish before its start, something done twice, a hold point 'reported' that can only be released.
Each report is one transaction: the fact, its line in the diary, how far work is recorded, the new plan.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.diary import write_change
from coordination.sequence.going_past import find_held, note_gone_past, restore_booking
from coordination.sequence.house_network import read_house_network
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Delay, House, Plan, Visit
from coordination.sequence.replanning import replan
from coordination.sequence.reports import (
    LONGEST_REMAINING,
    Report,
    apply_report,
    find_unfinished_before,
    lies_in_future,
    move_record,
    refuse_foreign_crew,
    refuse_hold,
    say_report,
)

__all__ = [
    "Report",
    "add_delay",
    "point_passed",
    "point_reopened",
    "record_progress",
    "record_up_to",
    "report_finished",
    "report_remaining",
    "report_started",
    "take_back",
    "visit_done",
    "visit_started",
]


@transaction.atomic
def record_progress(
    house: House,
    reports: Sequence[Report],
    *,
    by: Person | None = None,
    crew: Crew | None = None,
    up_to: int | None = None,
    gone_past: bool = True,
) -> Plan:
    """Record several facts of one house at once and re-plan once.

    Work behind an open hold point went past it: its booking says so, it is put on record and told.

    Args:
        reports: each names its activity; the order does not matter.
        by, crew: who says so. A crew may report the activities of its own visits only.
        up_to: half-day up to which work is now recorded; None: the current one of the builder. What is not
            reported as started is planned after it, so report together what was done together.
        gone_past: False only where that was looked at already, or where a past is laid down whose releases
            are still to be entered.

    Raises:
        BadInput: an unknown activity, a half-day in the future, a finish before its start.
        WrongState: an activity that has that fact already; a hold point.
        NotAllowed: a crew that reports another's work.
    """
    house = lock_house(house.pk)
    rows = read_house_network(house)
    now = clock.current_half_day(house.builder.time_zone)
    if up_to is not None and up_to > now:
        raise lies_in_future(_("work recorded up to"), now)
    if not reports:
        raise BadInput(_("report"), _("It names no activity. Say what started or finished."))
    held = find_held(house, reports, rows.by_key) if gone_past else []
    instants = [apply_report(rows, report, now, by, crew) for report in reports]
    move_record(rows, max([now if up_to is None else up_to, *instants]), {one.key for one in reports})
    note_gone_past(held, by, crew)
    names = [rows.by_key[report.key].name for report in reports]
    cause = (
        say_report(names[0], reports[0])
        if len(reports) == 1
        else _("%(count)s activities reported") % {"count": len(reports)}
    )
    return replan(house, cause=cause, by=by, crew=crew)


def report_started(
    activity: Activity,
    at_half_day: int,
    *,
    by: Person | None = None,
    crew: Crew | None = None,
    up_to: int | None = None,
) -> Plan:
    """An activity has started, `at_half_day` being the first half-day worked. Errors as `record_progress`."""
    report = Report(activity.key, started=at_half_day)
    return record_progress(activity.house, [report], by=by, crew=crew, up_to=up_to)


def report_finished(
    activity: Activity,
    last_half_day: int,
    *,
    started: int | None = None,
    by: Person | None = None,
    crew: Crew | None = None,
    up_to: int | None = None,
) -> Plan:
    """An activity is finished, `last_half_day` being the last one worked. Errors as `record_progress`.

    When no start was reported, before or here, it is taken to have started as planned.
    """
    report = Report(activity.key, started=started, last=last_half_day)
    return record_progress(activity.house, [report], by=by, crew=crew, up_to=up_to)


def report_remaining(
    activity: Activity,
    half_days: int,
    *,
    by: Person | None = None,
    crew: Crew | None = None,
    up_to: int | None = None,
) -> Plan:
    """An activity under way needs that many half-days more. Errors as `record_progress`."""
    report = Report(activity.key, remaining=half_days)
    return record_progress(activity.house, [report], by=by, crew=crew, up_to=up_to)


def visit_started(
    visit: Visit,
    at_half_day: int,
    *,
    by: Person | None = None,
    crew: Crew | None = None,
    up_to: int | None = None,
) -> Plan | None:
    """The crew has begun its visit: the visit's first activity has started, unless it had. Errors as above.

    Whoever takes the crew's word (`answers`) looks at the hold points before the visit; it is not done here.
    Returns None when that was known already.
    """
    first = visit.activities.order_by("order", "pk").first()
    if first is None or first.actual_start is not None:
        return None
    report = Report(first.key, started=at_half_day)
    return record_progress(visit.house, [report], by=by, crew=crew, up_to=up_to, gone_past=False)


def visit_done(
    visit: Visit,
    last_half_day: int,
    *,
    by: Person | None = None,
    crew: Crew | None = None,
    up_to: int | None = None,
) -> Plan | None:
    """The crew has done its visit: all its activities are finished that were not. Errors as above.

    Returns None when all of them were finished already.
    """
    open_ones = visit.activities.filter(actual_finish__isnull=True).order_by("order", "pk")
    reports = [Report(one.key, last=last_half_day) for one in open_ones]
    if not reports:
        return None
    return record_progress(visit.house, reports, by=by, crew=crew, up_to=up_to, gone_past=False)


@transaction.atomic
def record_up_to(house: House, half_day: int, *, by: Person | None = None) -> Plan:
    """Everything that was done before this half-day is recorded; what has not started is planned after it.

    Raises:
        BadInput: in the builder's future, or earlier than what is recorded already.
    """
    house = lock_house(house.pk)
    now = clock.current_half_day(house.builder.time_zone)
    if half_day > now:
        raise lies_in_future(_("work recorded up to"), now)
    if half_day < house.recorded_up_to:
        raise BadInput(
            _("work recorded up to"),
            _("Work is recorded up to %(half_day)s already. Take back a report that is wrong instead.")
            % {"half_day": clock.say_half_day(house.recorded_up_to)},
        )
    move_record(read_house_network(house), half_day, set())
    words = _("work is recorded up to %(half_day)s") % {"half_day": clock.say_half_day(half_day)}
    write_change(house, "recorded", "", words, {"up_to": half_day}, by, None)
    return replan(house, cause=words, by=by)


@transaction.atomic
def add_delay(activity: Activity, half_days: int, why: str, by: Person | None) -> Plan:
    """Half-days more (or, negative, fewer) for an activity that is not finished; a row with its reason.

    Raises:
        BadInput: no half-days, no reason, or fewer than the work has.
        WrongState: the activity is finished.
    """
    house = lock_house(activity.house_id)
    rows = read_house_network(house)
    activity = rows.by_id[activity.pk]
    why = why.strip()
    if half_days == 0 or abs(half_days) > LONGEST_REMAINING:
        raise BadInput(
            _("delay of %(name)s") % {"name": activity.name},
            _("Give half-days from 1 to %(most)s, or negative ones to take a delay back.")
            % {"most": LONGEST_REMAINING},
        )
    if not why:
        raise BadInput(_("delay of %(name)s") % {"name": activity.name}, _("Say why, in a few words."))
    if activity.actual_finish is not None:
        raise WrongState(_("%(name)s is finished. Nothing can delay it.") % {"name": activity.name})
    if activity.half_days + rows.delays.get(activity.pk, 0) + half_days < 0:
        raise BadInput(
            _("delay of %(name)s") % {"name": activity.name},
            _("That takes off more half-days than the work has: %(length)s.")
            % {"length": clock.say_length(rows.half_days_of(activity))},
        )
    Delay.objects.create(activity=activity, half_days=half_days, why=why[:200], by=by, at=clock.now())
    if activity.remaining is not None:
        # What is left was stated by someone on site; the delay comes on top of it.
        Activity.objects.filter(pk=activity.pk).update(remaining=max(1, activity.remaining + half_days))
    length = clock.say_length(half_days)
    words = (
        _("%(name)s takes %(length)s longer: %(why)s")
        if half_days > 0
        else _("%(name)s takes %(length)s less: %(why)s")
    ) % {"name": activity.name, "length": length, "why": why}
    write_change(
        house, "delay", f"activity:{activity.pk}", words, {"half_days": half_days, "why": why}, by, None
    )
    return replan(house, cause=words, by=by)


@transaction.atomic
def take_back(activity: Activity, why: str, *, by: Person | None = None, crew: Crew | None = None) -> Plan:
    """Take back the latest report of an activity: its finish, else its start. The diary keeps both.

    Raises:
        WrongState: nothing was reported, or it is a hold point (re-open that instead).
        BadInput: no reason.
    """
    house = lock_house(activity.house_id)
    rows = read_house_network(house)
    activity = rows.by_id[activity.pk]
    if not why.strip():
        raise BadInput(_("take back"), _("Say why, in a few words."))
    refuse_hold(activity)
    refuse_foreign_crew(rows, activity, crew)
    facts = {"start": activity.actual_start, "finish": activity.actual_finish}
    if activity.actual_finish is not None:
        activity.actual_finish = None
        words = _("%(name)s is not finished after all: %(why)s")
    elif activity.actual_start is not None:
        activity.actual_start = activity.remaining = None
        words = _("%(name)s has not started after all: %(why)s")
    else:
        raise WrongState(
            _("Nothing was reported for %(name)s, so nothing can be taken back.") % {"name": activity.name}
        )
    activity.save(update_fields=["actual_start", "actual_finish", "remaining"])
    words %= {"name": activity.name, "why": why.strip()}
    write_change(house, "taken back", f"activity:{activity.pk}", words, facts, by, crew)
    if crew is None:
        restore_booking(activity, words, by)
    return replan(house, cause=words, by=by, crew=crew)


@transaction.atomic
def point_passed(point: Activity, at_half_day: int, *, by: Person | None = None) -> Plan:
    """A point was passed in this half-day: what waits for it may follow. For whoever releases points.

    Raises:
        WrongState: no point, or passed already.
        BadInput: in the builder's future.
    """
    house = lock_house(point.house_id)
    rows = read_house_network(house)
    point = rows.by_id[point.pk]
    now = clock.current_half_day(house.builder.time_zone)
    if not point.is_point:
        raise WrongState(_("%(name)s is no point. Report it as finished.") % {"name": point.name})
    if point.actual_finish is not None:
        raise WrongState(_("%(name)s was passed already.") % {"name": point.name})
    if at_half_day > now:
        raise lies_in_future(point.name, now)
    point.actual_start = at_half_day
    point.actual_finish = at_half_day + (1 if point.half_days else 0)
    point.save(update_fields=["actual_start", "actual_finish"])
    # Signed in its turn it moves nobody: the record reaches the beginning of that half-day only.
    early = find_unfinished_before(rows, point)
    move_record(rows, point.actual_finish if early else at_half_day, set())
    words = _("%(name)s passed %(half_day)s") % {
        "name": point.name,
        "half_day": clock.say_half_day(at_half_day),
    }
    write_change(house, "point passed", f"activity:{point.pk}", words, {"at": at_half_day}, by, None)
    return replan(house, cause=words, by=by)


@transaction.atomic
def point_reopened(point: Activity, *, by: Person | None = None, crew: Crew | None = None) -> Plan:
    """A point that was passed is to be passed again: its dates are planned anew.

    Raises:
        WrongState: no point.
    """
    house = lock_house(point.house_id)
    point = Activity.objects.get(pk=point.pk)
    if not point.is_point:
        raise WrongState(_("%(name)s is no point. Take its report back.") % {"name": point.name})
    facts = {"start": point.actual_start, "finish": point.actual_finish}
    point.actual_start = point.actual_finish = point.remaining = None
    point.save(update_fields=["actual_start", "actual_finish", "remaining"])
    words = _("%(name)s is to be passed again") % {"name": point.name}
    write_change(house, "point reopened", f"activity:{point.pk}", words, facts, by, crew)
    return replan(house, cause=words, by=by, crew=crew)
