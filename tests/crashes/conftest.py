"""The house of the hold points' tests."""

from tests.hold_points.conftest import site

__all__ = ["site"]
