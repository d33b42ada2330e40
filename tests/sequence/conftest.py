"""A port that answers for holds without the package that judges them, and a house."""

from collections.abc import Iterator
from typing import Any

import pytest

from coordination.sequence.inspection import HoldState, Missing
from tests.sequence.brick_veneer import PORT, Office, RecordingPort, open_office
from tests.sequence.builders import SmallHouse, small_house


class AnsweringPort:
    """Says what a test put into it, and keeps what it was asked."""

    def __init__(self) -> None:
        self.words = ["pockets: 3 of 14 checked", "void caps: not seen"]
        self.calls: list[dict[str, Any]] = []

    def missing(self, hold_ids):
        lines = tuple(Missing(words) for words in self.words)
        return {pk: HoldState(pk, lines, checks_open=2, checks_total=4, put_right_open=0) for pk in hold_ids}

    def record_act(self, house, kind, facts):
        self.calls.append({"house": house.pk, "kind": kind, **facts})

    def call_ready(self, *, visit_id, crew, note=""):
        self.calls.append({"visit_id": visit_id, "crew": crew, "note": note})
        return ["Insulation"]


@pytest.fixture
def answering_port(monkeypatch: pytest.MonkeyPatch) -> AnsweringPort:
    """Stands for the package that judges hold points."""
    answering = AnsweringPort()
    for module in ("bookings", "answers"):
        monkeypatch.setattr(f"coordination.sequence.{module}.port", lambda: answering)
    return answering


@pytest.fixture
def small(db: None, monday_morning: Any) -> SmallHouse:
    """A small house; the clock stands at Monday 13 April 2026, 7:00."""
    return small_house()


@pytest.fixture
def recording_port(settings: Any) -> Iterator[type[RecordingPort]]:
    """The port is a small one that remembers what it was asked."""
    settings.COORDINATION_INSPECTION_PORT = PORT
    RecordingPort.set_out = []
    RecordingPort.fails = False
    yield RecordingPort
    RecordingPort.fails = False


@pytest.fixture
def office(db: None, recording_port: type[RecordingPort]) -> Office:
    """A builder in Tasmania with the shipped brick veneer."""
    return open_office()


@pytest.fixture
def office_without_holidays(db: None, recording_port: type[RecordingPort]) -> Office:
    """The same in a region that keeps no public holiday in 2026."""
    return open_office("Flatwater Homes", holidays=False)
