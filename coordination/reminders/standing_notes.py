"""What a mail adds to a message when it is sent: closed hold points, the way in, the trade's caution.

Read at the moment of sending and not when the message was written: a hold point may be released or opened
again in between, and a crew that drives must know how it stands now.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from django.utils.translation import gettext as _

from coordination.outbox.models import Message
from coordination.sequence.cautions import cautions_of
from coordination.sequence.models import Booking, HoldBefore, House

HELD = (Message.Kind.VISIT, Message.Kind.EVE, Message.Kind.CHANGE)
"""Kinds that say when a crew comes: they also say when it must not begin."""
CAUTIONED = (Message.Kind.VISIT, Message.Kind.EVE)


def notes_for(messages: Sequence[Message]) -> dict[int, list[str]]:
    """Message id → the lines that go below its text; none for messages that speak of no booking.

    At most five queries, however many messages there are.
    """
    of_booking = {
        one.pk: one.facts["booking"] for one in messages if one.kind in HELD and "booking" in one.facts
    }
    bookings = (
        Booking.objects.filter(pk__in=set(of_booking.values()), state__in=Booking.LIVE)
        .select_related("visit__house__supervisor", "visit__house__builder")
        .in_bulk()
    )
    visits = {one.visit_id for one in bookings.values()}
    held = _held_by(visits)
    cautions = cautions_of(visits) if visits else {}
    notes: dict[int, list[str]] = {}
    for message in messages:
        booking = bookings.get(of_booking.get(message.pk, 0))
        if booking is not None:
            notes[message.pk] = _write(
                message, booking.visit.house, held[booking.visit_id], cautions, booking
            )
    return {pk: lines for pk, lines in notes.items() if lines}


def _held_by(visits: Iterable[int]) -> Mapping[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    rows = HoldBefore.objects.filter(
        visit__in=visits, hold__lifted_at__isnull=True, hold__set_aside_at__isnull=True
    )
    for visit, label in rows.order_by("hold__point__order").values_list("visit", "hold__label"):
        found[visit].append(label)
    return found


def _write(
    message: Message, house: House, held: Sequence[str], cautions: Mapping[int, str], booking: Booking
) -> list[str]:
    lines = []
    if held and booking.state != Booking.State.UNDER_WAY:
        words = _("Not to be started yet. Not released: %(holds)s. You hear from us when it is.")
        lines.append(words % {"holds": ", ".join(held)})
    if message.kind == Message.Kind.EVE:
        lines += _say_way_in(house)
    caution = cautions.get(booking.visit_id, "")
    if caution and message.kind in CAUTIONED:
        lines.append(_("Caution: %(caution)s") % {"caution": caution})
    return lines


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
