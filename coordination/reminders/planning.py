"""Turn what is due into rows of the outbox. Asking again adds nothing: the keys are the same."""

from __future__ import annotations

from collections import defaultdict

from django.db import transaction

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import Builder, Crew
from coordination.reminders import gathering, writing
from coordination.reminders.due import Due, VisitFacts, due_messages
from coordination.reminders.wanted import are_wanted


def put_due_messages(builder: Builder) -> int:
    """Put what is due for the builder's crews; returns how many rows are new."""
    facts = {visit.booking: visit for visit in gathering.visit_facts(builder)}
    dues = due_messages(facts.values(), gathering.times_of(builder), clock.now())
    known = _already_put(dues)
    new = [due for due in dues if (f"crew:{due.crew}", due.kind, due.about, due.version) not in known]
    crews = Crew.objects.in_bulk({due.crew for due in new})
    added = 0
    for due in new:
        crew = crews[due.crew]
        if not are_wanted(crew):
            continue
        with transaction.atomic():
            added += _put_one(builder, crew, due, [facts[booking] for booking in due.bookings]) is not None
    return added


def _put_one(builder: Builder, crew: Crew, due: Due, visits: list[VisitFacts]) -> Message | None:
    subject, body = writing.write_reminder(builder, due, visits)
    facts: dict[str, object] = {"bookings": list(due.bookings)}
    if due.kind != "look-ahead":
        facts |= {"booking": due.bookings[0], "told_start": visits[0].told_start}
    if due.window is not None:
        facts["detail"] = due.window.detail_id
    return put(
        builder=builder,
        to=crew,
        kind=Message.Kind(due.kind),
        about=due.about[:80],
        version=due.version,
        subject=subject,
        body=body,
        facts=facts,
        due_at=due.at,
    )


def _already_put(dues: list[Due]) -> set[tuple[str, str, str, str]]:
    by_recipient: dict[str, set[str]] = defaultdict(set)
    for due in dues:
        by_recipient[f"crew:{due.crew}"].add(due.about[:80])
    abouts = set().union(*by_recipient.values()) if by_recipient else set()
    rows = Message.objects.filter(recipient__in=by_recipient, about__in=abouts)
    return set(rows.values_list("recipient", "kind", "about", "version"))
