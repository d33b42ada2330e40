"""Which mails did not go out, to whom, why, since when; and sending one of them again at once.

A mail is undelivered from its first failure, or when it is being tried again without an answer from the first
time, until it is sent or no longer true. It is tried again by itself the whole time; here a person sees it,
and may have it tried now, or ring. What a mail server took and could not hand on is not seen from here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.people.models import Builder, Crew, Person
from coordination.reminders.sending import LEASE, rests_until
from coordination.reminders.together import mail_of, tried_with

Kind = Literal["message", "digest"]

MOST_SHOWN = 200
"""Mails on the page; behind a broken mail server all fail for one reason, and the count says how many."""

FAILED = ~Q(last_error="") | Q(attempts__gte=2)


@dataclass(frozen=True)
class Undelivered:
    """One mail that did not go out.

    Attributes:
        kind, number: which one, for `send_again`.
        to: crew or person; `who` is the person on the tools, if another.
        phone: of the person, else of the company; '' where none is entered.
        subjects: what it says, one for each thing.
        why: the reason in words of the office; `said` is what the program was told.
        since: when it was to go out first.
        next_try: when it is tried again by itself; None where that is at once.
    """

    kind: Kind
    number: int
    builder: str
    to: str
    who: str
    phone: str
    email: str
    subjects: tuple[str, ...]
    urgent: bool
    why: str
    said: str
    since: dt.datetime
    attempts: int
    next_try: dt.datetime | None


def count_undelivered(builders: Iterable[Builder]) -> int:
    """How many things were to be told and did not go out; one query."""
    waiting = Message.objects.filter(
        builder__in=builders, sent_at__isnull=True, superseded_at__isnull=True
    ).exclude(channel=Message.Channel.SCREEN)
    by_digest = ~Q(digest__last_error="") | Q(digest__attempts__gte=2)
    return waiting.filter(
        Q(FAILED, digest__isnull=True) | Q(by_digest, digest__isnull=False, digest__sent_at__isnull=True)
    ).count()


def list_undelivered(builders: Iterable[Builder]) -> list[Undelivered]:
    """The mails that did not go out, urgent ones first, then the oldest; three queries."""
    builders = list(builders)
    found = [*_single_mails(builders), *_digests(builders)]
    return sorted(found, key=lambda one: (not one.urgent, one.since, one.number))[:MOST_SHOWN]


def _single_mails(builders: Sequence[Builder]) -> list[Undelivered]:
    rows = _failed_messages(builders).select_related("builder", "crew__contact", "crew__company", "person")
    mails: dict[int, list[Message]] = {}
    for row in rows.order_by("pk")[: MOST_SHOWN * 4]:
        mails.setdefault(mail_of(row), []).append(row)
    return [
        _describe("message", rows[0], rows, rows[0].crew, rows[0].person, min(row.due_at for row in rows))
        for rows in mails.values()
    ]


def _failed_messages(builders: Sequence[Builder]) -> QuerySet[Message]:
    return Message.objects.filter(
        FAILED, builder__in=builders, digest__isnull=True, sent_at__isnull=True, superseded_at__isnull=True
    ).exclude(channel=Message.Channel.SCREEN)


def _digests(builders: Sequence[Builder]) -> list[Undelivered]:
    rows = (
        Digest.objects.filter(FAILED, builder__in=builders, sent_at__isnull=True)
        .select_related("builder", "crew__contact", "crew__company")
        .prefetch_related("messages")
        .order_by("pk")
    )
    found = []
    for row in rows[:MOST_SHOWN]:
        told = [one for one in row.messages.all() if one.superseded_at is None and one.sent_at is None]
        if told:
            found.append(_describe("digest", row, told, row.crew, None, row.created_at))
    return found


def _describe(
    kind: Kind,
    row: Message | Digest,
    told: Sequence[Message],
    crew: Crew | None,
    person: Person | None,
    since: dt.datetime,
) -> Undelivered:
    reader = person or (crew.contact if crew else None)
    return Undelivered(
        kind=kind,
        number=row.pk,
        builder=row.builder.name,
        to=crew.name if crew else reader.name if reader else "",
        who=reader.name if crew and reader else "",
        phone=crew.phone if crew else reader.phone if reader else "",
        email=reader.email if reader else "",
        subjects=tuple(dict.fromkeys(one.subject for one in told)),
        urgent=any(one.urgent for one in told),
        why=say_why(row.last_error),
        said=row.last_error,
        since=since,
        attempts=row.attempts,
        next_try=rests_until(row),
    )


UNREACHABLE = (
    "ConnectionRefusedError",
    "ConnectionResetError",
    "ConnectionAbortedError",
    "BrokenPipeError",
    "OSError",
    "SMTPConnectError",
    "SMTPHeloError",
    "SMTPServerDisconnected",
    "SSLError",
    "TimeoutError",
    "gaierror",
)
"""Names under which a mail server that does not answer is reported."""


def say_why(last_error: str) -> str:
    """The reason in words of the office, with the remedy; '' in: its sending was cut off."""
    name, _colon, words = last_error.partition(": ")
    if not last_error:
        return _("Its sending was cut off before the mail server had answered.")
    if name == "NoAddress":
        return words
    if name in UNREACHABLE:
        return _("The mail server did not answer.")
    if name == "SMTPRecipientsRefused":
        return _("The mail server does not take this address. Correct it, or ring.")
    if name == "SMTPAuthenticationError":
        return _("The mail server refused our sign-in. Tell whoever looks after the installation.")
    if name.startswith("SMTP"):
        return _("The mail server refused the mail.")
    return _("The mail could not be made. Tell whoever looks after the installation.")


def send_again(builders: Iterable[Builder], kind: Kind, number: int) -> bool | None:
    """Free a mail for the next worker, whatever its rest; pressing twice frees it once and sends it once.

    Returns:
        True when it waits to be sent at once (also when it did already); False when it was sent, is no longer
        true or is in the hands of a worker at this moment; None when these builders have no such mail.
    """
    with transaction.atomic():
        if kind == "digest":
            digests = Digest.objects.filter(pk=number, builder__in=builders)
            return _free_again(digests, Q()) if digests.exists() else None
        message = Message.objects.filter(pk=number, builder__in=builders, digest__isnull=True).first()
        if message is None:
            return None
        keys = [message.pk, *(one.pk for one in tried_with(message))]
        return _free_again(Message.objects.filter(pk__in=keys), Q(superseded_at__isnull=True))


def send_all_again(builders: Iterable[Builder]) -> int:
    """Free everything that did not go out and rests: the mail server is back. Returns how many mails."""
    builders = list(builders)
    resting = [one for one in list_undelivered(builders) if one.next_try is not None]
    return sum(bool(send_again(builders, one.kind, one.number)) for one in resting)


def _free_again(rows: QuerySet[Message] | QuerySet[Digest], true: Q) -> bool:
    """Let go what nobody has in hand: its last try has ended, or its lease has run out."""
    ended = Q(claimed_by="") | Q(claimed_at__lt=clock.now() - LEASE)
    waiting = rows.filter(true, ended, sent_at__isnull=True)
    waiting.filter(claimed_at__isnull=False).update(claimed_at=None, claimed_by="", attempts=1)
    return waiting.exists()
