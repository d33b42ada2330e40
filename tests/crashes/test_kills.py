"""kill -9 of the app, the worker and the database in turn, under load; nothing acknowledged is lost.

Three rounds, or as many as `BEFORE_THE_BOARD_KILLS` says; `python -m tests.races.long kill` does thirty and
prints the figures. What is promised, and looked for afterwards:

- an outcome or a release that was acknowledged is there once, on the record once, as it was sent; one that
  was cut off and sent again under its id is not doubled; one that was refused is nowhere;
- every record's chain fits, the stored closure is what the networks ask for, and no firm booking is ever seen
  behind an open hold by an observer past the program;
- every message that is due leaves. A mail leaves twice only if its sender or the database was killed between
  the mail server's yes and the mark on the row, at most once for each kill, under the same Message-ID;
- an answer of 500 is given only to a request that was under way while the app or the database was down;
  without the worker all goes on.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.crashes.installations import Embedded, Installation, Served
from tests.crashes.load import Load
from tests.server_processes import MissingServer
from tests.servers import IN_CI

pytestmark = pytest.mark.slow

ROUNDS = int(os.environ.get("BEFORE_THE_BOARD_KILLS", "3"))
LOAD_BETWEEN_KILLS = 8
"""Acts acknowledged since the last part came back, before the next is killed."""


@pytest.fixture
def folder() -> Iterator[Path]:
    """A short path: a socket's may have about 100 characters."""
    parent = "/tmp" if os.access("/tmp", os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="btb-kill-", dir=parent, ignore_cleanup_errors=True) as made:
        yield Path(made)


def kill_in_turn(installation: Installation, order: tuple[str, ...], rounds: int) -> str:
    """Start, load, kill in turn, stop the load, judge; returns the figures in a line."""
    dice, began = random.Random(rounds), time.monotonic()
    try:
        houses = installation.start()
    except MissingServer as missing:
        if IN_CI:
            pytest.fail(str(missing))
        pytest.skip(str(missing))
    load = Load(installation.port, installation.headers, houses, installation.count_violations)
    down: list[tuple[float, float]] = []
    load.start()
    try:
        for _round in range(rounds):
            for part in order:
                load.wait_for_more(LOAD_BETWEEN_KILLS)
                if part in installation.senders and part != "database":
                    # At the worst moment: the mail server has the mail, and the sender does not know it yet.
                    installation.mail.wait_for_a_mail(5)
                else:
                    time.sleep(dice.random() * 0.7)
                killed_at = time.monotonic()
                installation.kill_and_restart(part, dice)
                if part != "worker":
                    down.append((killed_at, time.monotonic()))
        load.wait_for_more(LOAD_BETWEEN_KILLS)
    finally:
        load.stop()
    assert load.broken == []
    assert installation.run("tests.crashes.judging", "wait") == [], installation.say_logs()
    installation.stop_program()
    judged = installation.run("tests.crashes.judging", "entries", given=load.book.as_json_text())
    book, taken = load.book, installation.mail.taken
    assert judged["troubles"] == []
    assert load.violations == 0
    assert load.samples > 20
    # A request that was under way while something was down may fail, however late it says so.
    assert [
        one for one in book.failures if not any(one[0] <= until and since <= one[1] for since, until in down)
    ] == []
    sent, void = set(judged["mails"]["sent"]), set(judged["mails"]["void"])
    assert sent - set(taken) == set(), "marked as sent and never taken by the mail server"
    assert set(taken) - sent - void == set(), "taken by the mail server and not marked"
    again = sum(taken.values()) - len(taken)
    kills_of_senders = rounds * len([one for one in order if one in installation.senders])
    assert again <= kills_of_senders, taken
    return (
        f"{type(installation).__name__}: {rounds * len(order)} kills, {book.acknowledged} acts acknowledged, "
        f"{len(book.outcomes)} outcomes and {len(book.releases)} releases asked, "
        f"{len(book.failures)} cut off, {book.repeated} repeats, "
        f"answers {dict(sorted(book.statuses.items()))}, "
        f"{len(taken)} mails, {again} twice, violations {load.violations} in {load.samples} samples, "
        f"{time.monotonic() - began:.0f} s\n"
    )


def test_app_worker_and_database_die_in_turn_under_load_on_postgresql(folder: Path) -> None:
    installation = Served(folder)
    try:
        sys.stdout.write(kill_in_turn(installation, ("app", "worker", "database"), ROUNDS))
    finally:
        installation.stop()


def test_the_one_process_dies_under_load_on_sqlite(folder: Path) -> None:
    installation = Embedded(folder)
    try:
        sys.stdout.write(kill_in_turn(installation, ("app",), ROUNDS))
    finally:
        installation.stop()
