"""What did not go out and was told by phone: by whom and when, kept with the message, and sent no more.

Told by phone is told: the message counts as one that left, so that what follows it ('go on', a later date)
is said to somebody who has heard the first. Its reader's own answer it is not.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q, QuerySet

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.people.models import Builder, Person
from coordination.reminders.sending import LEASE
from coordination.reminders.together import tried_with
from coordination.reminders.undelivered import Kind

RUNG = "rung"
"""Among a message's facts: who told it by phone (name and key) and when."""

SHOWN = dt.timedelta(days=14)
MOST_SHOWN = 50


@dataclass(frozen=True)
class Rung:
    """One thing that was told by phone."""

    to: str
    subject: str
    by: str
    at: dt.datetime


def note_rung(builders: Iterable[Builder], kind: Kind, number: int, by: Person) -> bool | None:
    """Note that all of a mail was told by phone; it is not sent any more. Pressing twice notes it once.

    Returns:
        True when it was noted; False when it was sent, is no longer true, or is in the hands of a worker at
        this moment; None when these builders have no such mail.
    """
    ended = Q(claimed_by="") | Q(claimed_at__lt=clock.now() - LEASE)
    with transaction.atomic():
        if kind == "digest":
            digests = Digest.objects.filter(pk=number, builder__in=builders)
            digest = digests.first()
            if digest is None:
                return None
            # Whoever sets the mark has it: a worker that claims the row a moment later finds it sent.
            if not digests.filter(ended, sent_at__isnull=True).update(sent_at=clock.now(), claimed_by=""):
                return False
            return _note(Message.objects.filter(digest=digest), by)
        message = Message.objects.filter(pk=number, builder__in=builders, digest__isnull=True).first()
        if message is None:
            return None
        keys = [message.pk, *(one.pk for one in tried_with(message))]
        return _note(Message.objects.filter(ended, pk__in=keys), by)


def _note(rows: QuerySet[Message], by: Person) -> bool:
    now = clock.now()
    told = {"by": by.pk, "name": by.name, "at": now.isoformat()}
    waiting = rows.filter(sent_at__isnull=True, superseded_at__isnull=True)
    count = 0
    for row in waiting.select_for_update(of=("self",)).order_by("pk"):
        count += waiting.filter(pk=row.pk).update(sent_at=now, claimed_by="", facts={**row.facts, RUNG: told})
    return bool(count)


def list_rung(builders: Iterable[Builder]) -> list[Rung]:
    """What was told by phone in the last two weeks, the latest first; one query."""
    rows = (
        Message.objects.filter(builder__in=builders, sent_at__gte=clock.now() - SHOWN)
        .filter(**{f"facts__{RUNG}__isnull": False})
        .select_related("crew", "person")
        .order_by("-sent_at", "-pk")[:MOST_SHOWN]
    )
    return [
        Rung(
            to=row.crew.name if row.crew else row.person.name if row.person else "",
            subject=row.subject,
            by=row.facts[RUNG]["name"],
            at=row.sent_at,
        )
        for row in rows
        if row.sent_at is not None
    ]
