"""Write a message in the transaction of its cause."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Builder, Crew, Person


def put(
    *,
    builder: Builder,
    to: Crew | Person,
    kind: Message.Kind,
    about: str,
    version: str,
    subject: str,
    body: str,
    facts: dict[str, Any] | None = None,
    urgent: bool = False,
    needs_answer: bool = False,
    due_at: dt.datetime | None = None,
    channel: Message.Channel = Message.Channel.MAIL,
) -> Message | None:
    """Put one message into the outbox and return it; None when the same fact was put before.

    Must be called inside the transaction of the cause, so that neither stands without the other. The unique
    key (recipient, channel, kind, about, version) makes a repeat harmless.

    Raises:
        TransactionManagementError: when called outside a transaction.
    """
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError(
            "A message belongs into the transaction of its cause: wrap the change and put() in atomic()."
        )
    crew, person = (to, None) if isinstance(to, Crew) else (None, to)
    now = clock.now()
    message, created = Message.objects.get_or_create(
        recipient=f"{'crew' if crew else 'person'}:{to.pk}",
        channel=channel,
        kind=kind,
        about=about,
        version=version,
        defaults={
            "builder": builder,
            "crew": crew,
            "person": person,
            "subject": subject[:200],
            "body": body,
            "facts": facts or {},
            "urgent": urgent,
            "needs_answer": needs_answer,
            "created_at": now,
            "due_at": due_at or now,
        },
    )
    return message if created else None


def supersede(*, about: str, kinds: tuple[Message.Kind, ...], recipient: str | None = None) -> int:
    """Mark unsent messages about a thing as no longer true; returns how many."""
    waiting = Message.objects.filter(
        about=about, kind__in=kinds, sent_at__isnull=True, claimed_at__isnull=True, superseded_at__isnull=True
    )
    if recipient:
        waiting = waiting.filter(recipient=recipient)
    return waiting.update(superseded_at=clock.now())
