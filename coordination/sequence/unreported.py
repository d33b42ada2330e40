"""Houses that nobody reports on: a plan keeps its dates until somebody says what was done, and they grow old.

A plan does not drift by itself, for crews were told its dates. Once work that it has for days gone by is
still not reported, the dates after it are not real either: screens say so, and nothing is promised from them.
"""

from __future__ import annotations

from collections.abc import Collection

from coordination import clock
from coordination.sequence.models import House, PlannedDate
from coordination.sequence.overdue import is_overdue, oldest_real
from coordination.sequence.queries.facts import latest_plans


def read_unreported(houses: Collection[House]) -> dict[int, int]:
    """House id → the half-day since when nothing is recorded of it, of those whose dates are not real."""
    oldest = {
        house.pk: oldest_real(clock.current_half_day(house.builder.time_zone))
        for house in houses
        if house.finished_at is None
    }
    old = {house.pk: house for house in houses if house.recorded_up_to < oldest.get(house.pk, -1)}
    if not old:
        return {}
    rows = PlannedDate.objects.filter(
        plan__in=[plan.pk for plan in latest_plans(old.values()).values()],
        start__lt=max(oldest[pk] for pk in old),
        activity__actual_finish__isnull=True,
    ).select_related("activity")
    return {
        row.activity.house_id: old[row.activity.house_id].recorded_up_to
        for row in rows
        if is_overdue(row.activity, row, oldest[row.activity.house_id])
    }
