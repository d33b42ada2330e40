"""Compile what fits and forecasts run, or read it from disk, before somebody waits for it."""

from __future__ import annotations

import logging

from coordination import engine

_log = logging.getLogger(__name__)


def warm_engine() -> None:
    """Run every kernel of the engine once. Seconds at the first time; without numba it is over at once."""
    _log.info("The engine is warm after %.1f s.", engine.warm())
