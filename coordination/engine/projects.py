"""Search for a short schedule of a plain project: finish-to-start work of whole periods and shared crews."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from coordination.engine.compiled import say_once_if_slow
from coordination.engine.network import Network
from coordination.engine.order import order_activities
from coordination.engine.workdays import Refused

Rule = Literal["LFT", "slack", "EST"]
Scheme = Literal["serial", "parallel"]
DEFAULT_SCHEDULES = 5000
SLICE = 250
"""Schedules between two looks at the clock."""
RARITY = 2.0
"""Power by which scarce crews weigh more than idle ones where the search looks for peaks."""
SAMPLES = 200
"""Schedules drawn at first."""


@dataclass(frozen=True)
class Found:
    """A schedule: start by activity in the order of the network, its end, and how many were made for it."""

    start: list[int]
    makespan: int
    bound: int
    schedules: int


@dataclass(frozen=True)
class Project:
    """A plain project as arrays, activities in topological order (`order` leads back)."""

    network: Network
    order: list[int] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "order", order_activities(self.network))

    def arrays(self) -> tuple[tuple[np.ndarray, ...], tuple[np.ndarray, ...], tuple[np.ndarray, ...]]:
        """Work (lengths, needs, capacities), predecessors and successors as rows."""
        network = self.network
        place = {i: k for k, i in enumerate(self.order)}
        names = {crew.name: r for r, crew in enumerate(network.crews)}
        need = np.zeros((len(place), max(1, len(names))), dtype=np.int32)
        capacity = np.array([c.capacity for c in network.crews] or [1], dtype=np.int32)
        for k, i in enumerate(self.order):
            for name, units in network.activities[i].crew.items():
                need[k, names[name]] = units
                if units > capacity[names[name]]:
                    raise Refused(
                        f"activity {network.activities[i].id!r} needs {units} of crew {name!r}, which has "
                        f"{capacity[names[name]]}: lower the need or raise the capacity"
                    )
        length = np.array([network.activities[i].duration for i in self.order], dtype=np.int32)
        pairs = {
            (place[network.position[x.from_id]], place[network.position[x.to_id]])
            for x in network.relationships
        }

        def rows(ties: list[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
            sizes = np.bincount([a for a, _ in ties], minlength=len(place))
            ends = np.concatenate(([0], np.cumsum(sizes))).astype(np.int32)
            return ends, np.array([b for _, b in sorted(ties)], dtype=np.int32)

        return (length, need, capacity), rows([(t, s) for s, t in pairs]), rows(list(pairs))


def generate_schedule(network: Network, rule: Rule = "LFT", scheme: Scheme = "serial") -> Found:
    """One schedule of a plain project by a rule: latest finish, least slack or earliest start first."""
    from coordination.engine import list_search as kernels  # here, because numba takes long to import

    project = Project(network)
    work, into, out = project.arrays()
    length, _, capacity = work
    tail = kernels.measure_tails(length, *out)
    head = _heads(length, *into)
    priority = {"LFT": -tail + length, "slack": -tail - head, "EST": head}[rule].astype(np.int32)
    waiting = np.diff(into[0]).astype(np.int32)
    state = np.zeros(kernels.STATE, dtype=np.int64)
    start = np.zeros(len(length), dtype=np.int32)
    if scheme == "parallel":
        kernels.generate_parallel(priority, -1.0, waiting, out, work, state, start)
    else:
        order = np.zeros(len(length), dtype=np.int32)
        kernels.sample_list(priority, -1.0, waiting, out, state, order)
        free = np.empty((int(length.sum()) + 1, len(capacity)), dtype=np.int32)
        kernels.place_list(order, work, into, start, free)
    return _answer(project, start, length, int(tail.max()), 1)


def _heads(length: np.ndarray, rows: np.ndarray, before: np.ndarray) -> np.ndarray:
    head = np.zeros(len(length), dtype=np.int32)
    for i in range(len(length)):
        for j in before[rows[i] : rows[i + 1]]:
            head[i] = max(head[i], head[j] + length[j])
    return head


def _answer(project: Project, start: np.ndarray, length: np.ndarray, bound: int, schedules: int) -> Found:
    starts = [0] * len(start)
    for k, i in enumerate(project.order):
        starts[i] = int(start[k])
    return Found(starts, int((start + length).max()), bound, schedules)


def shorten_project(
    network: Network, *, schedules: int | None = None, seconds: float | None = None, seed: int = 0
) -> Found:
    """Search for a short schedule of a plain project.

    Ends after `schedules` complete schedules (each pass counts as one) or `seconds`, whichever is first, or
    when the critical path is reached. The same seed and `schedules` give the same answer.
    """
    from coordination.engine import list_search as kernels  # here, because numba takes long to import

    say_once_if_slow()
    project = Project(network)
    work, into, out = project.arrays()
    length, need, capacity = work
    n = len(length)
    demand = (length[:, None] * need).sum(axis=0) / np.maximum(capacity, 1)
    scarce = (demand / demand.max()) ** RARITY if demand.max() > 0 else demand
    weight = need @ (scarce / np.maximum(capacity, 1))
    load = length * weight
    load /= max(float(load.sum()), 1e-9)
    floor = int(kernels.measure_tails(length, *out).max())
    most = schedules if schedules is not None else (1 << 40 if seconds is not None else DEFAULT_SCHEDULES)
    begun, expected = time.monotonic(), most
    samples = min(most, SAMPLES)
    state = np.zeros(kernels.STATE, dtype=np.int64)
    state[kernels.SIZE] = samples
    state[kernels.BEST], state[kernels.SEED] = kernels.FAR, 1 + (seed * 7919 + 104729) % 2147483646
    value = np.full((2, samples), kernels.FAR, dtype=np.float64)
    starts, best = np.zeros((2, samples, n), dtype=np.int32), np.zeros(n, dtype=np.int32)
    while True:
        made = int(state[kernels.DONE])
        if seconds is None:
            pause = most
        else:
            # Nobody wants the bare minimum of nothing: one schedule is made before the clock is asked. How
            # many there will be in all follows from the speed so far.
            gone = time.monotonic() - begun
            if made and gone >= seconds:
                break
            pause = min(most, made + (SLICE if made else 1))
            expected = min(most, int(made * seconds / max(gone, 1e-9))) if made else most
        limits = (floor, pause, most, expected)
        habits = choose_habits(n)
        kernels.search_lists(work, (into, out), (weight, load), limits, habits, state, value, starts, best)
        if state[kernels.DONE] >= most or state[kernels.BEST] <= floor:
            break
    return _answer(project, best, length, floor, int(state[kernels.DONE]))


def choose_habits(n: int) -> tuple[int, int, float, float, float]:
    """Habits of the search (`list_search.Habits`) by the number of activities.

    Found by measurement on the published instances beside the tests, with seeds from 101 on (the benchmark
    reports 1 to 5): small projects need more unrest, and end with more individuals. Larger populations for
    longer searches were no better.
    """
    if n <= 45:
        return 60, 15, 2.0, 3.0, 30.0
    return 60, 8, 1.0, 1.0, 10.0
