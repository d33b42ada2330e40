"""What crews and the office are told when a booking changes: message rows, and what the crew has seen.

Texts are short (300 characters) and their first 60 say builder and house, for that is all a phone shows. A
message that was not sent yet is taken back by the next one about the same booking; when that brings the crew
back to what it was told last, nothing is sent at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain, takewhile
from typing import Any

from django.utils.text import Truncator
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put, supersede
from coordination.people.access import holders_of
from coordination.people.models import Crew, Person, Role
from coordination.sequence.models import Booking, Hold, House, ToldDate
from coordination.sequence.promising import give_promise

LONGEST_TEXT = 300
URGENT_WITHIN = 4
"""Half-days of Monday to Friday (two days) before a start within which a change is told at once."""
CHANGES = (Message.Kind.CHANGE, Message.Kind.STOP)


def cut(text: str, longest: int) -> str:
    """The text, shortened with an ellipsis when it is too long."""
    return Truncator(text).chars(max(longest, 1))


def address_of(house: House) -> str:
    """Builder and house in at most 60 characters."""
    return f"{cut(house.builder.name, 26)}, {cut(house.name, 30)}"


def compose(house: House, news: str, why: str = "", last: str = "") -> str:
    """One text of at most 300 characters; what is too long is cut out of the reason, then of the news."""
    head, tail = f"{address_of(house)}: ", f" {last}" if last else ""
    if house.builder.phone:
        tail += " " + _("Ring %(phone)s.") % {"phone": house.builder.phone}
    news = cut(news, LONGEST_TEXT - len(head) - len(tail))
    room = LONGEST_TEXT - len(head) - len(news) - len(tail) - 1
    reason = f" {cut(why, room)}" if why and room > 10 else ""
    return head + news + reason + tail


def weekday_half_days(now: int, half_day: int) -> int:
    """Half-days of Monday to Friday from now until a half-day; 0 when it has passed. Counts to 30 days."""
    return sum(clock.as_date(one)[0].weekday() < 5 for one in range(now, min(half_day, now + 60)))


def facts_of(booking: Booking) -> dict[str, Any]:
    """What a message says of a booking, as a program compares it."""
    return {"state": booking.state, "told_start": booking.told_start, "told_finish": booking.told_finish}


def _message_facts(bookings: Sequence[Booking], **more: Any) -> dict[str, Any]:
    first = bookings[0]
    return {
        "booking": first.pk,
        **facts_of(first),
        "bookings": {str(one.pk): facts_of(one) for one in bookings},
        **more,
    }


def _about(message: Message, booking: Booking) -> bool:
    return str(booking.pk) in message.facts.get("bookings", {})


def last_seen(booking: Booking) -> dict[str, Any] | None:
    """What the latest message that left the outbox told the crew about the booking; None when none did."""
    left = Message.objects.filter(
        recipient=f"crew:{booking.crew_id}", kind__in=CHANGES, superseded_at__isnull=True
    ).exclude(sent_at__isnull=True, claimed_at__isnull=True)
    for message in left.order_by("-pk"):
        if _about(message, booking):
            facts: dict[str, Any] = message.facts["bookings"][str(booking.pk)]
            return facts
    return None


def waiting_for(booking: Booking) -> list[Message]:
    """Changes of the booking that its crew has not been sent yet."""
    waiting = Message.objects.filter(
        recipient=f"crew:{booking.crew_id}",
        kind__in=CHANGES,
        sent_at__isnull=True,
        claimed_at__isnull=True,
        superseded_at__isnull=True,
    )
    return [message for message in waiting.order_by("pk") if _about(message, booking)]


def take_back_waiting(bookings: Sequence[Booking]) -> list[Message]:
    """Take back unsent changes of these bookings (of one crew); returns them.

    A message that also spoke of other bookings is put again for those alone.
    """
    taken: dict[int, Message] = {}
    for booking in bookings:
        for message in waiting_for(booking):
            if supersede(about=message.about, kinds=CHANGES, recipient=message.recipient):
                taken[message.pk] = message
    own = {booking.pk for booking in bookings}
    for message in taken.values():
        others = {int(key) for key in message.facts["bookings"]} - own
        rest = list(Booking.objects.filter(pk__in=others).select_related("house__builder", "crew", "visit"))
        if rest:
            _put_fallen(rest, message.facts.get("why", ""))
    return list(taken.values())


def _put_fallen(bookings: Sequence[Booking], why: str) -> Message | None:
    first = bookings[0]
    names = ", ".join(one.visit.name for one in bookings)
    news = _("no longer firm, keep the day. %(visits)s: pencilled %(dates)s.") % {
        "visits": names,
        "dates": clock.say_dates(first.told_start or 0, first.told_finish or 0),
    }
    return put(
        builder=first.house.builder,
        to=first.crew,
        kind=Message.Kind.CHANGE,
        about=f"booking:{first.pk}",
        version=str(first.sequence),
        subject=cut(f"{address_of(first.house)}: " + _("not firm: %(visits)s") % {"visits": names}, 200),
        body=compose(first.house, news, f"{why.rstrip('.')}." if why else "", _("Please answer.")),
        facts=_message_facts(bookings, why=why),
        urgent=True,
        needs_answer=True,
    )


def note_told(booking: Booking, why: str) -> None:
    """Keep what the crew was told, as it stands now."""
    if booking.told_start is not None and booking.told_finish is not None:
        ToldDate.objects.create(
            booking=booking,
            start=booking.told_start,
            finish=booking.told_finish,
            state=booking.state,
            at=clock.now(),
            why=why[:200],
        )
        give_promise(booking)


def tell_crew(
    booking: Booking, why: str, *, was: tuple[int, int] | None = None, needs_answer: bool = True
) -> Message | None:
    """Tell a crew, once, how its booking stands now; None when that is what it was sent last.

    Args:
        why: the reason in a few words.
        was: told start and exclusive finish before; names the old date beside the new one.
    """
    house, taken = booking.house, take_back_waiting([booking])
    seen = last_seen(booking)
    if taken and (seen == facts_of(booking) or (seen is None and booking.state == Booking.State.STOOD_DOWN)):
        return None
    start, finish = booking.told_start or 0, booking.told_finish or 0
    words = {"visit": booking.visit.name, "dates": clock.say_dates(start, finish)}
    news = {
        Booking.State.PENCILLED: _("%(visit)s pencilled %(dates)s."),
        Booking.State.FIRM: _("%(visit)s firm %(dates)s."),
        Booking.State.STOOD_DOWN: _("%(visit)s stood down, not needed %(dates)s."),
    }[Booking.State(booking.state)] % words
    subject = {
        Booking.State.PENCILLED: _("%(visit)s pencilled %(start)s"),
        Booking.State.FIRM: _("%(visit)s firm %(start)s"),
        Booking.State.STOOD_DOWN: _("%(visit)s stood down"),
    }[Booking.State(booking.state)] % {"visit": booking.visit.name, "start": clock.say_half_day(start)}
    if was is not None and was[0] != start:
        news += " " + _("Was %(start)s.") % {"start": clock.say_half_day(was[0])}
    now = clock.current_half_day(house.builder.time_zone)
    message = put(
        builder=house.builder,
        to=booking.crew,
        kind=Message.Kind.CHANGE,
        about=f"booking:{booking.pk}",
        version=str(booking.sequence),
        subject=cut(f"{address_of(house)}: {subject}", 200),
        body=compose(house, news, _reason(why), _("Please answer.") if needs_answer else ""),
        facts=_message_facts([booking], why=why, was=list(was) if was else None),
        urgent=weekday_half_days(now, min(start, was[0]) if was else start) <= URGENT_WITHIN,
        needs_answer=needs_answer,
    )
    if message is not None:
        note_told(booking, why)
    return message


def _reason(why: str) -> str:
    return _("Why: %(why)s.") % {"why": why.rstrip(".")} if why else ""


def tell_reopened(
    hold: Hold,
    crew: Crew,
    fallen: Sequence[Booking],
    under_way: Sequence[Booking],
    rooms: Sequence[str],
    why: str,
) -> Message | None:
    """Exactly one message for a crew behind a hold that closed again: urgent, to be acknowledged.

    A crew under way gets a stop for the rooms; unsent messages of these bookings are taken back, and rooms
    that an unsent stop named are named again.
    """
    bookings = [*under_way, *fallen]
    house = bookings[0].house
    taken = take_back_waiting(bookings)
    why = _("%(hold)s re-opened: %(why)s") % {"hold": hold.label, "why": why}
    if not under_way:
        message = _put_fallen(fallen, why)
    else:
        earlier = [room for one in taken if one.kind == Message.Kind.STOP for room in one.facts["rooms"]]
        all_rooms = list(dict.fromkeys([*earlier, *rooms]))
        where = ", ".join(all_rooms) or _("the whole house")
        news = _("Stop in %(rooms)s.") % {"rooms": where}
        if fallen:
            news += " " + _("%(visits)s: no longer firm, keep the day.") % {
                "visits": ", ".join(one.visit.name for one in fallen)
            }
        message = put(
            builder=house.builder,
            to=crew,
            kind=Message.Kind.STOP,
            about=f"booking:{bookings[0].pk}",
            version=str(bookings[0].sequence),
            subject=cut(f"{address_of(house)}: " + _("stop in %(rooms)s") % {"rooms": where}, 200),
            body=compose(house, news, f"{why}.", _("Please answer.")),
            facts=_message_facts(bookings, why=why, rooms=all_rooms, hold=hold.pk),
            urgent=True,
            needs_answer=True,
        )
    for booking in fallen:
        note_told(booking, why)
    return message


def tell_go_on(hold: Hold, booking: Booking) -> Message | None:
    """A hold lifted again: take an unsent stop back; say 'go on' in the rooms of those that were sent."""
    stops = [one for one in waiting_for(booking) if one.kind == Message.Kind.STOP]
    if any(one.facts.get("hold") == hold.pk for one in stops):
        take_back_waiting([booking])
    sent = [
        one
        for one in Message.objects.filter(
            recipient=f"crew:{booking.crew_id}", kind__in=CHANGES, superseded_at__isnull=True
        ).order_by("-pk")
        if _about(one, booking)
    ]
    stopped = list(
        takewhile(lambda one: one.kind == Message.Kind.STOP and one.facts.get("hold") == hold.pk, sent)
    )
    if not stopped:
        return None
    named = [one.facts["rooms"] for one in reversed(stopped)]
    # A stop that names no room was for the whole house.
    rooms = ", ".join(dict.fromkeys(chain(*named))) if all(named) else _("the whole house")
    return put(
        builder=booking.house.builder,
        to=booking.crew,
        kind=Message.Kind.CHANGE,
        about=f"booking:{booking.pk}",
        version=f"{booking.sequence} go on {sent[0].pk}",
        subject=cut(f"{address_of(booking.house)}: " + _("go on in %(rooms)s") % {"rooms": rooms}, 200),
        body=compose(
            booking.house,
            _("%(hold)s is released again. Go on in %(rooms)s.") % {"hold": hold.label, "rooms": rooms},
        ),
        facts=_message_facts([booking]),
        urgent=True,
    )


def office_of(house: House) -> list[Person]:
    """Planners of the builder and the house's supervisor with deputies; without one, all supervisors."""
    people = list(holders_of(house.builder, Role.Kind.PLANNER))
    supervisors = holders_of(house.builder, Role.Kind.SUPERVISOR)
    own: list[Person] = []
    if house.supervisor_id is not None:
        standing_in = supervisors.filter(
            roles__builder=house.builder, roles__deputy_for__person=house.supervisor_id
        )
        own = [*supervisors.filter(pk=house.supervisor_id), *standing_in]
    people += own or list(supervisors)
    return list({person.pk: person for person in people}.values())


def tell_office(
    house: House,
    *,
    about: str,
    version: str,
    news: str,
    why: str = "",
    urgent: bool = False,
    people: Iterable[Person] | None = None,
) -> list[Message]:
    """A notice to the planners and the house's supervisor, or to the people named."""
    messages = [
        put(
            builder=house.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=about,
            version=version,
            subject=cut(f"{address_of(house)}: {news}", 200),
            body=compose(house, news, why),
            facts={"house": house.pk},
            urgent=urgent,
        )
        for person in (office_of(house) if people is None else people)
    ]
    return [message for message in messages if message is not None]
