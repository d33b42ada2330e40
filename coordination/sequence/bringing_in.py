"""A house brought in half built: what is finished is stated, what nobody recorded set aside, the rest live.

Only here is a hold set aside: the database asks whether anything was stated in the house's diary. It blocks
nothing and is never counted as released. A hold of which anything can still be seen stays open, and so does
one at which somebody found what is not put right: that is on record.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import guard, holds, telling
from coordination.sequence.diary import write_change
from coordination.sequence.house_network import HouseNetwork, read_house_network
from coordination.sequence.inspection import port
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Booking, Covering, Hold, House, PlannedDate, Relationship
from coordination.sequence.replanning import current_plan, replan
from coordination.sequence.reports import lies_in_future, move_record

FINISHES = (Relationship.Kind.FS, Relationship.Kind.FF)
"""Relationships whose predecessor must be finished when the successor is."""


@dataclass(frozen=True)
class BroughtIn:
    """What was stated of a house, and what became of its holds."""

    stated: Sequence[Activity]
    set_aside: Sequence[Hold]
    half_buried: Sequence[Hold]
    """Open, and covered in part, or whole over what was found not met: these need a walk at once."""
    live: Sequence[Hold]


def bring_in(house: House, last_finished: str, finished_on: dt.date, by: Person) -> BroughtIn:
    """State that one activity and all before it are finished; as `bring_in_stated`."""
    return bring_in_stated(house, {last_finished: finished_on}, by)


@guard.speaking()
def bring_in_stated(house: House, finished: Mapping[str, dt.date], by: Person, why: str = "") -> BroughtIn:
    """State that activities and all before them are finished; set aside the holds that are buried.

    Dates of the activities before are those of the plan, none later than what was stated of the work after
    them: nobody stated them. A booking of a finished visit is done. Nothing becomes firm by this.

    Args:
        finished: key of a finished activity → the day it was finished; the last of each line of work.
        why: why nobody recorded the holds that are set aside; it stands with them.

    Raises:
        BadInput: nothing stated, no such activity, a point, a date to come, or one before what comes first.
        WrongState: something is reported of this house already.
    """
    house = lock_house(house.pk)
    rows = read_house_network(house)
    ends = _read_ends(rows, finished)
    if any(one.actual_start is not None for one in rows.activities):
        raise WrongState(_("Work is reported at this house already. It is brought in once, before that."))
    stated = _state_finished(rows, ends, by)
    move_record(rows, max(ends.values()), {one.key for one in stated})
    reason = why.strip()[:200] or _("buried before the house was brought in")
    aside, half, live = _sort_holds(house, by, reason)
    last = max(ends, key=lambda key: (ends[key], rows.by_key[key].order))
    names = {"name": rows.by_key[last].name, "house": house.name}
    replan(house, cause=_("%(house)s brought in: finished up to %(name)s") % names, by=by)
    return BroughtIn(stated, aside, half, live)


def _read_ends(rows: HouseNetwork, finished: Mapping[str, dt.date]) -> dict[str, int]:
    """The exclusive end of each activity stated as finished."""
    if not finished:
        raise BadInput(_("finished work"), _("Name at least one activity that is finished, with its day."))
    now = clock.current_half_day(rows.house.builder.time_zone)
    ends = {}
    for key, day in finished.items():
        activity = rows.by_key.get(key)
        if activity is None or activity.is_point:
            raise BadInput(key, _("Name an activity of this house that is work, not a point."))
        ends[key] = clock.as_half_day(day, "pm") + 1
        if ends[key] - 1 > now and day > clock.as_date(now)[0]:
            raise lies_in_future(activity.name, now)
        # Finished today is finished by now.
        ends[key] = min(ends[key], now + 1)
    for key in ends:
        for one in _find_before(rows, rows.by_key[key]):
            if one.key != key and one.key in ends and ends[one.key] > ends[key]:
                raise BadInput(
                    one.name,
                    _("It comes before %(then)s, but its day lies after that one's. Correct one of the two.")
                    % {"then": rows.by_key[key].name},
                )
    return ends


def _find_before(rows: HouseNetwork, last: Activity) -> list[Activity]:
    """The activity and the work that must have been finished before it, in the house's order."""
    before: dict[int, list[int]] = {}
    for link in rows.relationships:
        if link.kind in FINISHES:
            before.setdefault(link.successor_id, []).append(link.predecessor_id)
    seen, ahead = {last.pk}, [last.pk]
    while ahead:
        for one in before.get(ahead.pop(), ()):
            if one not in seen:
                seen.add(one)
                ahead.append(one)
    return [one for one in rows.activities if one.pk in seen and not one.is_point]


def _state_finished(rows: HouseNetwork, ends: Mapping[str, int], by: Person) -> list[Activity]:
    planned: dict[int, tuple[int, int]] = {
        activity: (start, last_half_day + 1)
        for activity, start, last_half_day in PlannedDate.objects.filter(
            plan=current_plan(rows.house)
        ).values_list("activity", "start", "last")
    }
    latest: dict[int, int] = {}
    for key, end in ends.items():
        for one in _find_before(rows, rows.by_key[key]):
            latest[one.pk] = min(end, latest.get(one.pk, end))
    stated = [one for one in rows.activities if one.pk in latest]
    for one in stated:
        end = latest[one.pk]
        start, finish = planned.get(one.pk, (end - 1, end))
        one.actual_finish = end if one.key in ends else min(finish, end)
        one.actual_start = min(start, one.actual_finish - 1)
        one.remaining = None
        one.save(update_fields=["actual_start", "actual_finish", "remaining"])
        words = _("%(name)s is finished, as stated when the house was brought in") % {"name": one.name}
        write_change(
            rows.house, "stated", f"activity:{one.pk}", words, {"finish": one.actual_finish}, by, None
        )
    left = {one.visit_id for one in rows.activities if one.visit_id and one.actual_finish is None}
    done = {one.visit_id for one in stated if one.visit_id} - left
    bookings = Booking.objects.filter(visit__in=done, state__in=Booking.LIVE)
    for booking in bookings.select_related("house__builder", "crew", "visit").order_by("pk"):
        # Nobody is sent a date for work that is done.
        telling.take_back_waiting([booking])
    bookings.update(state=Booking.State.DONE, changed_at=clock.now())
    return stated


def _sort_holds(house: House, by: Person, why: str) -> tuple[list[Hold], list[Hold], list[Hold]]:
    """Set aside what is buried whole, unless something is to be put right: aside, half buried, live."""
    aside: list[Hold] = []
    half: list[Hold] = []
    live: list[Hold] = []
    found = list(Hold.objects.filter(house=house).select_related("point").order_by("point__order"))
    states = port().missing([hold.pk for hold in found])
    for hold in found:
        coverings = Covering.objects.filter(
            Q(point=hold.point_id) | Q(point__isnull=True, detail__point=hold.point_id)
        )
        finishes = list(coverings.values_list("activity__actual_finish", flat=True))
        covered = [one for one in finishes if one is not None]
        if not covered:
            live.append(hold)
        elif len(covered) < len(finishes) or states[hold.pk].put_right_open:
            half.append(hold)
        else:
            aside.append(holds.set_aside(hold, by, why))
            # The plan asks for it no more. That it was never judged stands on the hold and on the record.
            Activity.objects.filter(pk=hold.point_id).update(
                actual_start=min(covered) - 1, actual_finish=min(covered)
            )
    return aside, half, live
