"""Rewriting the open part of a house's network after another sequence: rows kept, changed, added, gone.

The diary says 'rewriting' before anything is taken out, and the caller's 'changed' ends that: only between
the two does the database let relationships, coverings, installers and checks go, and nothing becomes firm.
The order matters, for the database judges every row as it is written: relationships and coverings are
lifted out first, then activities and visits follow, new holds are placed while nothing leads to them, firm
bookings that will stand behind an open hold fall back, and only then are the relationships laid again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Model, ProtectedError, Q
from django.utils.translation import gettext as _

from coordination.people.models import Person, Trade
from coordination.sequence import bookings, holds, set_out_rows, standard
from coordination.sequence.diary import write_change
from coordination.sequence.models import (
    Activity,
    Booking,
    Covering,
    Detail,
    DetailPlace,
    Hold,
    House,
    Installer,
    LongestGap,
    Relationship,
    Visit,
)

M = TypeVar("M", bound=Model)
OPEN_STATES = (Booking.State.ASKED, Booking.State.PENCILLED, Booking.State.FIRM)


@dataclass(frozen=True)
class Rewritten:
    """What was done to the rows of a house."""

    kept: tuple[str, ...]
    stood_down: tuple[tuple[str, str], ...]
    fell_back: tuple[tuple[str, str], ...]
    new_holds: tuple[Hold, ...]


def rewrite(
    house: House,
    resolved: standard.ResolvedSequence,
    trades: Mapping[str, Trade],
    why: str,
    by: Person,
) -> Rewritten:
    """Bring visits, activities, relationships, details and holds in line; the house is locked.

    Activities that have begun keep their rows and their visit. One that the sequence no longer has stays if
    it has begun or something of it is on the record. The caller writes 'changed' in the diary at the end.
    """
    said = _("%(house)s is written anew after its sequence") % {"house": house.name}
    write_change(house, "rewriting", "", said, {}, by)
    kept = _remove_activities(house, resolved)
    old_links = _links_of(house, kept)
    Relationship.objects.filter(house=house).delete()
    LongestGap.objects.filter(house=house).delete()
    Covering.objects.filter(detail__house=house).delete()
    visits = _write_visits(house, resolved, trades)
    activities = _write_activities(house, resolved, trades, visits)
    details = _write_details(house, resolved, activities)
    links = set_out_rows.describe_links(house, resolved, activities) + old_links
    coverings = set_out_rows.describe_coverings(resolved, details, activities)
    new_holds = holds.place_holds(house)
    ahead = [(one.predecessor_id, one.successor_id) for one in links if _carries(one)]
    # What buries stands behind the point that judges, also where no relationship says so.
    ahead += [(one.point_id, one.activity_id) for one in coverings if one.point_id and not one.along]
    fallen = holds.prepare_relationships(house, ahead, why)
    Relationship.objects.bulk_create(links)
    Covering.objects.bulk_create(coverings)
    set_out_rows.lay_gaps(house, resolved, activities)
    stood_down = _close_visits(house, why, by)
    fallen += holds.rebuild_hold_before(house, why)
    return Rewritten(
        kept=tuple(one.name for one in kept),
        stood_down=stood_down,
        fell_back=tuple((one.visit.name, one.crew.name) for one in fallen),
        new_holds=tuple(new_holds),
    )


def _remove_activities(house: House, resolved: standard.ResolvedSequence) -> list[Activity]:
    """Delete what the sequence no longer has; return those that stay nevertheless."""
    wanted = {one.id for one in resolved.activities}
    kept = []
    for activity in house.activities.exclude(key__in=wanted):
        if activity.actual_start is not None:
            kept.append(activity)
            continue
        try:
            with transaction.atomic():
                activity.delete()
        except ProtectedError:
            # Something was judged there: what is on the record keeps its point.
            kept.append(Activity.objects.get(house=house, key=activity.key))
    return kept


def _links_of(house: House, kept: Sequence[Activity]) -> list[Relationship]:
    """Unsaved copies of the relationships at activities that stay without the sequence."""
    here = Q(predecessor__in=kept) | Q(successor__in=kept)
    return [
        Relationship(
            house=house,
            predecessor_id=one.predecessor_id,
            successor_id=one.successor_id,
            kind=one.kind,
            lag=one.lag,
            lag_calendar=one.lag_calendar,
        )
        for one in Relationship.objects.filter(here, house=house).order_by("pk")
    ]


def _carries(link: Relationship) -> bool:
    return link.kind in holds.CARRYING and link.lag >= 0


def _save(row: M, values: Mapping[str, Any]) -> M:
    for name, value in values.items():
        setattr(row, name, value)
    row.save()
    return row


def _write_visits(
    house: House, resolved: standard.ResolvedSequence, trades: Mapping[str, Trade]
) -> dict[str, Visit]:
    there = {one.key: one for one in house.visits.all()}
    visits = {}
    for number, visit in enumerate(resolved.visits, start=1):
        values = set_out_rows.visit_values(visit, number, trades)
        visits[visit.key] = _save(there.get(visit.key) or Visit(house=house, key=visit.key), values)
    return visits


def _write_activities(
    house: House,
    resolved: standard.ResolvedSequence,
    trades: Mapping[str, Trade],
    visits: Mapping[str, Visit],
) -> dict[str, Activity]:
    """Open activities follow the sequence; those that have begun stay, save that the stake may move."""
    visit_of = {key: visits[visit.key] for visit in resolved.visits for key in visit.activities}
    house.activities.update(is_stake=False)
    there = {one.key: one for one in house.activities.all()}
    made = []
    for number, one in enumerate(resolved.activities, start=1):
        values = set_out_rows.activity_values(one, number, trades, visit_of.get(one.id))
        activity = there.get(one.id)
        if activity is None:
            made.append(Activity(house=house, key=one.id, **values))
        elif activity.actual_start is None:
            Activity.objects.filter(pk=activity.pk).update(**values)
            # A hold that still stops is called as its point; one that was released keeps the signed words.
            Hold.objects.filter(point=activity, lifted_at__isnull=True).update(label=one.name[:120])
        elif one.stake:
            Activity.objects.filter(pk=activity.pk).update(is_stake=True)
    Activity.objects.bulk_create(made)
    return {one.key: one for one in house.activities.all()}


def _write_details(
    house: House, resolved: standard.ResolvedSequence, activities: Mapping[str, Activity]
) -> dict[str, Detail]:
    """Details with their installers and places; what the house no longer has is left for later."""
    places = list(house.places.all())
    there = {one.key: one for one in house.details.all()}
    Installer.objects.filter(detail__house=house).delete()
    DetailPlace.objects.filter(detail__house=house).delete()
    details: dict[str, Detail] = {}
    for number, (one, found) in enumerate(set_out_rows.present_details(resolved, places), start=1):
        values = set_out_rows.detail_values(one, number, resolved, activities)
        details[one.id] = _save(there.get(one.id) or Detail(house=house, key=one.id), values)
        Installer.objects.bulk_create(
            Installer(detail=details[one.id], activity=activities[key]) for key in one.installed_by
        )
        DetailPlace.objects.bulk_create(
            DetailPlace(detail=details[one.id], place=place) for place in found or ()
        )
    house.details.exclude(key__in=details).update(point=None)
    return details


def _close_visits(house: House, why: str, by: Person) -> tuple[tuple[str, str], ...]:
    """Stand crews down whose visit has no work left, or work of another trade; remove visits never booked."""
    stood_down = []
    live = Booking.objects.filter(house=house, state__in=OPEN_STATES).select_related("visit", "crew")
    for booking in live.order_by("pk"):
        has_work = booking.visit.activities.exists()
        if has_work and booking.crew.trade_id == booking.visit.trade_id:
            continue
        bookings.close_booking(booking, _("the visit is no longer needed: %(why)s") % {"why": why}, by)
        stood_down.append((booking.visit.name, booking.crew.name))
    house.visits.filter(activities__isnull=True, bookings__isnull=True).delete()
    return tuple(stood_down)


def remove_stray_details(house: House, resolved: standard.ResolvedSequence) -> None:
    """Delete details that the house no longer has; one that something on the record names stays, bare."""
    present = {one.id for one, _found in set_out_rows.present_details(resolved, list(house.places.all()))}
    for detail in house.details.exclude(key__in=present):
        try:
            with transaction.atomic():
                detail.delete()
        except ProtectedError:
            detail.refresh_from_db()  # its checks were judged: it stays without work and without places
