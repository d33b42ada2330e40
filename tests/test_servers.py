"""The servers of the suite are the real ones, and a task really travels through them."""

import pytest
from celery import shared_task
from django.db import connection

from coordination.celery_app import tick
from tests import servers
from tests.waiting import wait_until

rings: list[str] = []


@shared_task(name="tests.note_ring")
def note_ring():
    rings.append("rung")


@pytest.mark.django_db
def test_the_database_is_the_one_this_run_asked_for(on_sqlite):
    with connection.cursor() as cursor:
        if on_sqlite:
            cursor.execute("PRAGMA journal_mode")
            assert cursor.fetchone() == ("wal",)
            cursor.execute("PRAGMA synchronous")
            assert cursor.fetchone() == (2,), "FULL: a power cut takes back nothing that was answered"
        else:
            cursor.execute("SHOW server_version_num")
            assert int(cursor.fetchone()[0]) >= 150000


def test_a_worker_of_this_run_starts_servers_of_its_own(monkeypatch):
    """What a run put into its environment is not taken by its workers for an address that somebody gave."""
    monkeypatch.setenv("BEFORE_THE_BOARD_TEST_SCRATCH", "/tmp/btb-run")
    monkeypatch.setenv("BEFORE_THE_BOARD_TEST_DATABASE", "postgresql://postgres@/x?host=/tmp/btb-run/pg")
    monkeypatch.setenv("BEFORE_THE_BOARD_TEST_REDIS", "redis://queue:6379/0")
    monkeypatch.delenv("BEFORE_THE_BOARD_DATA", raising=False)
    assert [name for name in servers.ADDRESSES if servers.is_given(name)] == ["BEFORE_THE_BOARD_TEST_REDIS"]
    monkeypatch.setenv("BEFORE_THE_BOARD_TEST_DATABASE", "sqlite")
    assert servers.is_given("BEFORE_THE_BOARD_TEST_DATABASE")


def test_the_tick_rings_a_doorbell_through_valkey(celery_worker, settings):
    settings.COORDINATION_TICK_TASKS = ["tests.note_ring"]
    rings.clear()
    tick.delay()
    wait_until("the doorbell rang", lambda: rings)
    assert rings == ["rung"]


def test_the_clock_stands_still_on_a_monday_morning(monday_morning):
    from coordination import clock

    assert clock.say_half_day(clock.current_half_day("Australia/Hobart")) == "Mon 13 Apr, morning"


def test_the_browser_is_driven(page, live_server, artifacts):
    page.goto(f"{live_server.url}/accounts/")
    assert page.title()
