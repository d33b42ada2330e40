"""The facts of a builder's booked visits, read from the database for the rules in `due`."""

from __future__ import annotations

import datetime as dt
from collections import Counter

from coordination import clock
from coordination.people.models import Builder
from coordination.reminders.due import SPOKEN_OF, SiteDays, Times, VisitFacts, Window
from coordination.sequence.calendars import ResolvedCalendar, calendar_key, read_stored
from coordination.sequence.models import Booking
from coordination.sequence.queries import CrewVisit, visits_for
from coordination.sequence.queries.facts import latest_plans


def _site_days(calendar: ResolvedCalendar | None) -> SiteDays:
    """Working days of a site: the calendar of its house as the plan resolved it."""
    if calendar is None:
        return SiteDays()
    off: Counter[dt.date] = Counter(clock.as_date(half_day)[0] for half_day in calendar.off)
    return SiteDays(
        calendar.week, frozenset(day for day, count in off.items() if count >= calendar.week[day.weekday()])
    )


def builder_days(builder: Builder) -> SiteDays:
    """Days on which any of the builder's unfinished houses works; Monday to Friday when it has none."""
    houses = {house.pk: house for house in builder.houses.filter(finished_at__isnull=True)}
    sites = [
        _site_days(read_stored(plan.calendars).get(calendar_key(houses[house].calendar_id)))
        for house, plan in latest_plans(houses).items()
    ]
    if not sites:
        return SiteDays()
    week = tuple(max(site.week[day] for site in sites) for day in range(7))
    return SiteDays(week, frozenset.intersection(*(site.off for site in sites)))


def times_of(builder: Builder) -> Times:
    """The builder's settings for messages."""
    return Times(zone=builder.time_zone, digest_at=builder.digest_at, days=builder_days(builder))


def visit_facts(builder: Builder) -> list[VisitFacts]:
    """Facts of every live booking that was told a date, in a fixed number of queries."""
    told = Booking.objects.filter(
        house__builder=builder,
        house__finished_at__isnull=True,
        state__in=SPOKEN_OF,
        told_start__isnull=False,
        told_finish__isnull=False,
    )
    return [_describe(visit) for visit in visits_for(told)]


def _describe(visit: CrewVisit) -> VisitFacts:
    booking = visit.booking
    return VisitFacts(
        booking=booking.id,
        crew=booking.crew_id,
        builder=visit.builder.pk,
        house=visit.house.name,
        visit=visit.name,
        state=booking.state,
        told_start=booking.told_start or 0,
        told_finish=booking.told_finish or 0,
        days=_site_days(visit.days),
        started=any(piece.state for piece in visit.work),
        done=bool(visit.work) and all(piece.state == "done" for piece in visit.work),
        windows=tuple(
            Window(
                detail=detail.name,
                key=detail.key,
                due=detail.due,
                buried=detail.buried,
                walk=detail.walk,
                buried_by=detail.buried_by[0] if detail.buried_by else "",
                done=detail.installed,
                detail_id=detail.detail_id,
            )
            for detail in visit.details
        ),
    )
