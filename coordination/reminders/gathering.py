"""The facts of a builder's booked visits, read from the database for the rules in `due`."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

from django.db.models import F, Max, QuerySet

from coordination import clock
from coordination.people.models import Builder
from coordination.reminders.due import SiteDays, Times, VisitFacts, Window
from coordination.sequence.calendars import calendar_key, read_stored
from coordination.sequence.models import Booking, Covering, Installer, Plan, PlannedWindow

SPOKEN_OF = (Booking.State.ASKED, Booking.State.PENCILLED, Booking.State.FIRM, Booking.State.UNDER_WAY)


def latest_plans(house_ids: Iterable[int]) -> QuerySet[Plan]:
    """The latest plan of each of the houses."""
    return (
        Plan.objects.filter(house__in=list(house_ids))
        .annotate(latest=Max("house__plans__number"))
        .filter(number=F("latest"))
        .select_related("house")
    )


def _days_of_plan(plan: Plan) -> SiteDays:
    """Working days of a site: the calendar of its house as the plan resolved it."""
    calendar = read_stored(plan.calendars).get(calendar_key(plan.house.calendar_id))
    if calendar is None:
        return SiteDays()
    off: dict[dt.date, int] = defaultdict(int)
    for half_day in calendar.off:
        off[clock.as_date(half_day)[0]] += 1
    return SiteDays(
        calendar.week, frozenset(day for day, count in off.items() if count >= calendar.week[day.weekday()])
    )


def builder_days(builder: Builder) -> SiteDays:
    """Days on which any of the builder's unfinished houses works; Monday to Friday when it has none."""
    sites = [
        _days_of_plan(plan)
        for plan in latest_plans(
            builder.houses.filter(finished_at__isnull=True).values_list("pk", flat=True)
        ).order_by("house")
    ]
    if not sites:
        return SiteDays()
    week = tuple(max(site.week[day] for site in sites) for day in range(7))
    return SiteDays(week, frozenset.intersection(*(site.off for site in sites)))


def times_of(builder: Builder) -> Times:
    """The builder's settings for messages."""
    return Times(zone=builder.time_zone, digest_at=builder.digest_at, days=builder_days(builder))


def visit_facts(builder: Builder) -> list[VisitFacts]:
    """Facts of every live booking that was told a date, in a handful of queries."""
    bookings = list(
        Booking.objects.filter(
            house__builder=builder,
            house__finished_at__isnull=True,
            state__in=SPOKEN_OF,
            told_start__isnull=False,
        )
        .select_related("house", "visit")
        .prefetch_related("visit__activities")
        .order_by("told_start", "pk")
    )
    plans = {plan.house_id: plan for plan in latest_plans({booking.house_id for booking in bookings})}
    days = {house: _days_of_plan(plan) for house, plan in plans.items()}
    windows = _windows_by_visit(bookings, plans.values())
    facts = []
    for booking in bookings:
        activities = list(booking.visit.activities.all())
        if booking.told_start is None or booking.told_finish is None:
            continue
        facts.append(
            VisitFacts(
                booking=booking.pk,
                crew=booking.crew_id,
                builder=builder.pk,
                house=booking.house.name,
                visit=booking.visit.name,
                state=booking.state,
                told_start=booking.told_start,
                told_finish=booking.told_finish,
                days=days.get(booking.house_id, SiteDays()),
                started=any(activity.actual_start is not None for activity in activities),
                done=bool(activities) and all(activity.actual_finish is not None for activity in activities),
                windows=tuple(windows.get(booking.visit_id, ())),
            )
        )
    return facts


def _windows_by_visit(bookings: list[Booking], plans: Iterable[Plan]) -> dict[int, list[Window]]:
    """Windows of the details that each visit installs; done where all the visit's installers are finished."""
    visit_ids = {booking.visit_id for booking in bookings}
    planned = {
        window.detail_id: window
        for window in PlannedWindow.objects.filter(plan__in=[plan.pk for plan in plans]).select_related(
            "detail__point"
        )
    }
    buried_by: dict[int, str] = {}
    for covering in Covering.objects.filter(detail__in=planned).select_related("activity").order_by("pk"):
        buried_by.setdefault(covering.detail_id, covering.activity.name)
    unfinished: dict[tuple[int, int], bool] = defaultdict(bool)
    for installer in Installer.objects.filter(
        activity__visit__in=visit_ids, detail__in=planned
    ).select_related("activity"):
        if installer.activity.visit_id is not None:
            key = (installer.activity.visit_id, installer.detail_id)
            unfinished[key] |= installer.activity.actual_finish is None
    found: dict[int, list[Window]] = defaultdict(list)
    for (visit_id, detail_id), open_work in sorted(unfinished.items()):
        window = planned[detail_id]
        point = window.detail.point
        found[visit_id].append(
            Window(
                detail=window.detail.name,
                key=window.detail.key,
                due=window.due,
                buried=window.buried,
                walk=point.name if point else "",
                buried_by=buried_by.get(detail_id, ""),
                done=not open_work,
            )
        )
    return found
