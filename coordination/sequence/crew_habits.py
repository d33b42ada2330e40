"""What is known of crews: how long their works took beside the plan, and how late they came. Read from rows.

Lateness is learnt from promises that were kept, that is where the house was ready by the day told: a crew
that came to an unready house was not late. What is not known leans on the builder's assumptions.
"""

from __future__ import annotations

from collections import defaultdict

from coordination.people.models import Builder
from coordination.sequence.calendars import calendar_key, read_stored
from coordination.sequence.models import Activity, Booking, ForecastTerms, GivenPromise
from coordination.sequence.moves import count_working
from coordination.sequence.queries.facts import latest_plans
from coordination.sequence.to_engine import Assumptions, Habits, default_habits, learn_habits

REMEMBERED = 60
"""The latest works, and the latest starts, of each crew that count."""


def terms_of(builder: Builder) -> ForecastTerms:
    """The builder's terms, or the usual ones, not saved."""
    return ForecastTerms.objects.filter(builder=builder).first() or ForecastTerms(builder=builder)


def read_assumptions(builder: Builder) -> Assumptions:
    """What forecasts of the builder's houses are made on."""
    terms = terms_of(builder)
    assumed = default_habits(terms.late_chance / 100, terms.late_least, terms.late_most)
    worked, late = _read_works(builder), _read_lateness(builder)
    crews: dict[int | None, Habits] = {None: assumed}
    for crew in worked.keys() | late.keys():
        crews[crew] = learn_habits(worked.get(crew, ()), late.get(crew, ()), assumed)
    return Assumptions(crews, terms.fails_chance / 100, terms.fails_half_days)


def _read_works(builder: Builder) -> dict[int, list[tuple[int, int]]]:
    """Crew id → planned and actual working half-days of its finished works, the latest first."""
    found: dict[int, list[tuple[int, int]]] = defaultdict(list)
    bookings = Booking.objects.filter(
        house__builder=builder, state__in=(Booking.State.UNDER_WAY, Booking.State.DONE)
    )
    crew_of = {
        visit: (crew, calendar)
        for visit, crew, calendar in bookings.values_list("visit", "crew", "crew__calendar")
    }
    works = Activity.objects.filter(
        visit__in=list(crew_of), actual_finish__isnull=False, is_point=False, half_days__gt=0
    ).order_by("-actual_finish", "-pk")
    plans = {
        house: read_stored(plan.calendars)
        for house, plan in latest_plans(set(works.values_list("house", flat=True))).items()
    }
    for work in works:
        crew, calendar_id = crew_of[work.visit_id or 0]
        known = plans.get(work.house_id, {})
        calendar = known.get(calendar_key(calendar_id, outdoor=work.outdoor)) or known.get(
            calendar_key(calendar_id)
        )
        if calendar is None or len(found[crew]) >= REMEMBERED:
            continue
        start, finish = work.actual_start, work.actual_finish
        if start is not None and finish is not None:
            found[crew].append((work.half_days, max(1, count_working(calendar, start, finish))))
    return found


def _read_lateness(builder: Builder) -> dict[int, list[int]]:
    """Crew id → weekday half-days from the day promised to the start, where the house was ready."""
    found: dict[int, list[int]] = defaultdict(list)
    kept = GivenPromise.objects.filter(house__builder=builder, kept=True, started__isnull=False)
    for crew, promised, started in kept.order_by("-scored_at", "-pk").values_list(
        "crew", "promised", "started"
    ):
        if started is not None and len(found[crew]) < REMEMBERED:
            found[crew].append(_weekday_half_days(promised, started))
    return found


def _weekday_half_days(first: int, then: int) -> int:
    if then < first:
        return -_weekday_half_days(then, first)
    # The axis begins on a Monday: ten half-days of weekdays, then four of the weekend.
    return sum(half_day % 14 < 10 for half_day in range(first, min(then, first + 700)))
