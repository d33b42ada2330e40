"""Reads the crews that work for some builders and where they are, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from typing import Any

from django.db.models import Max, Min, QuerySet
from django.urls import reverse

from coordination.people.models import Builder, Crew
from coordination.planner.crew_weeks import Stay
from coordination.sequence.models import Booking, Plan, PlannedDate
from coordination.sequence.queries.facts import latest_numbers


def crews_of(builders: QuerySet[Builder]) -> QuerySet[Crew]:
    """Crews whose company works for one of the builders, by trade and name."""
    return (
        Crew.objects.filter(company__engagements__builder__in=builders)
        .select_related("company", "trade", "contact", "calendar")
        .distinct()
        .order_by("trade__name", "name")
    )


def read_stays(
    crews: Collection[Crew], builders: QuerySet[Builder], first: int, end: int
) -> dict[int, list[Stay]]:
    """Crew id → its stays that touch ``[first, end)``; of other builders' houses only the time.

    Told dates count; a booking that was told nothing yet stands where its house's plan has it.
    """
    own = set(builders.values_list("pk", flat=True))
    rows = list(
        Booking.objects.filter(crew__in=[crew.pk for crew in crews], state__in=Booking.LIVE)
        .exclude(state=Booking.State.DONE)
        .filter(house__finished_at__isnull=True)
        .select_related("house", "visit")
    )
    planned = _read_planned({row.house_id for row in rows if row.told_start is None})
    found: dict[int, list[Stay]] = defaultdict(list)
    for row in rows:
        told = row.told_start is not None
        dates = (row.told_start, row.told_finish) if told else planned.get(row.visit_id, (None, None))
        if dates[0] is None or dates[1] is None or dates[0] >= end or dates[1] <= first:
            continue
        facts: dict[str, Any] = {"state": row.state, "told": told, "confirmed": row.confirmed_at is not None}
        if row.house.builder_id in own:
            link = reverse("planner:visit", args=[row.house_id, row.visit_id])
            facts |= {"house": row.house.name, "visit": row.visit.name, "link": link}
        found[row.crew_id].append(Stay(row.crew_id, dates[0], dates[1], **facts))
    return found


def _read_planned(houses: Collection[int]) -> dict[int, tuple[int, int]]:
    """Visit id → first half-day and exclusive finish in the latest plan of its house."""
    numbers = latest_numbers(houses)
    plans = [
        pk
        for pk, house, number in Plan.objects.filter(
            house__in=houses, number__in=set(numbers.values())
        ).values_list("pk", "house", "number")
        if numbers[house] == number
    ]
    rows = (
        PlannedDate.objects.filter(plan__in=plans, activity__visit__isnull=False)
        .order_by()
        .values_list("activity__visit")
        .annotate(Min("start"), Max("last"))
    )
    return {visit: (start, last + 1) for visit, start, last in rows}
