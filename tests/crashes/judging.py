"""Looks at the database after the crashes: ``python -m tests.crashes.judging wait|entries``.

`wait` waits until the outbox has sent what is due, and prints what it has not. `entries` reads a book, when
nothing runs any more, and prints troubles and mails.
"""

import json
import sys
import time
from collections import Counter
from typing import Any

from tests.crashes.starting import shift_the_clock

OUTBOX_SECONDS = 300


def judge_entries(book: dict[str, Any]) -> list[str]:
    """Each acknowledged entry is there once, on the record once; what was refused is nowhere."""
    from django.urls import resolve

    from hold_points.models import Outcome, RecordEntry, Release

    troubles = []
    outcomes = {str(one.pk): one for one in Outcome.objects.all()}
    releases = {str(one.pk): one for one in Release.objects.select_related("inspection")}
    recorded: Counter[str] = Counter()
    for kind, text in RecordEntry.objects.values_list("kind", "text"):
        facts = json.loads(text)
        facts = facts.get("facts", facts)
        if kind == "outcome":
            recorded[facts["outcome"]] += 1
        elif kind in ("release", "part release"):
            recorded[facts["release"]] += 1
    for found_id, asked in {**book["outcomes"], **book["releases"]}.items():
        there = found_id in outcomes or found_id in releases
        if asked["answer"] == "acknowledged" and not there:
            troubles.append(f"acknowledged and lost: {found_id} {asked}")
        if asked["answer"] == "refused" and there:
            troubles.append(f"refused and there: {found_id} {asked}")
        if recorded[found_id] != there:
            troubles.append(f"{recorded[found_id]} times on the record: {found_id} {asked}")
    for found_id, asked in book["outcomes"].items():
        kept = outcomes.get(found_id)
        if kept and (kept.check_judged_id, kept.kind) != (
            resolve(asked["check"]).kwargs["check"],
            asked["kind"],
        ):
            troubles.append(f"not as it was sent: {found_id} {asked}")
    for found_id, asked in book["releases"].items():
        if found_id in releases and releases[found_id].inspection.house_id != asked["house"]:
            troubles.append(f"a release of another house: {found_id} {asked}")
    return troubles


def judge_acts(book: dict[str, Any]) -> list[str]:
    """Acts without an id: done as often as acknowledged, or as often again as was left unanswered."""
    from coordination.sequence.models import Change
    from hold_points.models import Reopening

    troubles = []
    for what, (acknowledged, unanswered) in book["acts"].items():
        act, house = what.rsplit(" ", 1)
        if act == "make firm":
            there = Change.objects.filter(house=house, what="made firm").count()
        elif act == "re-open":
            there = Reopening.objects.filter(inspection__house=house).count()
        else:
            continue  # to pencil what is pencilled already changes nothing
        if not acknowledged <= there <= acknowledged + unanswered:
            troubles.append(f"{what}: {there} done, {acknowledged} acknowledged, {unanswered} unanswered")
    return troubles


def judge_houses() -> list[str]:
    """Each house's record fits, its stored closure is what its network asks for."""
    from coordination.sequence.models import House
    from hold_points.record import export_record
    from hold_points.recounting import recount
    from hold_points.verify_record import DoesNotFit, verify_export

    troubles = []
    for house in House.objects.all():
        try:
            verify_export(export_record(house).encode())
        except DoesNotFit as broken:
            troubles.append(f"{house}: {broken}")
        troubles += recount(house)
    return troubles


def wait_for_outbox() -> list[str]:
    """What is due and not sent when the senders have had their time."""
    from django.db import connection
    from django.db.models import Q

    from coordination.outbox.models import Digest, Message
    from coordination.reminders.sending import AT_ONCE

    due = Message.objects.filter(
        Q(urgent=True) | Q(kind__in=AT_ONCE) | Q(crew__isnull=True),
        channel=Message.Channel.MAIL,
        digest__isnull=True,
        sent_at__isnull=True,
        superseded_at__isnull=True,
    )
    digests = Digest.objects.filter(sent_at__isnull=True)
    deadline = time.monotonic() + OUTBOX_SECONDS
    while (due.exists() or digests.exists()) and time.monotonic() < deadline:
        connection.close()
        time.sleep(0.5)
    waiting: list[Message | Digest] = [*due, *digests]
    left = [f"not sent: {one} ({one.attempts} attempts: {one.last_error})" for one in waiting]
    carried = Message.objects.filter(
        digest__sent_at__isnull=False, sent_at__isnull=True, superseded_at__isnull=True
    )
    return left + [f"its digest was sent and it looks unsent: {one}" for one in carried]


def list_mails() -> dict[str, list[str]]:
    """Ids of mails that are marked as sent, and of rows that were in hand once and are void."""
    from coordination.outbox.models import Digest, Message
    from coordination.reminders.together import mail_of

    single = Message.objects.filter(digest__isnull=True, channel=Message.Channel.MAIL)
    full = Digest.objects.filter(sent_at__isnull=False, messages__sent_at__isnull=False).distinct()
    void = single.filter(sent_at__isnull=True, superseded_at__isnull=False, attempts__gt=0)
    digests = [f"digest-{pk}" for pk in full.values_list("pk", flat=True)]
    return {
        # Several messages to one person may have gone in one mail.
        "sent": sorted({f"message-{mail_of(one)}" for one in single.filter(sent_at__isnull=False)}) + digests,
        "void": sorted({f"message-{mail_of(one)}" for one in void}),
    }


def main() -> None:
    """Wait, or judge, and print."""
    shift_the_clock()
    import django

    django.setup()
    if sys.argv[1] == "wait":
        sys.stdout.write(json.dumps(wait_for_outbox()))
        return
    book = json.load(sys.stdin)
    troubles = [*judge_entries(book), *judge_acts(book), *judge_houses()]
    sys.stdout.write(json.dumps({"troubles": troubles, "mails": list_mails()}))


if __name__ == "__main__":
    main()
