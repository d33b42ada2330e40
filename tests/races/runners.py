"""Many clients at one house at once, and an observer who looks on from outside."""

import os
import random
import sqlite3
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import psycopg

from tests.races.attacks import LIFT
from tests.races.links import Link, count_violations
from tests.races.seed import Ids

SECONDS = float(os.environ.get("BEFORE_THE_BOARD_RACE_SECONDS", "3"))
"""How long a random race runs; set it higher for a long run."""

ACTS = {
    "lift": LIFT + " '{release}' WHERE id = {a_hold}",
    "open": "UPDATE sequence_hold SET lifted_at = NULL, lifted_by = NULL WHERE id = {a_hold}",
    "firm": "UPDATE sequence_booking SET state = 'firm' WHERE id = {a_linings}",
    "soften": "UPDATE sequence_booking SET state = 'pencilled' WHERE id = {a_linings}",
}
OPEN_AND_SOFTEN = (ACTS["soften"], ACTS["open"])


@dataclass
class Tally:
    """What happened in a race."""

    done: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    problems: list[str] = field(default_factory=list)
    busy: int = 0
    """SQLite: waited longer than the connection allows; nothing was done. Its waiting is not in turn."""
    samples: int = 0
    violations: int = 0

    @property
    def transactions(self) -> int:
        """How many were committed or refused."""
        return sum(self.done.copy().values()) + sum(self.refused.copy().values())


def race(
    opener: Callable[[], Link],
    ids: Ids,
    *,
    clients: int = 4,
    seconds: float = SECONDS,
    stop_at_violation: bool = False,
    transactions: int = 0,
    pause: float = 1 / 2000,
) -> Tally:
    """Random acts by blind clients (they look at nothing first) while an observer samples the rule.

    Ends after so many seconds, or after so many transactions when they are given. `pause` is the longest
    moment between write and commit, in seconds.
    """
    tally, stop = Tally(), threading.Event()
    links = [opener() for _ in range(clients + 1)]
    together = threading.Barrier(clients + 1)

    def act(link: Link, seed: int) -> None:
        dice = random.Random(seed)
        together.wait()
        while not stop.is_set():
            name = dice.choice([*ACTS, "re-open"])
            statements = OPEN_AND_SOFTEN if name == "re-open" else (ACTS[name],)
            try:
                link.begin()
                for statement in statements:
                    link.run(statement.format(**ids))
                    # A moment between write and commit, so that others come in between.
                    if pause:
                        time.sleep(dice.random() * pause)
                link.commit()
                tally.done[name] += 1
            except (sqlite3.IntegrityError, psycopg.errors.CheckViolation):
                link.undo()
                tally.refused[name] += 1
            except (sqlite3.Error, psycopg.Error) as problem:
                link.undo()
                if getattr(problem, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY:
                    tally.busy += 1
                    continue
                tally.problems.append(f"{name}: {problem!r}")
            if transactions and tally.transactions >= transactions:
                stop.set()

    def look(link: Link) -> None:
        together.wait()
        while not stop.is_set():
            tally.samples += 1
            if count_violations(link):
                tally.violations += 1
                if stop_at_violation:
                    stop.set()

    threads = [threading.Thread(target=act, args=(link, seed)) for seed, link in enumerate(links[1:])]
    threads.append(threading.Thread(target=look, args=(links[0],)))
    for thread in threads:
        thread.start()
    try:
        stop.wait(seconds)
    finally:
        # Also on Ctrl-C: clients that nobody stops would keep the process for ever.
        stop.set()
    for thread in threads:
        thread.join(30)
        assert not thread.is_alive(), "a client hangs"
    return tally
