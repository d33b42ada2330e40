"""Compiling all kernels before anybody waits for them.

A worker calls `warm` when it starts. What is compiled is kept on disk, so that the next process only reads
it: beside the modules (``__pycache__``); where that folder cannot be written, in the user's cache folder (or
the one that the environment variable ``NUMBA_CACHE_DIR`` names); where neither can, in memory alone, and
every process compiles for itself.
"""

from __future__ import annotations

import time

from coordination.engine.compiled import COMPILES, say_once_if_slow
from coordination.engine.network import Activity, Crew, Network, Relationship
from coordination.engine.workdays import WorkingCalendar


def warm() -> float:
    """Run every kernel once, on two houses of two activities; returns the seconds it took.

    Without numba there is nothing to compile: that is said once, and 0 returned.
    """
    from coordination.engine.compiled_dates import compile_network, compute_arrays  # here: numba loads long
    from coordination.engine.forecast import forecast_network
    from coordination.engine.levelling import level_network

    if not COMPILES:
        say_once_if_slow()
        return 0.0
    begun = time.perf_counter()
    network = _sample_houses()
    compute_arrays(compile_network(network))
    level_network(network, schedules=6)
    forecast_network(network, samples=20)
    level_network(_sample_project(), schedules=400)
    return time.perf_counter() - begun


def _sample_houses() -> Network:
    activities = [
        Activity(
            f"{house} {work}",
            4,
            "site",
            house,
            crew={"builders": 1},
            visit=work,
            range=(3, 4, 6),
        )
        for house in ("first", "second")
        for work in ("frame", "wrap")
    ]
    links = [Relationship(f"{house} frame", f"{house} wrap", lag=1) for house in ("first", "second")]
    crews = (Crew("builders", 1, "site"),)
    return Network(tuple(activities), tuple(links), {"site": WorkingCalendar()}, crews=crews)


def _sample_project() -> Network:
    """Six jobs of which two fit at once: the critical path (4) cannot be reached, so the search goes on."""
    jobs = [Activity(f"job {k}", 2, crew={"hands": 1}) for k in range(8)]
    links = [Relationship("job 0", "job 1"), Relationship("job 2", "job 3")]
    return Network(tuple(jobs), tuple(links), crews=(Crew("hands", 2),))
