"""Many browsers at one house at once: judge, sign, re-open, pencil, make firm, look; and an observer."""

from __future__ import annotations

import http.client
import random
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from urllib.parse import urlencode, urlsplit

from django.db import connection, connections
from django.test import Client
from django.urls import reverse

from coordination.people.models import Person
from hold_points.identifiers import new_id
from tests.hold_points.houses import PASSWORD, Site
from tests.races.links import VIOLATIONS
from tests.waiting import wait_for_end

PATIENCE = 600
"""Seconds in which an answer must come, however busy the machine is."""
LONGEST = 3600.0
"""Seconds after which a drive is given up."""
LOOKS = 50
"""How often the observer must have looked before a drive may end."""
ACTS = ("judge",) * 5 + ("release",) * 2 + ("make firm",) * 3 + ("pencil", "re-open", "look")


@dataclass
class Traffic:
    """What was asked and answered."""

    answers: Counter[tuple[str, int]] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)
    samples: int = 0
    violations: int = 0
    seconds: float = 0

    @property
    def requests(self) -> int:
        return sum(self.answers.values())

    @property
    def failures(self) -> int:
        """Answers of 500 and above."""
        return sum(count for (_act, status), count in self.answers.items() if status >= 500)

    def add(self, other: Traffic) -> None:
        """Count another drive's traffic in."""
        self.answers += other.answers
        self.broken += other.broken
        self.samples += other.samples
        self.violations += other.violations
        self.seconds += other.seconds

    def accepted(self, act: str) -> int:
        """How often an act was done: it answers with a redirect."""
        return self.answers[act, 302]

    @property
    def saw_everything(self) -> bool:
        """Each act was done at least once, and the observer looked often: a drive may end."""
        return self.samples > LOOKS and min(self.accepted(act) for act in set(ACTS) - {"look"}) > 0

    def say(self) -> str:
        """The figures in one paragraph."""
        acts = ", ".join(f"{act} {status}: {count}" for (act, status), count in sorted(self.answers.items()))
        return (
            f"{self.requests} requests in {self.seconds:.1f} s, answers of 500: {self.failures}, "
            f"violations {self.violations} in {self.samples} samples\n{acts}\n"
        )


class Browser:
    """One signed-in browser on a connection of its own."""

    token = "t" * 32

    def __init__(self, address: str, person: Person) -> None:
        parts = urlsplit(address)
        self.host, self.port = parts.hostname or "127.0.0.1", parts.port or 80
        client = Client()
        client.force_login(person)
        self.cookie = f"sessionid={client.cookies['sessionid'].value}; csrftoken={self.token}"
        self.link = http.client.HTTPConnection(self.host, self.port, timeout=PATIENCE)

    def ask(self, path: str, fields: list[tuple[str, str]] | None = None) -> int:
        """GET, or POST with fields; returns the status."""
        headers = {"Cookie": self.cookie, "X-CSRFToken": self.token}
        if fields is None:
            self.link.request("GET", path, headers=headers)
        else:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
            self.link.request("POST", path, urlencode(fields), headers)
        answer = self.link.getresponse()
        answer.read()
        return answer.status

    def close(self) -> None:
        """Hang up."""
        self.link.close()


@dataclass(frozen=True)
class Doors:
    """Addresses at the house's second hold, and what is posted there."""

    site: Site
    firm: str
    pencil: str
    visit: str
    release: str
    reopen: str
    hold: str
    checks: tuple[tuple[str, str], ...]
    """(address, value to enter) of each check."""
    places: tuple[str, ...]

    def act(self, name: str, planner: Browser, supervisor: Browser, dice: random.Random) -> int:
        """One act by name; returns the status of its answer."""
        if name == "make firm":
            return planner.ask(self.firm, [])
        if name == "pencil":
            return planner.ask(self.pencil, [])
        if name == "look":
            return planner.ask(dice.choice([self.visit, self.hold]))
        if name == "release":
            signer = self.site.supervisor.name
            fields = [("id", str(new_id())), ("name", signer), ("typed", signer), ("typed_again", signer)]
            return supervisor.ask(self.release, [*fields, ("password", PASSWORD)])
        if name == "re-open":
            place = dice.choice(self.places)
            # Other words each time: the same again would be taken for a press that was repeated.
            reason = f"disturbed {new_id()}"
            return supervisor.ask(self.reopen, [("places", place), ("reason", reason), ("sure", "1")])
        address, value = dice.choice(self.checks)
        fields = [("id", str(new_id())), ("act", "met"), ("value", value), ("note", "no. 12")]
        return supervisor.ask(address, fields)


def find_doors(site: Site) -> Doors:
    """The doors of H4 and of the visit behind it."""
    point, visit = site.point("H4"), site.visit("batts")
    house = {"house": site.house.pk, "visit": visit.pk}
    checks = point.checks.filter(withdrawn_at=None)
    return Doors(
        site,
        reverse("planner:make_firm", kwargs=house),
        reverse("planner:pencil", kwargs=house),
        reverse("planner:visit", kwargs=house),
        reverse("hold_points:release", args=[point.pk]),
        reverse("hold_points:reopen", args=[point.pk]),
        reverse("hold_points:hold", args=[point.pk]),
        tuple(
            (reverse("hold_points:check", args=[one.pk]), "" if one.limit is None else f"{one.limit:g}")
            for one in checks
        ),
        tuple(str(one) for one in checks.values_list("place_id", flat=True).distinct() if one),
    )


def drive(
    address: str, site: Site, *, clients: int, requests: int = 0, stop_at_violation: bool = False
) -> Traffic:
    """Let so many clients ask at random until so many requests were answered and everything was seen.

    With `stop_at_violation` until the observer sees one. A drive is given up after an hour, and at the first
    request that is not answered.
    """
    traffic, stop, counting = Traffic(), threading.Event(), threading.Lock()
    doors = find_doors(site)
    browsers = [(Browser(address, site.planner), Browser(address, site.supervisor)) for _ in range(clients)]

    def ask(number: int) -> None:
        dice = random.Random(number)
        while not stop.is_set():
            name = dice.choice(ACTS)
            try:
                status = doors.act(name, *browsers[number], dice)
            except (OSError, http.client.HTTPException) as problem:
                traffic.broken.append(f"{name}: {problem!r}")
                stop.set()
                return
            with counting:
                traffic.answers[name, status] += 1
                if not stop_at_violation and traffic.requests >= requests and traffic.saw_everything:
                    stop.set()

    def look() -> None:
        try:
            while not stop.is_set():
                with connection.cursor() as cursor:
                    cursor.execute(VIOLATIONS)
                    found = cursor.fetchone()
                traffic.samples += 1
                traffic.violations += bool(found and found[0])
                if stop_at_violation and traffic.violations:
                    stop.set()
                stop.wait(0.02)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(clients)]
    threads.append(threading.Thread(target=look))
    start = time.perf_counter()
    for thread in threads:
        thread.start()
    try:
        stop.wait(LONGEST)
    finally:
        # Also on Ctrl-C: clients that nobody stops would keep the process for ever.
        stop.set()
    wait_for_end(threads, 2 * PATIENCE)
    traffic.seconds = time.perf_counter() - start
    for pair in browsers:
        for browser in pair:
            browser.close()
    return traffic
