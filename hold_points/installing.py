"""Who installs what a point judges: details to visits, visits to bookings.

Short queries one after the other, and not one over eight tables: PostgreSQL, before it has counted freshly
filled tables, was seen to choose a plan for the long one that took minutes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from coordination.sequence.models import Booking, Covering, Detail, Installer
from hold_points.models import Check


def details_judged_at(point_ids: Iterable[int]) -> dict[int, set[int]]:
    """Details that each point judges: by their own point, by a covering's, or by a check."""
    ids = set(point_ids)
    found: dict[int, set[int]] = defaultdict(set)
    rows = [
        *Detail.objects.filter(point__in=ids).values_list("point", "pk"),
        *Covering.objects.filter(point__in=ids).values_list("point", "detail"),
        *Check.objects.filter(inspection__point__in=ids, detail__isnull=False).values_list(
            "inspection__point", "detail"
        ),
    ]
    for point, detail in rows:
        if point is not None and detail is not None:
            found[point].add(detail)
    return found


def visits_installing(detail_ids: Iterable[int]) -> dict[int, dict[int, int]]:
    """Visits that install each detail, with the place of their last such activity in the house's order."""
    found: dict[int, dict[int, int]] = defaultdict(dict)
    rows = Installer.objects.filter(detail__in=set(detail_ids), activity__visit__isnull=False)
    for detail, visit, order in rows.values_list("detail", "activity__visit", "activity__order"):
        if visit is not None:
            found[detail][visit] = max(order, found[detail].get(visit, order))
    return found


def live_bookings(visit_ids: Iterable[int]) -> dict[int, Booking]:
    """The live booking of each visit, with its crew; a visit has one at most."""
    rows = Booking.objects.filter(visit__in=set(visit_ids), state__in=Booking.LIVE).select_related("crew")
    return {one.visit_id: one for one in rows}


def last_installers(detail_ids: Iterable[int]) -> dict[int, Booking]:
    """The booking of the visit that is the last to work on each detail; details that nobody is booked for
    are missing."""
    visits = visits_installing(detail_ids)
    bookings = live_bookings({visit for ones in visits.values() for visit in ones})
    found: dict[int, Booking] = {}
    for detail, ones in visits.items():
        booked = [(order, bookings[visit].pk, visit) for visit, order in ones.items() if visit in bookings]
        if booked:
            found[detail] = bookings[max(booked)[2]]
    return found
