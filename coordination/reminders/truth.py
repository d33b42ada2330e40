"""Whether a message is still true when it is about to be sent: plans move between writing and sending."""

from __future__ import annotations

from coordination import clock
from coordination.outbox.models import Message
from coordination.reminders.due import SPOKEN_OF
from coordination.sequence.models import Booking


def still_true(message: Message) -> bool:
    """Whether the facts a message was written from still hold.

    A reminder names its booking and told start; it is stale when the booking is over, was told another date
    since, or that half-day has begun. A change is stale when a later change of the same booking stands in the
    outbox. Messages that name no booking are always true.
    """
    facts = message.facts
    if "booking" not in facts:
        return True
    booking = Booking.objects.filter(pk=facts["booking"]).first()
    if booking is None:
        return False
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
