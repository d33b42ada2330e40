"""A crew takes back what it reported by mistake: a correction beside the report, which stays in the diary.

Possible for a short while, and only until somebody else has acted on the house: after that others have gone
by the report, and the office corrects it on the house's page.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew
from coordination.people.refusals import WrongState
from coordination.sequence import guard, telling
from coordination.sequence.booking_states import (
    lock_booking,
    refuse_other_crew,
    replan_after,
    write_act,
)
from coordination.sequence.diary import NOTED, write_change
from coordination.sequence.going_past import REPORTS, put_back, tell_taken_back
from coordination.sequence.models import Activity, Booking, Change

WITHIN = dt.timedelta(hours=2)
"""How long a crew may say that its own report was a mistake."""

State = Booking.State


def latest_reports(bookings: Mapping[int, int], crew: Crew) -> dict[int, Change]:
    """Booking id → the report that its crew may still take back; bookings without one are left out.

    Two queries for any number of bookings.

    Args:
        bookings: booking id → house id.
    """
    own = list(
        Change.objects.filter(
            house__in=set(bookings.values()),
            about__in=[f"booking:{pk}" for pk in bookings],
            crew=crew,
            at__gt=clock.now() - WITHIN,
        ).order_by("pk")
    )
    taken = {line.facts.get("report") for line in own if line.what == "taken back"}
    found: dict[int, Change] = {}
    for line in own:
        if line.what not in REPORTS or line.pk in taken:
            continue
        # Said twice, it is one report: the second one changed nothing.
        if line.facts.get("was", {}).get("state") not in (None, line.facts["state"]):
            found[int(line.about.removeprefix("booking:"))] = line
    acted = Change.objects.filter(house__in=[line.house_id for line in found.values()])
    acted = acted.exclude(by=None, crew=None).exclude(what=NOTED)
    later: dict[int, list[tuple[int, int | None]]] = {}
    recent = acted.filter(pk__gt=min((line.pk for line in found.values()), default=0))
    for house, pk, who in recent.values_list("house", "pk", "crew"):
        later.setdefault(house, []).append((pk, who))
    return {
        booking: line
        for booking, line in found.items()
        if all(pk <= line.pk or who == crew.pk for pk, who in later.get(line.house_id, ()))
    }


@guard.speaking()
def take_back_report(booking: Booking, crew: Crew) -> Booking:
    """The crew's latest report of this visit was a mistake: booking and activities stand as before it.

    The office is told. That a hold point was reported as gone past stays on the house's record until a named
    person has decided about it: whether work went on there is not for the crew alone to say.

    Raises:
        NotAllowed: another crew.
        WrongState: nothing was reported within `WITHIN`, or somebody has acted on the house since.
    """
    booking = lock_booking(booking)
    refuse_other_crew(booking, crew)
    line = latest_reports({booking.pk: booking.house_id}, crew).get(booking.pk)
    if line is None or booking.state != line.facts["state"]:
        raise WrongState(
            _("This can no longer be taken back here: too long ago, or others went on since. Ring %(who)s.")
            % {"who": whom_to_ring(booking)}
        )
    was = line.facts["was"]
    _restore(booking.visit.activities.all(), was["activities"], crew)
    put_back(booking, was)
    names = {"visit": booking.visit.name, "crew": booking.crew.name, "report": _say_report(line.what)}
    words = _("%(visit)s is not %(report)s: %(crew)s reported it by mistake") % names
    write_act(booking, "taken back", words, None, crew, report=line.pk)
    went_past = bool(line.facts.get("went_past"))
    tell_taken_back(booking, words, report=line.what, version=str(line.pk), went_past=went_past)
    # What the report made unsent is told after all, unless the crew knows it.
    if booking.state in (State.PENCILLED, State.FIRM) and telling.last_seen(booking) != telling.facts_of(
        booking
    ):
        telling.tell_crew(booking, _("reported by mistake"))
    replan_after(booking.house, words, None, crew)
    return booking


def _restore(activities: Iterable[Activity], before: Mapping[str, list[Any]], crew: Crew) -> None:
    for activity in activities:
        now = [activity.actual_start, activity.actual_finish, activity.remaining]
        then = before.get(str(activity.pk), now)
        if now == then:
            continue
        facts = {"start": now[0], "finish": now[1]}
        activity.actual_start, activity.actual_finish, activity.remaining = then
        activity.save(update_fields=["actual_start", "actual_finish", "remaining"])
        words = _("%(name)s: reported by mistake, taken back") % {"name": activity.name}
        write_change(activity.house, "taken back", f"activity:{activity.pk}", words, facts, None, crew)


def _say_report(what: str) -> str:
    return _("done") if what == "done" else _("under way")


def whom_to_ring(booking: Booking) -> str:
    """The house's supervisor with a number, else the builder."""
    supervisor = booking.house.supervisor
    phone = (supervisor.phone if supervisor else "") or booking.house.builder.phone
    name = supervisor.name if supervisor else booking.house.builder.name
    return f"{name} {phone}".strip()
