"""Sixteen browsers at one house through a live server on the loopback: no firm booking behind an open hold.

A thousand requests, or as many as `BEFORE_THE_BOARD_RACE_REQUESTS` says; `python -m tests.races.long http`
runs 20,000 and prints what was answered. After each thousand all clients move on to a new house: nobody
judges one hold point ten thousand times, and reading it would be all that is measured.
"""

import datetime as dt
import math
import os
import sys
import time

import pytest
import time_machine
from django.db import connection

from coordination.sequence import bookings, guard
from hold_points.record import export_record
from hold_points.recounting import recount
from hold_points.verify_record import verify_export
from tests.hold_points.houses import make_site
from tests.races.http_clients import Traffic, drive

pytestmark = [pytest.mark.race, pytest.mark.slow]

CLIENTS = 16
REQUESTS = int(os.environ.get("BEFORE_THE_BOARD_RACE_REQUESTS", "1000"))
AT_ONE_HOUSE = 1_000
MONDAY = dt.datetime(2026, 4, 12, 21, 0, tzinfo=dt.UTC)


@pytest.fixture
def build(transactional_db, settings, tmp_path):
    """Builds a house: first hold released, the crew behind the second told; the clock runs from Monday."""
    settings.MEDIA_ROOT = tmp_path

    def make_busy_site(number=0):
        site = make_site(builder=f"saltbush{number}")
        site.release_all("H3")
        site.pencil("plumb")
        site.pencil("batts")
        return site

    with time_machine.travel(MONDAY, tick=True):
        yield make_busy_site
    guard.install(connection)


def widen_the_gap(monkeypatch):
    """A moment between looking at the holds and writing 'firm', in which others may come in between."""
    look = bookings._refuse_behind_hold

    def look_and_wait(booking):
        look(booking)
        time.sleep(0.003)

    monkeypatch.setattr(bookings, "_refuse_behind_hold", look_and_wait)


def test_browsers_at_once_never_break_the_rule_and_never_get_a_500(build, live_server, monkeypatch):
    widen_the_gap(monkeypatch)
    traffic = Traffic()
    for number in range(math.ceil(REQUESTS / AT_ONE_HOUSE)):
        site = build(number)
        wanted = min(AT_ONE_HOUSE, REQUESTS - traffic.requests)
        at_one = drive(live_server.url, site, clients=CLIENTS, requests=wanted)
        traffic.add(at_one)
        assert at_one.broken == []
        assert at_one.saw_everything, at_one.say()
        # What went on at once is one chain, and the stored closure is what the network asks for.
        assert verify_export(export_record(site.house).encode())
        assert recount(site.house) == []
        sys.stdout.write(traffic.say())
        sys.stdout.flush()
    assert traffic.failures == 0, traffic.say()
    assert traffic.violations == 0
    assert traffic.requests >= REQUESTS


def test_twin_with_the_guard_off_the_observer_sees_it(build, live_server, monkeypatch):
    site = build()
    guard.uninstall(connection)
    monkeypatch.setattr(bookings, "_refuse_behind_hold", lambda booking: None)
    traffic = drive(live_server.url, site, clients=4, stop_at_violation=True)
    sys.stdout.write(traffic.say())
    assert traffic.violations == 1
