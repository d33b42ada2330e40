"""Claim, check once more, send, mark: each message has its effect once.

A message is a row before it is sent. A worker takes it by a conditional update and reads the row count;
whoever comes second finds it taken and does nothing. The claim is a lease: rows of a worker that died, and
rows whose sending failed, are free again after `LEASE`. One gap cannot be closed from here: a worker that
dies after the mail server took the mail and before the row is marked sends it a second time, with the same
Message-ID, rather than never.
"""

from __future__ import annotations

import datetime as dt
import logging
import smtplib
import uuid
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from django.conf import settings
from django.db import DatabaseError, transaction
from django.db.models import F, Q, QuerySet

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.reminders import together, truth, writing
from coordination.reminders.channels import CHANNELS, Envelope, Inline
from coordination.reminders.due import breaks_quiet, is_quiet
from coordination.reminders.gathering import builder_days

logger = logging.getLogger(__name__)

Row = TypeVar("Row", Message, Digest)

BATCH = 50
"""Rows a task sends before it ends: one Celery round trip costs more than a row."""

LEASE = dt.timedelta(minutes=10)
QUICK_ATTEMPTS = 8
LONG_LEASE = dt.timedelta(hours=1)
"""After so many attempts a row is tried once an hour: a mail server may be away for a day, and no message is
lost for that, nor because its sender was killed again and again. What is no longer true is not sent."""

AT_ONCE = (Message.Kind.REWORK, Message.Kind.CALL, Message.Kind.NOTICE, Message.Kind.STOP)
"""Kinds that do not wait for the digest, though they keep the quiet hours unless they are urgent. A change
that is urgent keeps them too, as long as no start is near."""


class NoAddress(Exception):
    """The recipient has no address for the channel; a person has to enter one."""


def send_single_messages(limit: int = BATCH) -> int:
    """Send what is due and belongs to no digest: urgent ones, rework, calls, notices; returns how many.

    What a person of the office gets at the same moment goes in one mail (see `together`).
    """
    now = clock.now()
    me = uuid.uuid4().hex
    waiting = (
        Message.objects.filter(_free(now), superseded_at__isnull=True, due_at__lte=now, digest__isnull=True)
        .filter(Q(urgent=True) | Q(kind__in=AT_ONCE) | Q(crew__isnull=True))
        .exclude(channel=Message.Channel.SCREEN)
        .select_related("builder", "crew__contact", "person")
        .order_by("-urgent", "due_at", "pk")
    )
    sent = 0
    tried: set[int] = set()
    for message in waiting[: limit * 4]:
        if sent >= limit:
            break
        if message.pk in tried or (not _may_wake(message, now) and _keeps_quiet(message, now)):
            continue
        rows = _claim_mail(message, me, now)
        tried.update(row.pk for row in rows)
        if rows:
            sent += _send_or_note(_send_messages, rows, me)
    return sent


def _claim_mail(message: Message, me: str, now: dt.datetime) -> list[Message]:
    """Take a message and all that goes in its mail; empty when another worker was first."""
    number = together.mail_of(message)
    joining = together.may_join(message).filter(due_at__lte=now)[: together.MOST_TOGETHER - 1]
    others = [*joining, *together.tried_with(message)]
    if not _claim(Message.objects.filter(pk=message.pk, superseded_at__isnull=True), me):
        return []
    rows = [message]
    for other in others:
        if _claim(Message.objects.filter(pk=other.pk, superseded_at__isnull=True), me):
            if together.mail_of(other) != number:
                other.facts = {**other.facts, together.TOLD_WITH: number}
                Message.objects.filter(pk=other.pk, claimed_by=me).update(facts=other.facts)
            rows.append(other)
    return rows


def send_digests(limit: int = BATCH) -> int:
    """Send the digests that were made and not yet sent; returns how many."""
    now = clock.now()
    me = uuid.uuid4().hex
    waiting = Digest.objects.filter(_free(now)).select_related("builder", "crew__contact").order_by("pk")
    return sum(
        _send_or_note(_send_digest, [digest], me)
        for digest in waiting[:limit]
        if _claim(Digest.objects.filter(pk=digest.pk), me)
    )


def _free(now: dt.datetime) -> Q:
    """Rows that wait: unsent, and not in the hands of a worker whose lease still runs."""
    rested = Q(claimed_at__lt=now - LEASE, attempts__lt=QUICK_ATTEMPTS) | Q(claimed_at__lt=now - LONG_LEASE)
    return Q(sent_at__isnull=True) & (Q(claimed_at__isnull=True) | rested)


def rests_until(row: Message | Digest) -> dt.datetime | None:
    """When an unsent row is free to be tried again; None when it is free already."""
    if row.claimed_at is None:
        return None
    free_at = row.claimed_at + (LEASE if row.attempts < QUICK_ATTEMPTS else LONG_LEASE)
    return free_at if free_at > clock.now() else None


def _claim(row: QuerySet[Any], me: str) -> bool:
    """Take one row; False when another worker was first.

    The lease begins now, not with the batch: behind a slow mail server the last row of a batch would be free
    again while it is being sent.
    """
    now = clock.now()
    return row.filter(_free(now)).update(claimed_at=now, claimed_by=me, attempts=F("attempts") + 1) == 1


def _may_wake(message: Message, now: dt.datetime) -> bool:
    if message.kind != Message.Kind.CHANGE or not message.urgent:
        return message.urgent
    told = [facts["told_start"] for facts in message.facts.get("bookings", {}).values()]
    starts = [*told, *(message.facts.get("was") or [])[:1]]
    return breaks_quiet(
        [start for start in starts if start is not None], zone=message.builder.time_zone, now=now
    )


def _keeps_quiet(message: Message, now: dt.datetime) -> bool:
    builder = message.builder
    return is_quiet(
        now,
        zone=builder.time_zone,
        quiet_from=builder.quiet_from,
        quiet_until=builder.quiet_until,
        days=builder_days(builder),
    )


def _send_or_note(send: Callable[[Sequence[Row], str], int], rows: Sequence[Row], me: str) -> int:
    """Send the rows of a mail; what goes wrong stands on them and in the log, and the next mail is sent."""
    try:
        return send(rows, me)
    except Exception as error:
        # Sending has its own net: this is a mail that could not be written, or one not marked as sent.
        step = "written" if not isinstance(error, DatabaseError) else "read or marked"
        logger.exception("%s could not be %s", _name(rows), step)
        _let_go(_mine(rows, me), error)
        return 0


def _name(rows: Sequence[Message | Digest]) -> str:
    return f"{type(rows[0]).__name__} {', '.join(str(row.pk) for row in rows)}"


def _mine(rows: Sequence[Row], me: str) -> QuerySet[Any]:
    return type(rows[0])._default_manager.filter(pk__in=[row.pk for row in rows], claimed_by=me)


def _let_go(mine: QuerySet[Any], error: Exception) -> None:
    """Note why rows were not sent. Their lease runs on, but nobody has them in hand any more."""
    mine.update(last_error=f"{type(error).__name__}: {error}"[:500], claimed_by="")


def _send_messages(messages: Sequence[Message], me: str) -> int:
    true = [message for message in messages if truth.still_true(message)]
    stale = [message for message in messages if message not in true]
    if stale:
        _mine(stale, me).update(superseded_at=clock.now())
    if not true:
        return 0
    if len(true) == 1:
        letter = writing.write_single(true[0])
    else:
        try:
            letter = writing.write_gathered(true)
        except Exception:
            logger.exception("%s could not be written together; each goes by itself", _name(true))
            return sum(_send_or_note(_send_messages, [_part(message)], me) for message in true)
    envelope = _envelope(letter, _message_id("message", together.mail_of(true[0])))
    return _hand_over(_mine(true, me), true[0], envelope)


def _part(message: Message) -> Message:
    """The message by itself again, under a Message-ID of its own: one broken text must hold up no other."""
    message.facts = {key: said for key, said in message.facts.items() if key != together.TOLD_WITH}
    Message.objects.filter(pk=message.pk).update(facts=message.facts)
    return message


def _send_digest(digests: Sequence[Digest], me: str) -> int:
    """Send what still holds of a digest; one of which nothing holds is closed without a mail."""
    [digest] = digests
    mine = _mine(digests, me)
    waiting = digest.messages.filter(superseded_at__isnull=True, sent_at__isnull=True)
    messages = list(waiting.select_related("builder", "crew").order_by("pk"))
    stale = [message.pk for message in messages if not truth.still_true(message)]
    if stale:
        Message.objects.filter(pk__in=stale).update(superseded_at=clock.now())
    messages = [message for message in messages if message.pk not in stale]
    if not messages:
        mine.update(sent_at=clock.now(), last_error="")
        return 0
    envelope = _envelope(writing.write_digest(digest, messages), _message_id("digest", digest.pk))
    return _hand_over(mine, digest, envelope, messages)


def _envelope(letter: writing.Letter, message_id: str) -> Envelope:
    inline = tuple(Inline(one.cid, one.file, one.picture.png) for one in letter.pictures)
    return Envelope("", letter.subject, letter.text, letter.html, message_id, letter.headers, inline)


def _hand_over(
    mine: QuerySet[Any], row: Message | Digest, envelope: Envelope, carried: Sequence[Message] = ()
) -> int:
    """Send and mark; a failure is written on the row, which is free again when its lease has run out.

    A digest and the messages that it carries are marked together: between the two marks a crash would leave
    messages that were sent and will for ever look unsent.
    """
    try:
        address = _address(row)
        CHANNELS["mail"].send(Envelope(**{**vars(envelope), "to": address}))
    except (OSError, smtplib.SMTPException, NoAddress) as error:
        logger.warning("%s was not sent: %s", _name([row]), error)
        _let_go(mine, error)
        return 0
    except Exception as error:
        logger.exception("%s was not sent", _name([row]))
        _let_go(mine, error)
        return 0
    now = clock.now()
    with transaction.atomic():
        marked = mine.update(sent_at=now, last_error="")
        if marked and carried:
            Message.objects.filter(pk__in=[message.pk for message in carried]).update(sent_at=now)
    return marked


def _address(row: Message | Digest) -> str:
    if isinstance(row, Message) and row.facts.get("address"):
        # For the reader's old address alone: that another one is in use now.
        return str(row.facts["address"])
    person = row.person if isinstance(row, Message) and row.person else row.crew.contact if row.crew else None
    if person is None or not person.email:
        raise NoAddress(f"{row.crew or person} has no e-mail address: enter the person on the tools.")
    return person.email


def _message_id(kind: str, number: int) -> str:
    """The same for every attempt, so that a reader's mail program can drop a second copy."""
    return f"{kind}-{number}@{settings.COORDINATION_MAIL_DOMAIN}"
