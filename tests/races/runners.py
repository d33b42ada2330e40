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
from tests.waiting import wait_for_end

SECONDS = float(os.environ.get("BEFORE_THE_BOARD_RACE_SECONDS", "3"))
"""How long a random race runs at least; set it higher for a long run."""
LONGEST = 1800.0
"""Seconds after which a race is given up: so long that only what never comes takes them."""
LOOKS = 50
"""How often the observer must have looked before a race may end."""

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
    def saw_everything(self) -> bool:
        """Each act was done, both refusals were met, and the observer looked often: a race may end."""
        return (
            self.samples > LOOKS
            and min(self.done[name] for name in (*ACTS, "re-open")) > 0
            and min(self.refused[name] for name in ("firm", "open")) > 0
        )

    @property
    def transactions(self) -> int:
        """How many were committed or refused."""
        return sum(self.done.copy().values()) + sum(self.refused.copy().values())


def race(
    opener: Callable[[], Link],
    ids: Ids,
    *,
    clients: int = 4,
    at_least: float = SECONDS,
    stop_at_violation: bool = False,
    transactions: int = 0,
    pause: float = 1 / 2000,
) -> Tally:
    """Random acts by blind clients (they look at nothing first) while an observer samples the rule.

    Ends once everything was seen and so many seconds have passed, or so many transactions when they are
    given; with `stop_at_violation` at the first one; at the first other error. However slow the machine is,
    it goes on until then, and gives up after half an hour. `pause` is the longest moment between write and
    commit, in seconds.
    """
    tally, stop = Tally(), threading.Event()
    begun = time.monotonic()

    def is_enough() -> bool:
        if tally.problems or stop_at_violation:
            return bool(tally.problems or tally.violations)
        passed = tally.transactions >= transactions if transactions else time.monotonic() - begun >= at_least
        return passed and tally.saw_everything

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

    def look(link: Link) -> None:
        together.wait()
        try:
            while not (stop.is_set() or is_enough()):
                tally.samples += 1
                tally.violations += bool(count_violations(link))
        except (sqlite3.Error, psycopg.Error) as problem:
            tally.problems.append(f"look: {problem!r}")
        finally:
            stop.set()

    threads = [threading.Thread(target=act, args=(link, seed)) for seed, link in enumerate(links[1:])]
    threads.append(threading.Thread(target=look, args=(links[0],)))
    for thread in threads:
        thread.start()
    try:
        stop.wait(LONGEST)
    finally:
        # Also on Ctrl-C: clients that nobody stops would keep the process for ever.
        stop.set()
    wait_for_end(threads)
    return tally
