"""What a mail adds to a message when it is sent: closed hold points, the way in, the trade's caution.

Read at the moment of sending and not when the message was written: a hold point may be released or opened
again in between, and a crew that drives must know how it stands now.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from django.utils.translation import gettext as _

from coordination.outbox.models import Message
from coordination.reminders.spoken_of import bookings_of
from coordination.sequence.cautions import cautions_of
from coordination.sequence.models import Booking, HoldBefore, House

HELD = (Message.Kind.VISIT, Message.Kind.EVE, Message.Kind.CHANGE, Message.Kind.STOP)
"""Kinds that say when a crew comes: they also say when it must not begin. A stop is one where it also takes
bookings back that were to begin later."""
CAUTIONED = (Message.Kind.VISIT, Message.Kind.EVE)


@dataclass(frozen=True)
class _Open:
    """A hold point that is closed to a visit: neither released nor set aside."""

    hold: int
    label: str


def notes_for(messages: Sequence[Message]) -> dict[int, list[str]]:
    """Message id → the lines that go below its text; none for messages that speak of no booking.

    At most five queries, however many messages and bookings there are.
    """
    spoken = {one.pk: bookings_of(one) for one in messages if one.kind in HELD}
    bookings = (
        Booking.objects.filter(pk__in=set(chain(*spoken.values())), state__in=Booking.LIVE)
        .select_related("visit__house__supervisor", "visit__house__builder")
        .in_bulk()
    )
    visits = {one.visit_id for one in bookings.values()}
    held = _held_by(visits)
    cautions = cautions_of(visits) if visits else {}
    notes: dict[int, list[str]] = {}
    for message in messages:
        of_message = [bookings[pk] for pk in spoken.get(message.pk, ()) if pk in bookings]
        if of_message:
            notes[message.pk] = _write(message, of_message, held, cautions)
    return {pk: lines for pk, lines in notes.items() if lines}


def _held_by(visits: Iterable[int]) -> Mapping[int, list[_Open]]:
    found: dict[int, list[_Open]] = defaultdict(list)
    rows = HoldBefore.objects.filter(
        visit__in=visits, hold__lifted_at__isnull=True, hold__set_aside_at__isnull=True
    )
    ordered = rows.order_by("hold__point__order", "hold")
    for visit, hold, label in ordered.values_list("visit", "hold", "hold__label"):
        found[visit].append(_Open(hold, label))
    return found


def _write(
    message: Message,
    bookings: Sequence[Booking],
    held: Mapping[int, Sequence[_Open]],
    cautions: Mapping[int, str],
) -> list[str]:
    lines = _say_closed(bookings, held, of=len(bookings_of(message)))
    if message.kind == Message.Kind.EVE:
        for house in {one.visit.house_id: one.visit.house for one in bookings}.values():
            lines += _say_way_in(house)
    if message.kind in CAUTIONED:
        said = dict.fromkeys(cautions.get(one.visit_id, "") for one in bookings)
        lines += [_("Caution: %(caution)s") % {"caution": caution} for caution in said if caution]
    return lines


def _say_closed(bookings: Sequence[Booking], held: Mapping[int, Sequence[_Open]], *, of: int) -> list[str]:
    """One line: each closed hold point once. Which visits wait for it is said unless all of the message do.

    Args:
        bookings: those of the message that stand.
        held: visit id → the hold points closed to it.
        of: how many bookings the message speaks of.
    """
    waiting: dict[_Open, list[str]] = {}
    for booking in bookings:
        if booking.state not in (Booking.State.UNDER_WAY, Booking.State.DONE):
            for one in held.get(booking.visit_id, ()):
                waiting.setdefault(one, []).append(booking.visit.name)
    if not waiting:
        return []
    together: dict[tuple[str, ...], list[str]] = {}
    for one, visits in waiting.items():
        together.setdefault(tuple(visits), []).append(one.label)
    groups = [_say_group(labels, visits if len(visits) < of else ()) for visits, labels in together.items()]
    words = _("Not to be started yet. Not released: %(holds)s. You hear from us when it is.")
    return [words % {"holds": "; ".join(groups)}]


def _say_group(labels: Sequence[str], visits: Sequence[str]) -> str:
    holds = ", ".join(labels)
    if not visits:
        return holds
    return _("%(holds)s (before %(visits)s)") % {"holds": holds, "visits": ", ".join(visits)}


def _say_way_in(house: House) -> list[str]:
    """Keys, access, parking, hazards, and whom to ring: what a crew needs at the gate."""
    said = (
        (_("Keys: %(what)s."), house.keys_at),
        (_("Access: %(what)s."), house.access),
        (_("Parking: %(what)s."), house.parking),
        (_("Hazards on site: %(what)s."), house.hazards),
    )
    lines = [words % {"what": what.rstrip(".")} for words, what in said if what]
    someone = house.supervisor
    if someone is not None:
        phone = someone.phone or house.builder.phone
        words = _("On site for us: %(name)s, %(phone)s.") if phone else _("On site for us: %(name)s.")
        lines.append(words % {"name": someone.name, "phone": phone})
    return lines
