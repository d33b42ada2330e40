"""Promises kept: when the work of a visit has begun, was its house ready by the day that was told?

Each promise is scored once, in the transaction of the plan that first knows of the start. From then on it
belongs to the share of promises kept and to what is learnt of its crew.
"""

from __future__ import annotations

from coordination import clock
from coordination.sequence.house_network import HouseNetwork
from coordination.sequence.models import Activity, GivenPromise
from coordination.sequence.solved import Solved
from coordination.sequence.to_engine import find_ready


def score_begun(rows: HouseNetwork, solved: Solved) -> int:
    """Score the promises of visits whose work has begun; returns how many."""
    begun: dict[int, Activity] = {}
    for one in rows.activities:
        if one.visit_id is not None and one.actual_start is not None:
            known = begun.get(one.visit_id)
            if known is None or one.actual_start < (known.actual_start or 0):
                begun[one.visit_id] = one
    open_ones = GivenPromise.objects.filter(
        house=rows.house, scored_at__isnull=True, booking__visit__in=begun
    )
    scored = 0
    for promise in open_ones.select_related("booking"):
        first = begun[promise.booking.visit_id]
        ready = find_ready(rows, solved.days, solved.calendar_names, first)
        scored += GivenPromise.objects.filter(pk=promise.pk, scored_at__isnull=True).update(
            ready=ready,
            started=first.actual_start,
            kept=ready <= promise.promised,
            scored_at=clock.now(),
        )
    return scored
