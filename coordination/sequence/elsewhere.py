"""Where crews are besides: what fits and forecasts have in common."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from coordination.people.models import Builder
from coordination.sequence.models import Booking, PlannedDate, ReservedTime
from coordination.sequence.queries.facts import latest_plans


@dataclass(frozen=True)
class Elsewhere:
    """A crew, or units of it, taken over ``[first, end)`` by work that the fit does not move.

    `where` names the house; it is empty for another builder's work, of which only the time is known.
    """

    crew: int
    first: int
    end: int
    units: int
    where: str


def read_elsewhere(builder: Builder, crews: Collection[int], chosen: Collection[int]) -> list[Elsewhere]:
    """Other houses of the builder, other builders' bookings and time reserved by other builders."""
    rows = list(
        Booking.objects.filter(crew__in=list(crews), state__in=Booking.LIVE)
        .exclude(state=Booking.State.DONE)
        .exclude(house__in=list(chosen))
        .filter(house__finished_at__isnull=True)
        .select_related("house", "reserved_time")
        .order_by("pk")
    )
    planned = _read_planned({row.house_id for row in rows if row.told_start is None})
    found = []
    for row in rows:
        own = row.house.builder_id == builder.pk
        if not own and row.reserved_time is not None and row.reserved_time.agreed_at is not None:
            continue  # inside the time that builder has reserved, which counts below
        dates = planned.get(row.visit_id)
        if row.told_start is not None and row.told_finish is not None:
            dates = (row.told_start, row.told_finish)
        if dates is not None and dates[1] > dates[0]:
            found.append(Elsewhere(row.crew_id, *dates, 1, row.house.name if own else ""))
    reserved = ReservedTime.objects.filter(crew__in=list(crews), agreed_at__isnull=False)
    for time in reserved.exclude(builder=builder).order_by("pk"):
        found.append(Elsewhere(time.crew_id, time.first, time.end, time.units, ""))
    return found


def _read_planned(houses: Collection[int]) -> dict[int, tuple[int, int]]:
    """Visit id → first half-day and exclusive finish in the latest plan of its house."""
    plans = [plan.pk for plan in latest_plans(houses).values()]
    spans: dict[int, list[tuple[int, int]]] = defaultdict(list)
    rows = PlannedDate.objects.filter(plan__in=plans, activity__visit__isnull=False)
    for visit, start, last in rows.values_list("activity__visit", "start", "last"):
        spans[visit].append((start, last + 1))
    return {visit: (min(s for s, _f in all_), max(f for _s, f in all_)) for visit, all_ in spans.items()}
