"""Crews that a fit chose for visits without one: asked when it is applied, stood down when taken back."""

from __future__ import annotations

from django.utils.translation import gettext as _

from coordination.people.models import Crew, Person
from coordination.sequence import bookings
from coordination.sequence.models import Booking, FittedHouse, House


def ask_crews(house: House, row: FittedHouse, by: Person) -> int:
    """Ask the crews that the fit chose for visits without one; returns how many."""
    proposed = {int(visit): crew for visit, crew in row.result.get("proposed", {}).items()}
    crews = Crew.objects.in_bulk(list(proposed.values()))
    for visit in house.visits.filter(pk__in=proposed).select_related("trade").order_by("pk"):
        bookings.open_booking(house, visit, crews[proposed[visit.pk]], by)
    return len(proposed)


def stand_down_crews(house: House, row: FittedHouse, by: Person) -> int:
    """Take back what `ask_crews` asked, where the crew still has the visit; returns how many."""
    proposed = {int(visit): crew for visit, crew in row.result.get("proposed", {}).items()}
    live = Booking.objects.filter(house=house, visit__in=proposed, state__in=Booking.LIVE)
    found = [
        booking
        for booking in live.select_related("house__builder", "crew", "visit").order_by("pk")
        if booking.crew_id == proposed[booking.visit_id]
    ]
    for booking in found:
        bookings.close_booking(booking, _("Fit to the crews taken back"), by)
    return len(found)
