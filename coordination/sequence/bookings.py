"""Bookings of crews for visits: asked → pencilled → firm → under way → done; declined; stood down.

Every act is one transaction: the house's row is locked first, then the rules are asked, then the state
changes by a conditional update, and with it the diary, what was told and the message. Firm is possible only
when every hold before the visit is lifted or set aside (rule 1); the triggers in `sql/` say so too. What the
crew itself says is in `answers`, dates that follow the plan and reserved time in `told_dates`.
"""

from __future__ import annotations

from django.db.models import F
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Engagement, Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import guard, holds, telling
from coordination.sequence.answers import (
    call_ready,
    confirm,
    decline,
    report_done,
    report_under_way,
    take_back_call,
)
from coordination.sequence.booking_states import lock_booking, move_state, replan_after, write_act
from coordination.sequence.inspection import port
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House, Visit
from coordination.sequence.told_dates import (
    Offer,
    draw_reserved_time,
    find_offers,
    planned_window,
    tell_moved,
)

__all__ = [
    "Offer",
    "ask",
    "call_ready",
    "change_crew",
    "confirm",
    "decline",
    "draw_reserved_time",
    "find_offers",
    "make_firm",
    "pencil",
    "planned_window",
    "report_done",
    "report_under_way",
    "stand_down",
    "take_back_call",
    "tell_moved",
]

State = Booking.State


# ---------------------------------------------------------------- ask, change, stand down


@guard.speaking()
def ask(visit: Visit, crew: Crew, by: Person | None = None) -> Booking:
    """Ask a crew for a visit: nothing is told yet, the crew sees the visit in its coming days.

    Raises:
        WrongState: the visit has a live booking already.
        BadInput: the crew is of another trade, or its company does not work for this builder.
    """
    house = lock_house(visit.house_id)
    booking = open_booking(house, visit, crew, by)
    replan_after(house, _("%(crew)s asked for %(visit)s") % {"crew": crew.name, "visit": visit.name}, by)
    return booking


def open_booking(house: House, visit: Visit, crew: Crew, by: Person | None) -> Booking:
    """Ask a crew inside a change that plans the house anew by itself; raises as `ask`."""
    if crew.trade_id != visit.trade_id:
        raise BadInput(
            crew.name,
            _("This crew does another trade than %(visit)s needs. Choose a crew of the trade %(trade)s.")
            % {"visit": visit.name, "trade": visit.trade.name},
        )
    if crew.retired_on is not None:
        raise BadInput(crew.name, _("This crew is retired. Choose another, or take it on again."))
    if not Engagement.objects.filter(builder=house.builder_id, company=crew.company_id).exists():
        raise BadInput(
            crew.name, _("Its company does not work for %(builder)s yet.") % {"builder": house.builder.name}
        )
    live = Booking.objects.filter(visit=visit, state__in=Booking.LIVE).select_related("crew").first()
    if live is not None:
        raise WrongState(
            _("%(visit)s is booked with %(crew)s (%(state)s). Change the crew, or stand it down first.")
            % {"visit": visit.name, "crew": live.crew.name, "state": live.get_state_display()}
        )
    now = clock.now()
    booking = Booking.objects.create(house=house, visit=visit, crew=crew, made_at=now, changed_at=now)
    words = _("%(crew)s asked for %(visit)s") % {"crew": crew.name, "visit": visit.name}
    write_act(booking, "asked", words, by, crew_asked=crew.pk)
    return booking


@guard.speaking()
def stand_down(booking: Booking, why: str, by: Person | None = None) -> Booking:
    """Stand a crew down; its calendar entry is cancelled, and it is told unless it never heard of the visit.

    Raises:
        BadInput: no reason.
        WrongState: done, declined or stood down already.
    """
    booking = lock_booking(booking)
    close_booking(booking, why, by)
    replan_after(
        booking.house, _("%(visit)s stood down: %(why)s") % {"visit": booking.visit.name, "why": why}, by
    )
    return booking


def close_booking(booking: Booking, why: str, by: Person | None) -> None:
    """Stand a crew down inside a change that plans the house anew by itself; raises as `stand_down`."""
    if not why.strip():
        raise BadInput(_("reason"), _("Say in a few words why; the crew is told."))
    move_state(
        booking,
        State.STOOD_DOWN,
        (State.ASKED, State.PENCILLED, State.FIRM, State.UNDER_WAY),
        stand_down_reason=why.strip()[:200],
        reserved_time=None,
        sequence=F("sequence") + 1,
    )
    words = _("%(crew)s stood down from %(visit)s: %(why)s")
    names = {"crew": booking.crew.name, "visit": booking.visit.name, "why": why}
    write_act(booking, "stood down", words % names, by, why=why)
    if booking.told_start is not None:
        telling.tell_crew(booking, why)


@guard.speaking()
def change_crew(visit: Visit, crew: Crew, by: Person | None = None, why: str = "") -> Booking:
    """Give a visit to another crew: a new booking with a calendar entry of its own; the old one stood down.

    The old crew gets one message if it had been told. The plan moves to the new crew's calendar and word
    time.

    Raises:
        WrongState: the visit has this crew already, or its work is done.
        BadInput: as `ask`.
    """
    house = lock_house(visit.house_id)
    old = (
        Booking.objects.filter(visit=visit, state__in=Booking.LIVE)
        .select_related("house__builder", "crew", "visit")
        .first()
    )
    if old is not None:
        if old.crew_id == crew.pk:
            raise WrongState(_("%(crew)s has this visit already.") % {"crew": crew.name})
        close_booking(old, why or _("another crew does it"), by)
    booking = open_booking(house, visit, crew, by)
    words = _("%(visit)s given to %(crew)s") % {"visit": visit.name, "crew": crew.name}
    replan_after(house, words, by)
    return booking


# ---------------------------------------------------------------- pencil, answer, firm


@guard.speaking()
def pencil(
    booking: Booking,
    start: int | None = None,
    finish: int | None = None,
    by: Person | None = None,
    why: str = "",
) -> Booking:
    """Tell a crew its date, which may still move; a firm booking becomes pencilled again.

    Args:
        start, finish: first half-day and exclusive finish; without them as the plan says.
        why: reason of a move, for the crew.

    Raises:
        BadInput: no plan to take dates from, a finish before the start, a date that has passed, or one
            before the plan lets the work start.
        WrongState: under way, done, declined or stood down.
    """
    booking = lock_booking(booking)
    planned = planned_window(booking.visit)
    start, finish = _choose_dates(booking, planned, start, finish)
    same = booking.state == State.PENCILLED and (booking.told_start, booking.told_finish) == (start, finish)
    if same:
        return booking
    was = (booking.told_start, booking.told_finish)
    keeps_date = was == (start, finish)
    reserved = booking.reserved_time
    keeps = reserved is not None and reserved.first <= start and finish <= reserved.end
    move_state(
        booking,
        State.PENCILLED,
        (State.ASKED, State.PENCILLED, State.FIRM),
        told_start=start,
        told_finish=finish,
        sequence=F("sequence") + 1,
        **({} if keeps_date else {"confirmed_at": None}),
        **({} if keeps else {"reserved_time": None}),
    )
    words = _("%(visit)s pencilled %(dates)s with %(crew)s") % {
        "visit": booking.visit.name,
        "dates": clock.say_dates(start, finish),
        "crew": booking.crew.name,
    }
    write_act(booking, "pencilled", words, by, was=list(was), now=[start, finish])
    old = (was[0], was[1]) if was[0] is not None and was[1] is not None else None
    telling.tell_crew(booking, why, was=old)
    return booking


def _choose_dates(
    booking: Booking, planned: tuple[int, int] | None, start: int | None, finish: int | None
) -> tuple[int, int]:
    name = booking.visit.name
    if start is None:
        if planned is None:
            raise BadInput(name, _("The house has no plan to take a date from. Give one, or plan the house."))
        start = planned[0]
    length = planned[1] - planned[0] if planned else 1
    finish = start + length if finish is None else finish
    now = clock.current_half_day(booking.house.builder.time_zone)
    if finish <= start:
        raise BadInput(name, _("It would end before it starts. Give a finish after the start."))
    if start < now:
        raise BadInput(
            name, _("%(start)s has passed. Give a date to come.") % {"start": clock.say_half_day(start)}
        )
    if planned is not None and start < planned[0]:
        raise BadInput(
            name,
            _("By the plan it cannot start before %(planned)s. Pencil it then, or later.")
            % {"planned": clock.say_half_day(planned[0])},
        )
    return start, finish


@guard.speaking()
def make_firm(booking: Booking, by: Person | None = None) -> Booking:
    """Make a pencilled booking firm: everything before it is released, and its date can be kept.

    Raises:
        WrongState: not pencilled; a hold before it is open (`missing` says what keeps it closed); its told
            date has passed or lies before the plan lets it start, word time of the crew included.
    """
    booking = lock_booking(booking)
    visit = booking.visit
    if booking.state != State.PENCILLED or booking.told_start is None:
        raise WrongState(
            _("%(visit)s is %(state)s. Only a pencilled booking with a told date becomes firm.")
            % {"visit": visit.name, "state": booking.get_state_display()}
        )
    _refuse_behind_hold(booking)
    told = clock.say_half_day(booking.told_start)
    if booking.told_start < clock.current_half_day(booking.house.builder.time_zone):
        raise WrongState(_("The told date %(told)s has passed. Pencil a new one first.") % {"told": told})
    planned = planned_window(visit)
    if planned is not None and booking.told_start < planned[0]:
        raise WrongState(
            _(
                "%(visit)s is told %(told)s, but by the plan, word time included, it starts %(planned)s. "
                "Pencil that date first."
            )
            % {"visit": visit.name, "told": told, "planned": clock.say_half_day(planned[0])}
        )
    move_state(booking, State.FIRM, (State.PENCILLED,), fell_back_at=None, sequence=F("sequence") + 1)
    words = _("%(visit)s firm %(told)s with %(crew)s") % {
        "visit": visit.name,
        "told": told,
        "crew": booking.crew.name,
    }
    write_act(booking, "made firm", words, by, told=[booking.told_start, booking.told_finish])
    telling.tell_crew(booking, _("everything before it is released"))
    return booking


def _refuse_behind_hold(booking: Booking) -> None:
    """Rule 1 in words: what is open before the visit, and what is missing there."""
    missing = [
        _("%(point)s has no hold: set the house out again or run the recount") % {"point": point.name}
        for point in holds.points_without_hold(booking.house)
    ]
    open_holds = list(holds.open_holds_before(booking.visit))
    if open_holds:
        states = port().missing([hold.pk for hold in open_holds])
        for hold in open_holds:
            lines = [one.words for one in states[hold.pk].missing] if hold.pk in states else []
            missing += [f"{hold.label}: {line}" for line in lines or [_("not released")]]
    if missing:
        names = ", ".join(hold.label for hold in open_holds) or _("a hold point")
        raise WrongState(
            _("%(visit)s cannot be firm: %(holds)s not released.")
            % {"visit": booking.visit.name, "holds": names},
            missing,
        )
