"""Connections past the program: plain SQL, as another client of the same database would write it."""

import re
import sqlite3
from pathlib import Path
from typing import Any

import psycopg

REFUSED = (sqlite3.IntegrityError, sqlite3.OperationalError, psycopg.Error)

VIOLATIONS = """
SELECT count(*) FROM sequence_booking b
JOIN sequence_holdbefore f ON f.visit_id = b.visit_id
JOIN sequence_hold h ON h.id = f.hold_id
WHERE b.state = 'firm' AND h.lifted_at IS NULL AND h.set_aside_at IS NULL
"""
"""Firm bookings behind an open hold, said here once more and on purpose in other words than the guard's."""


class SqliteLink:
    """One connection to a file, every pragma that could weaken the guard set against it."""

    vendor = "sqlite"

    def __init__(self, file: Path) -> None:
        self.raw = sqlite3.connect(file, timeout=20, isolation_level=None, check_same_thread=False)
        for pragma in ("foreign_keys = OFF", "recursive_triggers = OFF", "ignore_check_constraints = ON"):
            self.raw.execute(f"PRAGMA {pragma}")

    def run(self, sql: str) -> Any:
        """Run one statement; returns the rows it gives."""
        return self.raw.execute(sql).fetchall()

    def begin(self) -> None:
        self.run("BEGIN IMMEDIATE")

    def commit(self) -> None:
        self.run("COMMIT")

    def undo(self) -> None:
        if self.raw.in_transaction:
            self.run("ROLLBACK")

    def close(self) -> None:
        self.raw.close()


class PostgresLink:
    """One connection of its own to the suite's test database, as its most powerful role."""

    vendor = "postgresql"

    def __init__(self, parameters: dict[str, Any]) -> None:
        self.raw = psycopg.connect(**parameters, autocommit=True)

    def run(self, sql: str) -> Any:
        cursor = self.raw.execute(sql.encode())
        return cursor.fetchall() if cursor.description else []

    def begin(self) -> None:
        self.run("BEGIN")

    def commit(self) -> None:
        self.run("COMMIT")

    def undo(self) -> None:
        self.run("ROLLBACK")

    def is_waiting(self, watcher: "PostgresLink") -> bool:
        """Whether this connection waits for a lock, as another connection sees it."""
        pid = self.raw.info.backend_pid
        return bool(watcher.run(f"SELECT cardinality(pg_blocking_pids({pid})) > 0")[0][0])

    def close(self) -> None:
        self.raw.close()


Link = SqliteLink | PostgresLink


def count_violations(link: Link) -> int:
    """How many firm bookings stand behind an open hold, in one look."""
    return int(link.run(VIOLATIONS)[0][0])


def without_lock(sql: str) -> str:
    """The judge's function with the line that locks the house taken out."""
    mutated, count = re.subn(r"^.*-- the lock$\n", "", sql, flags=re.MULTILINE)
    assert count == 1, "the line with the lock was not found"
    return mutated
