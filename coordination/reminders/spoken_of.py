"""Which bookings a message speaks of: a change may speak of several, a reminder speaks of one."""

from __future__ import annotations

from coordination.outbox.models import Message


def bookings_of(message: Message) -> list[int]:
    """Ids of the bookings that a message to a crew speaks of, the one that it is about first.

    A change keeps its facts by booking (`bookings` is a mapping of ids to what was told), a reminder keeps a
    list. A look-ahead lists visits without speaking of one of them, so its list is not the answer to this:
    it names no `booking`.
    """
    facts = message.facts
    if "booking" not in facts:
        return []
    return list(dict.fromkeys([int(facts["booking"]), *(int(one) for one in facts.get("bookings", ()))]))
