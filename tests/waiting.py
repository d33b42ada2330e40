"""Waiting for another thread or process: for long, because a machine may be busy, and with plain words."""

import socket
import threading
import time
from collections.abc import Callable, Iterable
from typing import TypeVar

PATIENCE = 120
"""Seconds. Whoever waits is done as soon as it stands; only what never comes takes so long."""
TURN = 0.05

T = TypeVar("T")


def wait_until(what: str, stands: Callable[[], T], seconds: float = PATIENCE) -> T:
    """Look again and again until `stands` gives something true, and return that.

    Raises:
        AssertionError: naming `what` did not come within so many seconds.
    """
    until = time.monotonic() + seconds
    while not (found := stands()):
        assert time.monotonic() < until, f"not within {seconds:g} s: {what}"
        time.sleep(TURN)
    return found


def wait_for_end(threads: Iterable[threading.Thread], seconds: float = PATIENCE) -> None:
    """Wait until all threads have ended.

    Raises:
        AssertionError: one of them hangs.
    """
    for thread in threads:
        thread.join(seconds)
        assert not thread.is_alive(), f"{thread.name} has not ended within {seconds:g} s"


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
