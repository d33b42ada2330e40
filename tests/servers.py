"""A pytest plugin: a real PostgreSQL and a real Valkey for one run of the suite.

Loaded with ``-p tests.servers`` (see pyproject.toml), so that the addresses stand in the environment before
Django reads its settings. The servers themselves start with the first test that asks for the database; a run
of the engine's tests alone starts neither. Both listen on Unix sockets in a fresh folder: no port can be
taken, and two runs do not meet.

Environment:

``BEFORE_THE_BOARD_TEST_DATABASE``
    ``sqlite`` for a temporary SQLite file, or the address of a PostgreSQL that runs already.
``BEFORE_THE_BOARD_TEST_REDIS``
    The address of a Redis or Valkey that runs already.
``CI=true``
    What is missing then is a failure; elsewhere the tests that need it are skipped with the reason.
"""

import atexit
import os
import shutil
import tempfile
from collections.abc import Generator
from pathlib import Path

import pytest

from tests.server_processes import MissingServer, PostgresServer, Server, ValkeyServer

IN_CI = os.environ.get("CI", "").lower() in ("1", "true", "yes")

ADDRESSES = ("BEFORE_THE_BOARD_DATA", "BEFORE_THE_BOARD_TEST_DATABASE", "BEFORE_THE_BOARD_TEST_REDIS")

_servers: list[Server] = []
_scratch: Path | None = None


def _remove_scratch() -> None:
    if _scratch is not None:
        shutil.rmtree(_scratch, ignore_errors=True)


def is_given(name: str) -> bool:
    """Whether somebody named an address; one of the run that started this one is not: it has its own.

    Workers of pytest-xdist inherit what the run put into its environment, and start servers of their own.
    """
    parent = os.environ.get("BEFORE_THE_BOARD_TEST_SCRATCH")
    return name in os.environ and not (parent and parent in os.environ[name])


def prepare_addresses() -> None:
    """Choose sockets and put their addresses into the environment; nothing is started yet."""
    global _scratch
    given = {name for name in ADDRESSES if is_given(name)}
    # Short on purpose: a socket's path may have about 100 characters, and some temporary folders are long.
    parent = "/tmp" if os.access("/tmp", os.W_OK) else None
    _scratch = Path(tempfile.mkdtemp(prefix="btb-", dir=parent))
    atexit.register(_remove_scratch)
    os.environ["BEFORE_THE_BOARD_TEST_SCRATCH"] = str(_scratch)
    if "BEFORE_THE_BOARD_DATA" not in given:
        os.environ["BEFORE_THE_BOARD_DATA"] = str(_scratch / "data")
    if "BEFORE_THE_BOARD_TEST_DATABASE" not in given:
        postgres = PostgresServer(_scratch / "pg")
        os.environ["BEFORE_THE_BOARD_TEST_DATABASE"] = postgres.address
        _servers.append(postgres)
    if "BEFORE_THE_BOARD_TEST_REDIS" not in given:
        valkey = ValkeyServer(_scratch / "vk")
        os.environ["BEFORE_THE_BOARD_TEST_REDIS"] = valkey.address
        _servers.append(valkey)
    # Playwright's synchronous API runs a loop in this thread, and Django then takes every query for one made
    # inside a coroutine.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"


def start_servers() -> None:
    """Start what the addresses promise. Fails in CI, and skips elsewhere, when no binary is found."""
    for server in _servers:
        try:
            server.start()
        except MissingServer as missing:
            if IN_CI:
                pytest.fail(str(missing))
            pytest.skip(str(missing))


@pytest.hookimpl(wrapper=True)
def pytest_load_initial_conftests() -> Generator[None, object, object]:
    """Run before pytest-django, which reads the settings in the same hook: wrappers come first."""
    prepare_addresses()
    return (yield)


def pytest_report_header() -> str:
    """Say in the first lines which servers this run uses."""
    database = os.environ["BEFORE_THE_BOARD_TEST_DATABASE"]
    kind = database if database == "sqlite" else database.split(":", 1)[0]
    own = ", ".join(type(server).__name__ for server in _servers) or "none"
    return f"database: {kind}; servers of this run: {own}"


def pytest_unconfigure() -> None:
    """Stop the servers of this run, and remove what they wrote: a worker's process ends without its exits."""
    while _servers:
        _servers.pop().stop()
    _remove_scratch()
