"""What a crew answers and reports: yes, no, ready for the walk, at work, done.

Reports are facts and are accepted from any state: a crew that went past an open hold point did so, whatever
the booking said. It is written down as such, and planner and supervisor are told.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import F
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Crew, Person
from coordination.people.refusals import WrongState
from coordination.sequence import guard, holds, progress, telling
from coordination.sequence.booking_states import (
    lock_booking,
    move_state,
    refuse_other_crew,
    replan_after,
    write_act,
)
from coordination.sequence.going_past import move_report, remember
from coordination.sequence.inspection import port
from coordination.sequence.models import Booking

State = Booking.State


@guard.speaking()
def confirm(booking: Booking, crew: Crew | None = None) -> Booking:
    """The crew says yes to its date; what waits for its answer is answered.

    Raises:
        NotAllowed: another crew.
        WrongState: not asked, pencilled or firm.
    """
    booking = lock_booking(booking)
    refuse_other_crew(booking, crew)
    move_state(booking, booking.state, (State.ASKED, State.PENCILLED, State.FIRM), confirmed_at=clock.now())
    open_questions = Message.objects.filter(
        recipient=f"crew:{booking.crew_id}",
        about=f"booking:{booking.pk}",
        needs_answer=True,
        acknowledged_at__isnull=True,
        superseded_at__isnull=True,
    )
    open_questions.update(acknowledged_at=clock.now())
    words = _("%(crew)s confirmed %(visit)s") % {"crew": booking.crew.name, "visit": booking.visit.name}
    write_act(booking, "confirmed", words, None, booking.crew, told=[booking.told_start, booking.told_finish])
    return booking


@guard.speaking()
def decline(booking: Booking, crew: Crew | None = None, why: str = "") -> Booking:
    """The crew says no: reserved time is free again, the planners and the supervisor are told, dates follow.

    Raises:
        NotAllowed: another crew.
        WrongState: not asked, pencilled or firm.
    """
    booking = lock_booking(booking)
    refuse_other_crew(booking, crew)
    move_state(
        booking,
        State.DECLINED,
        (State.ASKED, State.PENCILLED, State.FIRM),
        reserved_time=None,
        confirmed_at=None,
        sequence=F("sequence") + 1,
    )
    telling.take_back_waiting([booking])
    names = {"crew": booking.crew.name, "visit": booking.visit.name}
    words = _("%(crew)s declined %(visit)s") % names
    reason = _("Why: %(why)s.") % {"why": why.strip().rstrip(".")} if why.strip() else ""
    write_act(booking, "declined", f"{words}. {reason}".strip(), None, booking.crew, why=why)
    now = clock.current_half_day(booking.house.builder.time_zone)
    near = booking.told_start is not None and telling.weekday_half_days(now, booking.told_start) <= 4
    telling.tell_office(
        booking.house,
        about=f"booking:{booking.pk}",
        version=f"declined {booking.sequence}",
        news=f"{words}.",
        why=reason,
        urgent=near,
    )
    replan_after(booking.house, words, None, booking.crew)
    return booking


# ---------------------------------------------------------------- reports of fact


def _report(booking: Booking, to: str, words: str, by: Person | None, crew: Crew | None) -> Booking:
    """A fact is accepted from any state. Behind an open hold it went past a hold point, and that is told."""
    booking = lock_booking(booking)
    refuse_other_crew(booking, crew)
    other = (
        Booking.objects.filter(visit=booking.visit, state__in=Booking.LIVE)
        .exclude(pk=booking.pk)
        .select_related("crew")
        .first()
    )
    if other is not None:
        raise WrongState(
            _("%(visit)s is booked with %(crew)s now. Report it there, or stand that booking down first.")
            % {"visit": booking.visit.name, "crew": other.crew.name}
        )
    open_holds = list(holds.open_holds_before(booking.visit).select_related("point"))
    before = remember(booking.visit, booking)
    words = words % {"visit": booking.visit.name, "crew": booking.crew.name}
    move_report(booking, to, words, by, crew, open_holds, before)
    return booking


def is_before_its_day(state: str, told_start: int | None, zone: str) -> bool:
    """Whether a crew that is not at work yet was told a later day than today, or none at all.

    Args:
        state, told_start: of its booking.
        zone: the builder's time zone.
    """
    if state in (State.UNDER_WAY, State.DONE):
        return False
    return told_start is None or clock.as_date(told_start)[0] > clock.today(zone)


@guard.speaking()
def report_under_way(booking: Booking, *, by: Person | None = None, crew: Crew | None = None) -> Booking:
    """The crew is at work, whatever the state was. Behind an open hold planner and supervisor are told.

    The visit's first activity has started with this half-day, unless its start was reported before.

    Raises:
        NotAllowed: another crew reports.
        WrongState: the visit is booked with another crew by now.
    """
    booking = _report(booking, State.UNDER_WAY, _("%(visit)s under way (%(crew)s)"), by, crew)
    if booking.house.plans.exists():
        now = clock.current_half_day(booking.house.builder.time_zone)
        progress.visit_started(booking.visit, now, by=by, crew=crew)
    return booking


@guard.speaking()
def report_done(booking: Booking, *, by: Person | None = None, crew: Crew | None = None) -> Booking:
    """The work of the visit is done, whatever the state was; unsent messages about it are taken back.

    Its activities that were not reported as finished are finished with this half-day. A crew that says so
    before the day that it was told is believed, and the office is told.

    Raises: as `report_under_way`.
    """
    booking = lock_booking(booking)
    zone = booking.house.builder.time_zone
    early = crew is not None and is_before_its_day(booking.state, booking.told_start, zone)
    booking = _report(booking, State.DONE, _("%(visit)s done (%(crew)s)"), by, crew)
    telling.take_back_waiting([booking])
    if early:
        names = {
            "visit": booking.visit.name,
            "crew": booking.crew.name,
            "start": clock.say_half_day(booking.told_start),
        }
        telling.tell_office(
            booking.house,
            about=f"booking:{booking.pk}",
            version=f"done early {booking.sequence}",
            news=_("%(visit)s reported done by %(crew)s before its day (%(start)s).") % names,
        )
    if booking.house.plans.exists():
        now = clock.current_half_day(booking.house.builder.time_zone)
        progress.visit_done(booking.visit, now, by=by, crew=crew)
    return booking


@guard.speaking()
def call_ready(booking: Booking, note: str = "", *, crew: Crew | None = None) -> Sequence[str]:
    """The crew calls its points ready for the walk; returns the labels of the points called.

    Raises:
        NotAllowed: another crew.
        WrongState: declined or stood down.
    """
    booking = lock_booking(booking)
    refuse_other_crew(booking, crew)
    move_state(booking, booking.state, Booking.LIVE, ready_at=clock.now())
    labels = list(port().call_ready(visit_id=booking.visit_id, crew=booking.crew, note=note))
    words = _("%(crew)s calls ready for the walk: %(points)s") % {
        "crew": booking.crew.name,
        "points": ", ".join(labels) or booking.visit.name,
    }
    write_act(booking, "called ready", words, None, booking.crew, points=labels, note=note)
    return labels


@guard.speaking()
def take_back_call(booking: Booking, crew: Crew) -> Sequence[str]:
    """The crew is not ready for the walk after all; returns the labels of the points called no more.

    Raises:
        NotAllowed: another crew.
        WrongState: declined or stood down, or nothing of it is called any more.
    """
    booking = lock_booking(booking)
    refuse_other_crew(booking, crew)
    labels = list(port().take_back_call(visit_id=booking.visit_id, crew=booking.crew))
    move_state(booking, booking.state, Booking.LIVE, ready_at=None)
    words = _("%(crew)s is not ready for the walk after all: %(points)s") % {
        "crew": booking.crew.name,
        "points": ", ".join(labels),
    }
    write_act(booking, "call taken back", words, None, booking.crew, points=labels)
    return labels
