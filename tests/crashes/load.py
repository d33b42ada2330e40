"""Clients that go on while parts of an installation are killed, and keep book of what was acknowledged.

An outcome and a release carry an id that the client made; one that was cut off is sent again under its id
until it is answered, as a tablet does. Other acts have no id: one that was cut off may have been done or not.
"""

from __future__ import annotations

import http.client
import json
import random
import sqlite3
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

import psycopg

from hold_points.identifiers import new_id
from tests.hold_points.houses import PASSWORD

TOKEN = "t" * 32
REFUSALS = (409, 422)
ACTS = ("judge",) * 6 + ("release",) * 3 + ("make firm",) * 3 + ("pencil", "re-open")
PATIENCE = 300
"""Seconds that a client goes on sending what was not answered."""


@dataclass
class Book:
    """What was asked and what came of it."""

    outcomes: dict[str, dict[str, str]] = field(default_factory=dict)
    """By id: the check's address, the kind, the answer ('acknowledged', 'refused', 'unanswered')."""
    releases: dict[str, dict[str, Any]] = field(default_factory=dict)
    acts: Counter[tuple[str, int, str]] = field(default_factory=Counter)
    """(act, house, answer) of acts without an id."""
    statuses: Counter[int] = field(default_factory=Counter)
    failures: list[tuple[float, float, str]] = field(default_factory=list)
    """When a request began that was cut off or answered with 500 or above, when it ended, and how."""
    acknowledged: int = 0
    repeated: int = 0

    def as_json_text(self) -> str:
        """The same for the judge, who lives in another process."""
        acts: dict[str, list[int]] = {}
        for (act, house, answer), count in self.acts.items():
            sums = acts.setdefault(f"{act} {house}", [0, 0])
            if answer != "refused":
                sums[answer == "unanswered"] += count
        return json.dumps({"outcomes": self.outcomes, "releases": self.releases, "acts": acts})


class Client:
    """One tablet and one desk at one house."""

    def __init__(self, port: int, headers: dict[str, str], house: dict[str, Any], seed: int) -> None:
        self.port, self.headers, self.house, self.doors = port, headers, house, house["doors"]
        self.dice = random.Random(seed)

    def ask(self, who: str, path: str, fields: list[tuple[str, str]]) -> int:
        """Post once; the status, or an OSError or HTTPException when it was cut off."""
        headers = self.headers | {
            "Cookie": f"{self.house[who]}; csrftoken={TOKEN}; __Host-csrf={TOKEN}",
            "X-CSRFToken": TOKEN,
            "Content-Type": "application/x-www-form-urlencoded",
        }
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        try:
            link.request("POST", path, urlencode(fields), headers)
            answer = link.getresponse()
            answer.read()
            return answer.status
        finally:
            link.close()

    def choose(self) -> tuple[str, str, str, list[tuple[str, str]]]:
        """An act by chance: its name, who does it, where, with what."""
        act = self.dice.choice(ACTS)
        if act in ("make firm", "pencil"):
            return act, "planner", self.doors["firm" if act == "make firm" else "pencil"], []
        if act == "re-open":
            place = self.dice.choice(self.doors["places"])
            # Other words each time: the same again would be taken for a press that was repeated.
            fields = [("places", place), ("reason", f"disturbed {new_id()}"), ("sure", "1")]
            return act, "supervisor", self.doors["reopen"], fields
        if act == "release":
            name = self.house["signer"]
            fields = [("id", str(new_id())), ("name", name), ("typed", name), ("typed_again", name)]
            return act, "supervisor", self.doors["release"], [*fields, ("password", PASSWORD)]
        address, value = self.dice.choice(self.doors["checks"])
        kind = "not met" if self.dice.random() < 0.1 else "met"
        fields = [("id", str(new_id())), ("act", kind), ("value", value), ("note", "no. 12"), ("sure", "1")]
        return act, "supervisor", address, fields


class Load:
    """Clients in threads, and an observer who looks for violations past the program."""

    def __init__(
        self, port: int, headers: dict[str, str], houses: list[dict[str, Any]], look: Callable[[], int]
    ) -> None:
        self.book, self.look = Book(), look
        self.samples = self.violations = 0
        self.broken: list[str] = []
        self._stop, self._keep = threading.Event(), threading.Lock()
        self.clients = [Client(port, headers, house, seed) for seed, house in enumerate(houses * 2)]
        self.threads = [threading.Thread(target=self._work, args=(one,)) for one in self.clients]
        self.threads.append(threading.Thread(target=self._observe))

    def start(self) -> None:
        """Let them begin."""
        for thread in self.threads:
            thread.start()

    def stop(self) -> None:
        """Let each finish what it has begun."""
        self._stop.set()
        for thread in self.threads:
            thread.join(3 * PATIENCE)
            assert not thread.is_alive(), "a client hangs"

    def wait_for_more(self, count: int, seconds: float = 2 * PATIENCE) -> None:
        """Wait until so many more acts were acknowledged: what is killed next is killed under load."""
        wanted, deadline = self.book.acknowledged + count, time.monotonic() + seconds
        while self.book.acknowledged < wanted:
            assert time.monotonic() < deadline, f"no work is done: {self.book.statuses}"
            assert self.broken == []
            time.sleep(0.01)

    def _work(self, client: Client) -> None:
        try:
            while not self._stop.is_set():
                self._do(client)
        except Exception as problem:  # noqa: BLE001 - a thread's error is shown by the test
            self.broken.append(repr(problem))

    def _do(self, client: Client) -> None:
        act, who, path, fields = client.choose()
        given = dict(fields)
        answer = self._try(client, who, path, fields, again=False)
        deadline = time.monotonic() + PATIENCE
        while answer == "unanswered" and "id" in given and time.monotonic() < deadline:
            time.sleep(0.3)
            self.book.repeated += 1
            answer = self._try(client, who, path, fields, again=True)
        with self._keep:
            self.book.acknowledged += answer == "acknowledged"
            if act == "judge":
                self.book.outcomes[given["id"]] = {"check": path, "kind": given["act"], "answer": answer}
            elif act == "release":
                self.book.releases[given["id"]] = {"house": client.house["house"], "answer": answer}
            else:
                self.book.acts[act, client.house["house"], answer] += 1

    def _try(self, client: Client, who: str, path: str, fields: list[tuple[str, str]], *, again: bool) -> str:
        began = time.monotonic()
        try:
            status = client.ask(who, path, fields)
        except (OSError, http.client.HTTPException) as cut:
            if not again:
                self.book.failures.append((began, time.monotonic(), repr(cut)))
            return "unanswered"
        with self._keep:
            self.book.statuses[status] += 1
        if status >= 500:
            self.book.failures.append((began, time.monotonic(), f"{path} {status}"))
            return "unanswered"
        if status not in (302, *REFUSALS):
            raise ValueError(f"{path} answered {status}")
        return "acknowledged" if status == 302 else "refused"

    def _observe(self) -> None:
        while not self._stop.wait(0.05):
            try:
                found = self.look()
            except (psycopg.OperationalError, sqlite3.OperationalError):
                continue  # the database is down just now
            self.samples += 1
            self.violations += bool(found)
