"""Windows onto the running server, on a clock that can be moved from one day of the house to another."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from tests.journeys.people import Screens

MONDAY = dt.datetime(2026, 4, 12, 22, 0, tzinfo=dt.UTC)
"""Monday 13 April 2026, 8:00 in Hobart."""


@pytest.fixture
def days() -> Iterator[time_machine.Traveller]:
    """The clock runs from Monday 13 April 2026, 8:00 in Hobart; `.move_to()` moves it."""
    with time_machine.travel(MONDAY, tick=True) as traveller:
        yield traveller


@pytest.fixture
def screens(
    browser: Any,
    browser_context_args: dict[str, Any],
    transactional_db: None,
    live_server: Any,
    settings: Any,
    tmp_path: Any,
) -> Iterator[Screens]:
    """Browser windows on the live server; at the end none of them may have complained."""
    settings.MEDIA_ROOT = tmp_path
    made = Screens(browser, live_server.url, browser_context_args)
    yield made
    made.close()
    assert made.complaints == []
