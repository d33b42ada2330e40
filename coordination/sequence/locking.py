"""The lock: a house's row. One lock per transaction, taken first, several in the order of their ids.

On PostgreSQL `SELECT ... FOR UPDATE` of the row. On SQLite the clause does not exist and is not needed: an
IMMEDIATE transaction (see settings) already is the only writer, so whoever is inside one holds the lock.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction

from coordination.sequence.models import House


def _require_transaction() -> None:
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError(
            "A lock lasts as long as its transaction: wrap the lock and the change in atomic()."
        )


def lock_house(house_id: int) -> House:
    """Lock a house's row and return it freshly read, with builder, region and calendar.

    Rows read before the lock may be stale; read what is to be judged after it.

    Raises:
        TransactionManagementError: outside a transaction.
        House.DoesNotExist: no such house.
    """
    _require_transaction()
    return (
        House.objects.select_for_update(of=("self",))
        .select_related("builder", "region", "calendar", "sequence_version")
        .get(pk=house_id)
    )


def lock_houses(house_ids: Iterable[int]) -> list[House]:
    """Lock several houses, always in the order of their ids, so that two callers never wait in a circle."""
    return [lock_house(house_id) for house_id in sorted(set(house_ids))]
