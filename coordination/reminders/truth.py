"""Whether a message is still true when it is about to be sent: plans move between writing and sending."""

from __future__ import annotations

from coordination import clock
from coordination.outbox.models import Message
from coordination.reminders.due import SPOKEN_OF
from coordination.reminders.spoken_of import bookings_of
from coordination.reminders.wanted import REMINDERS, are_wanted
from coordination.sequence.models import Booking


def still_true(message: Message) -> bool:
    """Whether the facts a message was written from still hold.

    A reminder names its booking and told start; it is stale when the booking is over, was told another date
    since, or that half-day has begun. A change is stale when a later change of the same booking stands in the
    outbox. Messages that name no booking are always true. Reminders that the crew does not want any more are
    stale.
    """
    if message.kind in REMINDERS and message.crew is not None and not are_wanted(message.crew):
        return False
    facts = message.facts
    spoken = bookings_of(message)
    if not spoken:
        return True
    found = Booking.objects.in_bulk(spoken)
    if not found:
        return False
    booking = found.get(spoken[0])
    if booking is None:
        # The first of several is gone with its visit; what is said of the others still is to be said.
        return True
    if message.kind in (Message.Kind.VISIT, Message.Kind.EVE):
        return (
            booking.state in SPOKEN_OF
            and booking.state != Booking.State.UNDER_WAY
            and booking.told_start is not None
            and booking.told_start == facts.get("told_start")
            and clock.now() < clock.starts_at(booking.told_start, message.builder.time_zone)
        )
    if message.kind == Message.Kind.WINDOW:
        return booking.state in SPOKEN_OF
    if message.kind == Message.Kind.CHANGE and not message.urgent:
        return not Message.objects.filter(
            recipient=message.recipient,
            kind=Message.Kind.CHANGE,
            about=message.about,
            superseded_at__isnull=True,
            pk__gt=message.pk,
        ).exists()
    return True
