"""The record of a house: entries chained by hash, appended under the house's lock, never changed.

What an entry holds: schema, number, house, kind, when the server took it, the hash before, and the facts
of the act with every text as it was shown. Values are strings or whole numbers, so that the text has one
form only (see canonical.py).
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from typing import Any

from django.db import transaction

from coordination import clock
from coordination.sequence.models import House
from hold_points.canonical import write_canonical
from hold_points.models import Evidence, RecordEntry
from hold_points.verify_record import NOTHING_BEFORE, hash_text, write_export

SCHEMA = 1


def append(house: House, kind: str, facts: Mapping[str, Any]) -> RecordEntry:
    """Append one entry. The caller holds the house's lock, so that numbers follow each other.

    Raises:
        TransactionManagementError: outside a transaction.
        NotCanonical: a fact that has no canonical form.
    """
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError(
            "The record is written in the transaction of its cause: lock the house first."
        )
    last = RecordEntry.objects.filter(house=house).order_by("-n").only("n", "hash").first()
    now = clock.now()
    n, before = (last.n + 1, last.hash) if last else (1, NOTHING_BEFORE)
    text = canonical(
        {
            "schema": SCHEMA,
            "n": n,
            "house": house.key,
            "kind": kind,
            "recorded_at": now,
            "previous": before,
            "facts": dict(facts),
        }
    )
    return RecordEntry.objects.create(
        house=house, n=n, kind=kind, text=text, previous=before, hash=hash_text(text), at=now
    )


def canonical(value: object) -> str:
    """The canonical text of facts; moments, dates, ids and measured values become strings first."""
    return write_canonical(_plain(value))


def hash_facts(value: object) -> str:
    """SHA-256 of the canonical text of a value, for what is kept beside the record (a drawn signature)."""
    return hash_text(canonical(value))


def _plain(value: object) -> object:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, (dt.date, uuid.UUID)):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    return value


def describe_photograph(evidence: Evidence) -> dict[str, Any]:
    """What the record says of a photograph; its position only where the builder has agreed to keep it."""
    said: dict[str, Any] = {
        "sha256": evidence.sha256,
        "bytes": evidence.size,
        "media_type": evidence.media_type,
        "taken_at": evidence.taken_at,
        "received_at": evidence.received_at,
    }
    if evidence.latitude is not None:
        said["position"] = {"latitude": evidence.latitude, "longitude": evidence.longitude}
    return said


def head_of(house: House) -> str:
    """Hash of the last entry; zeros when nothing is recorded yet."""
    last = RecordEntry.objects.filter(house=house).order_by("-n").values_list("hash", flat=True).first()
    return last or NOTHING_BEFORE


def export_record(house: House) -> str:
    """The whole record as text that `verify_record` can check without this program."""
    return write_export(
        house.key, RecordEntry.objects.filter(house=house).order_by("n").values_list("hash", "text")
    )
