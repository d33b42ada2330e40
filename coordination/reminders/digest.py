"""At most one digest per crew, builder and day: it gathers everything that is not urgent.

The digest's row is made once, by its unique key; whoever makes it puts the waiting messages into it, in one
transaction. What becomes due later that day waits for the next.
"""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.people.models import Builder
from coordination.reminders.gathering import builder_days
from coordination.reminders.sending import AT_ONCE


def make_digests(builder: Builder) -> int:
    """Make today's digests of a builder when its hour has come on a working day; returns how many."""
    now = clock.now()
    local = now.astimezone(clock.zone(builder.time_zone))
    if local.time() < builder.digest_at or not builder_days(builder).works(local.date()):
        return 0
    crews = (
        _waiting(builder, now)
        .exclude(crew__digests__in=Digest.objects.filter(builder=builder, day=local.date()))
        .values_list("crew", flat=True)
        .distinct()
    )
    return sum(_make_digest(builder, crew, local.date(), now) for crew in list(crews) if crew is not None)


def _waiting(builder: Builder, now: dt.datetime) -> QuerySet[Message]:
    return Message.objects.filter(
        builder=builder,
        crew__isnull=False,
        channel=Message.Channel.MAIL,
        urgent=False,
        digest__isnull=True,
        sent_at__isnull=True,
        claimed_at__isnull=True,
        superseded_at__isnull=True,
        due_at__lte=now,
    ).exclude(kind__in=AT_ONCE)


def _make_digest(builder: Builder, crew: int, day: dt.date, now: dt.datetime) -> int:
    try:
        with transaction.atomic():
            digest = Digest.objects.create(builder=builder, crew_id=crew, day=day, created_at=now)
            taken = _waiting(builder, now).filter(crew=crew).update(digest=digest)
            if not taken:
                # Another worker took them all between the look and the lock: no digest to make.
                transaction.set_rollback(True)
            return int(bool(taken))
    except IntegrityError:
        # The day's digest stands already: another worker made it in the same moment.
        return 0
