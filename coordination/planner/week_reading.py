"""Reads what stands on the sheet of the week for many houses, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.urls import reverse

from coordination.planner.house_drawing import note_hold
from coordination.planner.week_sheet import VisitFact, WalkFact
from coordination.sequence.calendars import ResolvedCalendar, calendar_key, read_stored
from coordination.sequence.models import Activity, Booking, PlannedDate, Visit
from coordination.sequence.queries import BoardRow, BookingFact
from coordination.sequence.queries.facts import live_bookings

TOLD = (Booking.State.PENCILLED, Booking.State.FIRM)


@dataclass(frozen=True)
class Worked:
    """Dates of a visit by the plan, and what was reported of it; half-days, finish exclusive."""

    start: int
    finish: int
    begun: bool
    done: bool


def read_visits(rows: Sequence[BoardRow]) -> dict[int, list[VisitFact]]:
    """House id → its visits by its latest plan, with what their crews were told."""
    houses = [row.house for row in rows]
    worked = _read_worked(rows)
    bookings = live_bookings(houses)
    found: dict[int, list[VisitFact]] = defaultdict(list)
    for visit in Visit.objects.filter(house__in=houses).select_related("trade").order_by("order", "pk"):
        if visit.pk in worked:
            fact = _describe(visit, worked[visit.pk], bookings.get(visit.pk))
            found[visit.house_id].append(fact)
    return dict(found)


def _read_worked(rows: Sequence[BoardRow]) -> dict[int, Worked]:
    dates: dict[int, list[tuple[int, int, bool, bool]]] = defaultdict(list)
    plans = [row.plan.pk for row in rows if row.plan is not None]
    for visit, start, last, began, ended in PlannedDate.objects.filter(
        plan__in=plans, activity__visit__isnull=False
    ).values_list("activity__visit", "start", "last", "activity__actual_start", "activity__actual_finish"):
        dates[visit].append((start, last, began is not None, ended is not None))
    return {
        visit: Worked(
            start=min(one[0] for one in work),
            finish=max(one[1] for one in work) + 1,
            begun=any(one[2] for one in work),
            done=all(one[3] for one in work),
        )
        for visit, work in dates.items()
    }


def _describe(visit: Visit, worked: Worked, booking: BookingFact | None) -> VisitFact:
    state = booking.state if booking else ""
    if worked.done:
        state = Booking.State.DONE.value
    elif worked.begun:
        state = Booking.State.UNDER_WAY.value
    start, finish, told = worked.start, worked.finish, False
    if booking is not None and state in TOLD and booking.told_start is not None:
        told, start = True, booking.told_start
        finish = booking.told_finish or start + 1
    return VisitFact(
        name=visit.name,
        who=booking.crew if booking else visit.trade.name,
        link=reverse("planner:visit", args=[visit.house_id, visit.pk]),
        planned=worked.start,
        start=start,
        finish=finish,
        state=state,
        told=told,
        confirmed=booking is not None and booking.confirmed_at is not None,
    )


def read_walks(rows: Sequence[BoardRow]) -> dict[int, list[WalkFact]]:
    """House id → the walks of its hold points, and its witness points that are not passed."""
    found: dict[int, list[WalkFact]] = defaultdict(list)
    for row in rows:
        for hold in row.holds:
            found[row.house.pk].append(
                WalkFact(hold.label, hold.page, hold.start, hold.state, note_hold(hold))
            )
    plans = [row.plan.pk for row in rows if row.plan is not None]
    witnessed = Q(activity__point_kind=Activity.PointKind.WITNESS, activity__actual_finish__isnull=True)
    for house, name, start in PlannedDate.objects.filter(witnessed, plan__in=plans).values_list(
        "activity__house", "activity__name", "start"
    ):
        found[house].append(WalkFact(name, "", start, "witness", ""))
    return dict(found)


def calendar_of(row: BoardRow) -> ResolvedCalendar | None:
    """The calendar of the house's own work, as its latest plan keeps it."""
    if row.plan is None:
        return None
    return read_stored(row.plan.calendars).get(calendar_key(row.house.calendar_id))
