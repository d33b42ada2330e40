"""Processes of these tests find the engine compiled."""

import pytest


@pytest.fixture(scope="session", autouse=True)
def engine_for_processes(warm_engine: None) -> None:
    """A worker warms the engine beside its work: on a fresh clone that would keep the machine busy."""
