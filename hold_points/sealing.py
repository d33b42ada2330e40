"""The builder's chain: once a day the heads of all its records are sealed together and sent out by mail.

A chain alone cannot show that its tail was cut off, or that someone with the database wrote all of it anew.
The seals lie in other people's mailboxes; a record that does not contain what a seal names does not fit.
One entry for each day and not for each act: a chain that every act of every house appends to would put all
houses of a builder in one row of waiting.
"""

from __future__ import annotations

import json

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.access import holders_of
from coordination.people.models import Builder, Role
from coordination.sequence.models import House
from hold_points.models import NightRound, RecordEntry, Seal
from hold_points.record import canonical
from hold_points.recounting import recount
from hold_points.verify_record import NOTHING_BEFORE, hash_text
from hold_points.verify_seals import write_seals

KEEPERS = (Role.Kind.PLANNER, Role.Kind.ASSESSOR)
"""Who gets each seal: the office, and the one who judges its work."""


def heads_of(builder: Builder) -> list[dict[str, object]]:
    """Number and hash of the last entry of each house that has a record, by key; in one query."""
    last = RecordEntry.objects.filter(house__builder=builder).values("house").annotate(most=Max("n"))
    numbers = {row["house"]: row["most"] for row in last}
    rows = RecordEntry.objects.filter(house__in=numbers, n__in=set(numbers.values())).values_list(
        "house", "house__key", "n", "hash"
    )
    found = [(key, n, digest) for house, key, n, digest in rows if numbers[house] == n]
    return [{"house": key, "n": n, "head": digest} for key, n, digest in sorted(found)]


def seal(builder: Builder) -> Seal | None:
    """Seal the heads as they are and tell the keepers; None when nothing was recorded since the last seal."""
    with transaction.atomic():
        builder = Builder.objects.select_for_update().get(pk=builder.pk)
        last = Seal.objects.filter(builder=builder).order_by("-n").first()
        heads = heads_of(builder)
        if not heads or (last is not None and heads == read_heads(last)):
            return None
        now = clock.now()
        n, before = (last.n + 1, last.hash) if last else (1, NOTHING_BEFORE)
        facts = {"heads": heads, "sealed_at": now}
        text = canonical(
            {"schema": 1, "n": n, "builder": builder.slug, "kind": "seal", "previous": before, "facts": facts}
        )
        made = Seal.objects.create(
            builder=builder, n=n, text=text, previous=before, hash=hash_text(text), at=now
        )
        _send_out(made, heads)
    return made


def read_heads(one: Seal) -> list[dict[str, object]]:
    """The heads that a seal names."""
    found: list[dict[str, object]] = json.loads(one.text)["facts"]["heads"]
    return found


def _send_out(made: Seal, heads: list[dict[str, object]]) -> None:
    lines = [f"{one['house']}: {one['n']} {one['head']}" for one in heads]
    for person in holders_of(made.builder, *KEEPERS):
        put(
            builder=made.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=f"seal:{made.pk}",
            version=made.hash[:40],
            subject=_("Seal %(n)s of the records: keep this message") % {"n": made.n},
            body="\n".join(
                [
                    _("Seal %(n)s: %(hash)s") % {"n": made.n, "hash": made.hash},
                    _("With it anyone can verify that no record was changed or cut off before today."),
                    *lines,
                ]
            ),
            facts={"seal": made.n, "hash": made.hash},
        )


def export_seals(builder: Builder) -> str:
    """All seals as text that `verify_seals` can check without this program."""
    return write_seals(
        builder.slug, Seal.objects.filter(builder=builder).order_by("n").values_list("hash", "text")
    )


def make_night_round(builder: Builder) -> NightRound | None:
    """Count the holds of the builder's houses anew, alarm the planners of differences, seal the heads.

    Once for each day of the builder's zone, in one transaction: what a crash undid is done again, whole.
    Returns None when it was done today.
    """
    day = clock.today(builder.time_zone)
    if NightRound.objects.filter(builder=builder, day=day).exists():
        return None
    with transaction.atomic():
        made, fresh = NightRound.objects.get_or_create(builder=builder, day=day, defaults={"at": clock.now()})
        if not fresh:
            return None
        for house in House.objects.filter(builder=builder, finished_at__isnull=True).order_by("pk"):
            made.differences += recount(house)
        made.save(update_fields=["differences"])
        if made.differences:
            _alarm(made)
        seal(builder)
    return made


def _alarm(made: NightRound) -> None:
    for person in holders_of(made.builder, Role.Kind.PLANNER):
        put(
            builder=made.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=f"recount:{made.pk}",
            version=str(made.day),
            subject=_("Alarm: hold points are not as the programme asks"),
            body="\n".join(
                [
                    _("The nightly recount found what should not be. Make nothing firm at these houses."),
                    *made.differences[:40],
                ]
            ),
            facts={"differences": len(made.differences)},
            urgent=True,
        )
