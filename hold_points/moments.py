"""The order of what happens at a point: nothing is stamped before what it follows."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from coordination import clock
from hold_points.models import Call, Concession, Evidence, Inspection, Outcome, Release, Reopening, Statement

TICK = dt.timedelta(microseconds=1)


def next_moment(inspection_id: int) -> dt.datetime:
    """Now, but later than every act of the point: call, outcome, photograph, statement, release, re-opening.

    A server's clock may be set back; a re-opening would then lie before the release that it undoes. The
    caller holds the house's lock.
    """
    point = OuterRef("pk")
    latest = (
        Inspection.objects.filter(pk=inspection_id)
        .values_list(
            _latest(Outcome.objects.filter(check_judged__inspection=point), "received_at"),
            _latest(Evidence.objects.filter(inspection=point), "received_at"),
            _latest(Release.objects.filter(inspection=point), "received_at"),
            _latest(Reopening.objects.filter(inspection=point), "at"),
            _latest(Concession.objects.filter(nonconformity__check_failed__inspection=point), "at"),
            _latest(Statement.objects.filter(check_stated__inspection=point), "received_at"),
            _latest(Call.objects.filter(inspection=point), "at"),
        )
        .get()
    )
    moments: list[dt.datetime] = [clock.now(), *(one + TICK for one in latest if one is not None)]
    return max(moments)


def _latest(rows: QuerySet[Any], name: str) -> Subquery:
    return Subquery(rows.order_by(f"-{name}").values(name)[:1])
