"""Seeded databases for attacks and races: the suite's PostgreSQL, and an SQLite file in every run."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from coordination.sequence import guard
from tests.races.links import PostgresLink, SqliteLink
from tests.races.seed import Ids, seed

ROOT = Path(__file__).resolve().parent.parent.parent


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """A run on SQLite has no PostgreSQL to race on: its tests are deselected, and the count says so."""
    if os.environ.get("BEFORE_THE_BOARD_TEST_DATABASE") != "sqlite":
        return
    gone = [
        item
        for item in items
        if Path(item.path).parent == Path(__file__).parent
        and {"postgres_ids", "postgres_link"} & set(getattr(item, "fixturenames", ()))
    ]
    if gone:
        config.hook.pytest_deselected(items=gone)
        items[:] = [item for item in items if item not in gone]


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ids]:
    """A migrated, seeded SQLite file, made once; and its ids."""
    folder = tmp_path_factory.mktemp("sqlite")
    environment = {
        **os.environ,
        "BEFORE_THE_BOARD_TEST_DATABASE": "sqlite",
        "BEFORE_THE_BOARD_TEST_SCRATCH": str(folder),
        "DJANGO_SETTINGS_MODULE": "coordination.settings.test",
    }
    made = subprocess.run(
        [sys.executable, "-m", "tests.races.seed"], env=environment, cwd=ROOT, capture_output=True, text=True
    )
    assert made.returncode == 0, made.stderr
    return folder / "default.sqlite3", json.loads(made.stdout)


@pytest.fixture
def sqlite_file(sqlite_template: tuple[Path, Ids], tmp_path: Path) -> Path:
    """A copy of the file for one test."""
    return Path(shutil.copy(sqlite_template[0], tmp_path / "races.sqlite3"))


@pytest.fixture
def sqlite_ids(sqlite_template: tuple[Path, Ids]) -> Ids:
    """Ids of the rows in it."""
    return sqlite_template[1]


@pytest.fixture
def sqlite_link(sqlite_file: Path) -> Iterator[Callable[[], SqliteLink]]:
    """Opens connections to the file."""
    links: list[SqliteLink] = []

    def open_link() -> SqliteLink:
        links.append(SqliteLink(sqlite_file))
        return links[-1]

    yield open_link
    for link in links:
        link.close()


@pytest.fixture
def postgres_ids(transactional_db: None) -> Iterator[Ids]:
    """Ids of the rows in the suite's PostgreSQL, committed; the guard is put right afterwards."""
    yield seed()
    guard.install(connection)


@pytest.fixture
def postgres_link(postgres_ids: Ids) -> Iterator[Callable[[], PostgresLink]]:
    """Opens connections to the suite's PostgreSQL."""
    parameters: dict[str, Any] = connection.get_connection_params()
    names = ("dbname", "user", "password", "host", "port")
    wanted: dict[str, Any] = {name: parameters[name] for name in names if name in parameters}
    links: list[PostgresLink] = []

    def open_link() -> PostgresLink:
        links.append(PostgresLink(wanted))
        return links[-1]

    yield open_link
    for link in links:
        link.close()
