"""A database that fails at its n-th statement, and a picture of everything that is stored."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import OperationalError, connection

OURS = ("people_", "outbox_", "sequence_", "hold_points_", "calendar_feeds_", "reminders_")


class InjectedFault(OperationalError):
    """What a lost connection or a full disk looks like to the program."""


@dataclass
class FaultyDatabase:
    """Counts statements and fails once, at statement `at`. A statement of transaction control counts too."""

    at: int
    seen: int = 0
    fired: str = ""

    def __call__(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
    ) -> Any:
        self.seen += 1
        # Undoing must work: when it does not, the connection is gone and the database undoes by itself.
        if self.seen >= self.at and not self.fired and not sql.startswith("ROLLBACK"):
            self.fired = sql
            raise InjectedFault(f"injected at statement {self.seen}: {sql[:80]}")
        return execute(sql, params, many, context)


@contextmanager
def failing_at(n: int) -> Iterator[FaultyDatabase]:
    """Let the n-th statement inside fail; 0 lets none."""
    database = FaultyDatabase(n or 10**9)
    with connection.execute_wrapper(database):
        yield database


def picture_tables() -> dict[str, str]:
    """A hash of all rows of each table of ours: equal pictures, equal state."""
    pictures = {}
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            if table.startswith(OURS):
                cursor.execute(f'SELECT * FROM "{table}"')
                rows = sorted(repr(row) for row in cursor.fetchall())
                pictures[table] = hashlib.sha256("\n".join(rows).encode()).hexdigest()
    return pictures


def differing(first: dict[str, str], second: dict[str, str]) -> list[str]:
    """Tables that two pictures show differently."""
    return sorted(table for table in first if first[table] != second.get(table))


def fail_everywhere(act: Callable[[], object]) -> tuple[int, list[str]]:
    """Run an act with a fault at its 1st, 2nd, 3rd ... statement until it comes through without one.

    Returns:
        how many statements were failed, and one line for each after which the state was neither that before
        nor that after the whole act, or after which the act claimed to be done.
    """
    before, troubles, n = picture_tables(), [], 1
    while True:
        refused = False
        with failing_at(n) as database:
            try:
                act()
            except InjectedFault:
                refused = True
        if not database.fired:
            break
        now = picture_tables()
        if not refused:
            troubles.append(f"statement {n} failed and nobody said so: {database.fired[:100]}")
            return n, troubles
        if changed := differing(before, now):
            troubles.append(f"statement {n} ({database.fired[:60]}) left {', '.join(changed)} half done")
            return n, troubles
        n += 1
    if not differing(before, picture_tables()):
        troubles.append("the act changed nothing at all")
    return n - 1, troubles
