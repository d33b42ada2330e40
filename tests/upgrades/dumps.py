"""Write a database file as a dump that is kept with a release, and make a database of it again.

    python -m tests.upgrades.dumps data/before-the-board.sqlite3 tests/upgrades/0.1.sql.gz

Triggers and views are left out: the program puts its own back after each migration.
"""

from __future__ import annotations

import contextlib
import gzip
import sqlite3
import sys
from pathlib import Path

LEFT_OUT = ("CREATE TRIGGER", "CREATE VIEW", "CREATE TEMP")


def write_dump(database: Path, dump: Path) -> int:
    """Write the dump; returns the number of statements."""
    with contextlib.closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as connection:
        statements = [one for one in connection.iterdump() if not one.startswith(LEFT_OUT)]
    # A fixed time in the header, so that the same database gives the same file.
    with dump.open("wb") as raw, gzip.GzipFile(fileobj=raw, mode="wb", mtime=0) as packed:
        packed.write("\n".join(statements).encode())
    return len(statements)


def read_dump(dump: Path, database: Path) -> None:
    """Make a database file from a dump."""
    with contextlib.closing(sqlite3.connect(database)) as connection:
        connection.executescript(gzip.decompress(dump.read_bytes()).decode())


if __name__ == "__main__":
    print(f"{write_dump(Path(sys.argv[1]), Path(sys.argv[2]))} statements")  # noqa: T201 - a command
