"""What every test may ask for: the servers, a browser, the Celery app, a fixed clock."""

import datetime as dt
import logging
import os
import shutil
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import Browser, BrowserContext, expect

from tests import servers
from tests.waiting import PATIENCE, wait_for_end, wait_until

ARTIFACTS = Path(__file__).resolve().parent.parent / "test-artifacts"

# Examples are judged by what they give, never by how long a busy machine takes over them. In CI the same
# ones are drawn each time.
hypothesis_settings.register_profile(
    "patient",
    hypothesis_settings.get_profile("ci" if servers.IN_CI else "default"),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
hypothesis_settings.load_profile("patient")


# ---------------------------------------------------------------- servers


@pytest.fixture(scope="session")
def running_servers() -> None:
    """PostgreSQL and Valkey are up (whichever this run uses)."""
    servers.start_servers()


@pytest.fixture(scope="session")
def django_db_modify_db_settings(running_servers: None) -> None:
    """Start the servers before the first test database is made.

    Overridden here and not in the plugin: a plugin loaded with -p comes before pytest-django, whose own
    fixture of this name would win.
    """


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Before the test database is dropped, whatever still answers a page of the last test may finish.

    A session that stays all the same is ended, and printed with what it asked last: whatever kept it has
    its own test to fail in, and not the one that happens to be the last.
    """
    yield
    from django.db import connection

    if connection.vendor != "postgresql":
        return

    def others(what: str) -> list[Any]:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT {what} {OTHERS}")
            return list(cursor.fetchall())

    with django_db_blocker.unblock():
        try:
            wait_until("nobody else at the test database", lambda: not others("pid"))
        except AssertionError as late:
            for stayed in others("query, state, pg_terminate_backend(pid)"):
                sys.stderr.write(f"\n{late}: ended {stayed}\n")


OTHERS = """
FROM pg_stat_activity
WHERE datname = current_database() AND backend_type = 'client backend' AND pid <> pg_backend_pid()
"""


@pytest.fixture
def on_sqlite(settings: Any) -> bool:
    """Whether this run uses SQLite instead of PostgreSQL."""
    return bool(settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"))


@pytest.fixture(scope="session")
def warm_engine() -> None:
    """Every kernel of the engine is compiled and kept on disk before anyone waits for what it computes.

    On a fresh clone that takes minutes on a busy machine; whoever starts processes asks for it, too.
    """
    from coordination import engine

    engine.warm()


# ---------------------------------------------------------------- browser


def find_chromium() -> str | None:
    """Return the path of the Chromium to drive: CHROMIUM, or the first one on the path."""
    wanted = os.environ.get("CHROMIUM")
    if wanted:
        return wanted
    for name in ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable"):
        found = shutil.which(name)
        if found:
            return found
    return None


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Drive the distribution's Chromium. Missing: a failure in CI, a skip with the reason elsewhere."""
    executable = find_chromium()
    if executable is None:
        reason = "No Chromium was found: install the package chromium, or name one in CHROMIUM."
        if servers.IN_CI:
            pytest.fail(reason)
        pytest.skip(reason)
    arguments = [
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        # Shared memory of containers is small, and Chromium then dies with a blank page.
        "--disable-dev-shm-usage",
    ]
    if os.geteuid() == 0:
        arguments.append("--no-sandbox")
    return {**browser_type_launch_args, "executable_path": executable, "args": arguments}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """Pages speak Australian English and live in Hobart, as the demo's builder does."""
    return {**browser_context_args, "locale": "en-AU", "timezone_id": "Australia/Hobart"}


@pytest.fixture(scope="session")
def browser(browser: Browser, warm_engine: None) -> Iterator[Browser]:
    """Pages are waited for as long as everything else here, whoever opens the window."""
    open_context = browser.new_context

    def open_patiently(**options: Any) -> BrowserContext:
        context = open_context(**options)
        context.set_default_timeout(PATIENCE * 1000)
        OPEN_WINDOWS.append(context)
        context.on("close", lambda closed: OPEN_WINDOWS.remove(closed))
        return context

    expect.set_options(timeout=PATIENCE * 1000)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(browser, "new_context", open_patiently)
        yield browser


OPEN_WINDOWS: list[BrowserContext] = []
"""What the running test has opened; a failed one leaves them, and the server would answer them for ever."""


@pytest.fixture(autouse=True)
def windows_are_closed() -> Iterator[None]:
    """A test that failed amid a page leaves no window behind for the next."""
    yield
    for window in tuple(OPEN_WINDOWS):
        window.close()


@pytest.fixture(scope="session")
def artifacts() -> Path:
    """The folder for screenshots and reports of this run; git ignores it."""
    ARTIFACTS.mkdir(exist_ok=True)
    return ARTIFACTS


# ---------------------------------------------------------------- Celery


@pytest.fixture
def celery_app(running_servers: None, warm_engine: None) -> Iterator[Any]:
    """The project's Celery app with an empty queue on the run's Valkey; the engine is warm."""
    from coordination.celery_app import app

    app.control.purge()
    yield app
    app.control.purge()
    app.close()


@pytest.fixture
def celery_worker(celery_app: Any, transactional_db: None) -> Iterator[Any]:
    """A worker that runs in a thread of this process and really takes its tasks from Valkey.

    It uses its own database connection, so the test must commit: use `transactional_db`, which this asks for.
    """
    from celery.worker import state

    ready = threading.Event()
    worker = celery_app.WorkController(
        pool="solo",
        without_gossip=True,
        without_mingle=True,
        without_heartbeat=True,
        ready_callback=lambda _consumer: ready.set(),
    )
    thread = threading.Thread(target=worker.start, name="celery-worker", daemon=True)
    thread.start()
    try:
        assert ready.wait(PATIENCE), f"the worker did not become ready within {PATIENCE} s"
        yield worker
    finally:
        state.should_stop = 0
        try:
            wait_for_end([thread])
        finally:
            state.should_stop = None


# ---------------------------------------------------------------- what is logged


class _Listener(logging.Handler):
    """Keeps each record as it would be printed, its traceback included."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(self.format(record))


@pytest.fixture
def heard() -> Iterator[list[str]]:
    """What the project logs, heard at its own loggers.

    `caplog` listens at the root, and hears nothing where another test of the process has set logging up anew.
    """
    names = ("coordination", "hold_points")
    for name, one in logging.root.manager.loggerDict.items():
        if name.split(".")[0] in names and isinstance(one, logging.Logger):
            one.disabled = False
    logging.disable(logging.NOTSET)
    listener = _Listener()
    for name in names:
        logging.getLogger(name).addHandler(listener)
    yield listener.said
    for name in names:
        logging.getLogger(name).removeHandler(listener)


# ---------------------------------------------------------------- time


@pytest.fixture
def monday_morning() -> Iterator[time_machine.Traveller]:
    """The clock stands still at Monday 13 April 2026, 7:00 in Hobart; `.move_to()` moves it."""
    moment = dt.datetime(2026, 4, 12, 21, 0, tzinfo=dt.UTC)
    with time_machine.travel(moment, tick=False) as traveller:
        yield traveller


# ---------------------------------------------------------------- the guard and emptied tables


@pytest.fixture(scope="session", autouse=True)
def guard_stands_aside_when_tables_are_emptied() -> Iterator[None]:
    """Tests that commit empty all tables afterwards, which the guard refuses: take it down for that moment.

    Django's `flush` ends with `post_migrate`, which puts the guard back. The program itself has no such way.
    """
    from django.db.backends.base.operations import BaseDatabaseOperations

    from coordination.sequence import guard

    empty = BaseDatabaseOperations.execute_sql_flush

    def empty_without_guard(operations: BaseDatabaseOperations, sql_list: list[str]) -> None:
        guard.uninstall(operations.connection)
        empty(operations, sql_list)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BaseDatabaseOperations, "execute_sql_flush", empty_without_guard)
        yield
