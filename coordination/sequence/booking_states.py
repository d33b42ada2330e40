"""The steps every act on a booking takes: lock, change the state by a conditional update, write, re-plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import NotAllowed, WrongState
from coordination.sequence.diary import write_change
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House


def lock_booking(booking: Booking) -> Booking:
    """The booking as it is now, under its house's lock."""
    lock_house(booking.house_id)
    return Booking.objects.select_related("house__builder", "crew", "visit__trade", "reserved_time").get(
        pk=booking.pk
    )


def move_state(booking: Booking, to: str, allowed: Sequence[str], **values: Any) -> None:
    """Change the state if it is one of the allowed; the loser of a race changes nothing and is told so."""
    changed = Booking.objects.filter(pk=booking.pk, state__in=allowed).update(
        state=to, changed_at=clock.now(), **values
    )
    if not changed:
        raise WrongState(
            _("%(visit)s is %(state)s, so this cannot be done.")
            % {"visit": booking.visit.name, "state": booking.get_state_display()}
        )
    booking.refresh_from_db()


def write_act(
    booking: Booking, what: str, words: str, by: Person | None = None, crew: Crew | None = None, **facts: Any
) -> None:
    about = f"booking:{booking.pk}"
    write_change(booking.house, what, about, words, {"state": booking.state, **facts}, by, crew)


def replan_after(house: House, cause: str, by: Person | None, crew: Crew | None = None) -> None:
    """Dates follow: the crew's calendar and word time count. A house without a plan is being set out."""
    # Here and not above: re-planning itself needs bookings, to tell whose date moved.
    from coordination.sequence.replanning import replan

    if house.plans.exists():
        replan(house, cause=cause, by=by, crew=crew)


def refuse_other_crew(booking: Booking, crew: Crew | None) -> None:
    if crew is not None and crew.pk != booking.crew_id:
        raise NotAllowed(_("This visit is booked with another crew."))
