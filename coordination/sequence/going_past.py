"""A visit that went past an open hold point, whoever reports it: the booking says so, record and office too.

A report is a fact and is taken; what it went past stays on the record until a named person has decided. What
was done before a hold point closed again went past nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import F
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.sequence import telling
from coordination.sequence.booking_states import move_state, write_act
from coordination.sequence.diary import write_change
from coordination.sequence.inspection import port
from coordination.sequence.models import Activity, Booking, Change, Hold, HoldBefore, House, Visit
from coordination.sequence.reports import Report

REPORTS = ("under way", "done")
State = Booking.State


@dataclass(frozen=True)
class Held:
    """A visit behind open holds, as it stood before it was reported. Without a live booking nobody has it."""

    visit: Visit
    booking: Booking | None
    open_holds: tuple[Hold, ...]
    before: Mapping[str, Any]


def remember(visit: Visit, booking: Booking | None) -> dict[str, Any]:
    """How things stand before a report, for whoever has to take it back as a mistake."""
    before: dict[str, Any] = {"activities": _facts_of(visit)}
    if booking is not None:
        before |= {
            "state": booking.state,
            "on_site": booking.on_site,
            "went_past_hold": booking.went_past_hold,
        }
    return before


def _facts_of(visit: Visit) -> dict[str, list[int | None]]:
    reported = visit.activities.values_list("pk", "actual_start", "actual_finish", "remaining")
    return {str(pk): list(facts) for pk, *facts in reported}


def find_held(house: House, reports: Sequence[Report], by_key: Mapping[str, Activity]) -> list[Held]:
    """Visits that reports of work concern and that a hold, open when the work was done, stands before.

    Call it before the reports are applied. Fixed number of queries, but for each visit found two.
    """
    latest: dict[int, int] = {}
    for report in reports:
        visit = by_key[report.key].visit_id if report.key in by_key else None
        instant = report.started if report.last is None else report.last
        if visit is not None and instant is not None:
            latest[visit] = max(latest.get(visit, instant), instant)
    behind = HoldBefore.objects.filter(
        visit__in=latest, hold__lifted_at__isnull=True, hold__set_aside_at__isnull=True
    )
    rows = list(behind.select_related("hold__point", "visit").order_by("hold__point__order", "hold"))
    closed = _closed_since(house, {one.hold_id for one in rows})
    found: dict[int, list[Hold]] = defaultdict(list)
    for one in rows:
        if latest[one.visit_id] >= closed.get(one.hold_id, 0):
            found[one.visit_id].append(one.hold)
    visits = {one.visit_id: one.visit for one in rows}
    booked = Booking.objects.filter(visit__in=found, state__in=Booking.LIVE)
    bookings = {one.visit_id: one for one in booked.select_related("house__builder", "crew", "visit")}
    return [
        Held(visits[pk], bookings.get(pk), tuple(holds), remember(visits[pk], bookings.get(pk)))
        for pk, holds in found.items()
    ]


def _closed_since(house: House, holds: Iterable[int]) -> dict[int, int]:
    """Hold id → half-day in which it closed after it had been open; holds that never were are left out."""
    lines = Change.objects.filter(
        house=house, what="hold closed again", about__in=[f"hold:{pk}" for pk in holds]
    )
    zone = house.builder.time_zone
    return {
        int(about.removeprefix("hold:")): clock.half_day_of(at, zone)
        for about, at, facts in lines.order_by("pk").values_list("about", "at", "facts")
        # Closed again for further rooms, it had not been open in between.
        if facts.get("release") or facts.get("set_aside")
    }


def note_gone_past(held: Iterable[Held], by: Person | None, crew: Crew | None) -> None:
    """After reports were applied: what went past a hold point is under way or done, recorded and told."""
    for one in held:
        finished = not one.visit.activities.filter(actual_finish__isnull=True).exists()
        # A crew that said it is done is not at work again because of a late report.
        finished = finished or (one.booking is not None and one.booking.state == State.DONE)
        to = State.DONE if finished else State.UNDER_WAY
        if one.booking is None:
            _note_without_booking(one, to, by)
            continue
        words = _("%(visit)s done (%(crew)s)") if finished else _("%(visit)s under way (%(crew)s)")
        names = {"visit": one.visit.name, "crew": one.booking.crew.name}
        move_report(one.booking, to, words % names, by, crew, one.open_holds, one.before)
        if finished:
            telling.take_back_waiting([one.booking])


def move_report(
    booking: Booking,
    to: str,
    words: str,
    by: Person | None,
    crew: Crew | None,
    open_holds: Sequence[Hold],
    before: Mapping[str, Any],
) -> None:
    """Move a booking to what was reported; behind an open hold it went past it, and that is told."""
    values: dict[str, Any] = {"went_past_hold": True} if open_holds else {}
    if to == State.DONE and booking.visit.delivery:
        values["on_site"] = True
    move_state(booking, to, State.values, **values)
    what = "done" if to == State.DONE else "under way"
    write_act(booking, what, words, by, crew, went_past=[hold.pk for hold in open_holds], was=before)
    if open_holds:
        about, version = f"booking:{booking.pk}", f"went past {to} {booking.sequence}"
        _record(booking.house, booking.visit, to, open_holds, booking)
        _tell(booking.house, about, version, words, open_holds)


def _note_without_booking(held: Held, to: str, by: Person | None) -> None:
    house, visit = House.objects.select_related("builder").get(pk=held.visit.house_id), held.visit
    words = (_("%(visit)s done") if to == State.DONE else _("%(visit)s under way")) % {"visit": visit.name}
    facts = {"went_past": [hold.pk for hold in held.open_holds], "was": held.before}
    change = write_change(house, "went past", f"visit:{visit.pk}", words, facts, by)
    _record(house, visit, to, held.open_holds)
    _tell(house, f"visit:{visit.pk}", f"went past {change.pk}", words, held.open_holds)


def _record(
    house: House, visit: Visit, to: str, open_holds: Sequence[Hold], booking: Booking | None = None
) -> None:
    facts = {
        "visit": visit.name,
        "visit_key": visit.key,
        "crew": booking.crew.name if booking else "",
        "state": str(to),
        "holds": say_holds(open_holds),
        "booking": booking.pk if booking else None,
        "points": [hold.point.key for hold in open_holds],
    }
    port().record_act(house, "went past", facts)


def _tell(house: House, about: str, version: str, words: str, open_holds: Sequence[Hold]) -> None:
    news = _("%(words)s: went past hold point %(holds)s.") % {"words": words, "holds": say_holds(open_holds)}
    telling.tell_office(house, about=about, version=version, news=news, urgent=True)


def say_holds(open_holds: Iterable[Hold]) -> str:
    """'Services and air seal, Insulation'."""
    return ", ".join(hold.label for hold in open_holds)


def restore_booking(activity: Activity, words: str, by: Person | None) -> None:
    """The office took a report of an activity back: a booking that its report had moved stands as before it.

    What the crew itself reported last is the crew's. That a hold point was gone past stays on the record
    until a named person has decided about it.
    """
    visit = activity.visit
    booking = (
        Booking.objects.filter(visit=visit, state__in=Booking.LIVE)
        .select_related("house__builder", "crew", "visit")
        .first()
    )
    if visit is None or booking is None:
        return
    was = _state_before(booking, _facts_of(visit))
    if was is None:
        return
    # Nothing becomes firm by a correction.
    state = State.PENCILLED if was["state"] == State.FIRM else was["state"]
    put_back(booking, {**was, "state": state})
    write_act(booking, "taken back", words, by)
    tell_taken_back(booking, words, report=words, version=str(booking.sequence), went_past=True)


def put_back(booking: Booking, was: Mapping[str, Any]) -> None:
    """A booking stands again as it was remembered before a report (see `remember`)."""
    values = {key: was[key] for key in ("on_site", "went_past_hold")}
    move_state(booking, was["state"], (booking.state,), sequence=F("sequence") + 1, **values)


def tell_taken_back(booking: Booking, words: str, *, report: str, version: str, went_past: bool) -> None:
    """The office hears that a report was a mistake: where it went past a hold, urgently and on the record."""
    facts = {
        "visit": booking.visit.name,
        "crew": booking.crew.name,
        "report": report,
        "booking": booking.pk,
    }
    if went_past:
        port().record_act(booking.house, "report taken back", facts)
    telling.tell_office(
        booking.house,
        about=f"booking:{booking.pk}",
        version=f"taken back {version}",
        news=f"{words}.",
        urgent=went_past,
    )


def _state_before(booking: Booking, activities: Mapping[str, Any]) -> dict[str, Any] | None:
    """How the booking stood before the office's report of work that is as unreported now as it was then."""
    if booking.state not in REPORTS:
        return None
    lines = Change.objects.filter(
        house=booking.house_id, about=f"booking:{booking.pk}", what__in=(*REPORTS, "stood down", "asked")
    )
    newest: dict[str, Any] | None = None
    for line in lines.order_by("-pk"):
        if line.what not in REPORTS or line.crew_id is not None or not line.facts.get("went_past"):
            break
        was: dict[str, Any] = line.facts["was"]
        newest = newest or was
        if was["activities"] == activities:
            return was if was["state"] != booking.state else None
    if (
        newest is None
        or booking.state != State.DONE
        or all(one[1] is not None for one in activities.values())
    ):
        return None
    # Begun and finished were reported at once; only the finish was taken back.
    return {**newest, "state": State.UNDER_WAY, "went_past_hold": True}
