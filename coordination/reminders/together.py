"""What goes to one person of the office in one mail: all that is not urgent and leaves at the same moment.

Several crews that call one walk, one crew that calls several points, and all that waited for the end of the
quiet hours come in one mail for each builder. Nothing waits for another: a call that stands alone leaves at
once, and what is urgent always goes by itself. A seal goes by itself too, because it is kept.

Which rows share a mail is written on them before it is first sent: after a failure the same rows go together
again, under the same Message-ID.
"""

from __future__ import annotations

from django.db.models import Q, QuerySet

from coordination.outbox.models import Message

GATHERED = (Message.Kind.CALL, Message.Kind.NOTICE)
APART = "seal:"
"""Beginning of what a message is about that is to be kept by itself."""

MOST_TOGETHER = 20
"""Messages in one mail; what is left over leaves in the next."""

TOLD_WITH = "told_with"
"""Among a message's facts: the first message of the mail that it goes in, when that is another one."""


def mail_of(message: Message) -> int:
    """The number of the mail that a message goes in: that of its first message."""
    return int(message.facts.get(TOLD_WITH, message.pk))


def tried_with(message: Message) -> QuerySet[Message]:
    """Other messages that share the mail of one that was tried before; none where it was never tried."""
    if message.person_id is None or not (message.attempts or TOLD_WITH in message.facts):
        return Message.objects.none()
    number = mail_of(message)
    return (
        Message.objects.filter(recipient=message.recipient)
        .filter(Q(pk=number) | Q(**{f"facts__{TOLD_WITH}": number}))
        .exclude(pk=message.pk)
        .select_related("builder", "person")
        .order_by("due_at", "pk")
    )


def may_join(message: Message) -> QuerySet[Message]:
    """Other messages that may go in the mail of one that was never tried; none when it goes by itself."""
    alone = message.urgent or message.person_id is None or message.about.startswith(APART)
    if alone or message.kind not in GATHERED or message.attempts or TOLD_WITH in message.facts:
        return Message.objects.none()
    return (
        Message.objects.filter(
            builder=message.builder_id,
            recipient=message.recipient,
            channel=message.channel,
            kind__in=GATHERED,
            urgent=False,
            attempts=0,
            digest__isnull=True,
            sent_at__isnull=True,
            claimed_at__isnull=True,
            superseded_at__isnull=True,
            **{f"facts__{TOLD_WITH}__isnull": True},
        )
        .exclude(pk=message.pk)
        .exclude(about__startswith=APART)
        .select_related("builder", "person")
        .order_by("due_at", "pk")
    )
