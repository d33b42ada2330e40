"""The house of the hold points' tests; processes find the engine compiled."""

import pytest

from tests.hold_points.conftest import site

__all__ = ["site"]


@pytest.fixture(scope="session", autouse=True)
def engine_for_processes(warm_engine: None) -> None:
    """Parts are killed and started again: none of them should have to compile first."""
