"""Levelling: dates for many houses that the crews can keep.

Every schedule is made by serial generation (`crew_generation`): confirmed and frozen visits first, then the
activities in the order of a key, each as early as predecessors, calendars and crews allow. The search varies
the key: classical priority rules, mixtures of them, crews and houses put forward or back. The best so far is
always a complete schedule, so that one may stop at any time.

A plain project (see `crews.is_plain_project`) has no houses to weigh; its makespan is searched by `projects`.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled_dates import (
    CompiledNetwork,
    DateArrays,
    Tables,
    compile_network,
    compute_arrays,
    lay_out_calendars,
)
from coordination.engine.crew_generation import FAR, PLACED, place_activities, raise_keys
from coordination.engine.crews import (
    Demand,
    assign_crews,
    count_capacity,
    find_demand,
    is_plain_project,
    read_weights,
)
from coordination.engine.key_search import search_keys
from coordination.engine.network import Network
from coordination.engine.projects import shorten_project
from coordination.engine.workdays import END_OF_TIME, FIRST_INSTANT, Refused, write_half_day

Keys = NDArray[np.floating]

YEARS_BEYOND = 40
"""Work that finds no crew so long after the last date without crews is refused: it never would."""
HALF_DAYS_A_YEAR = 730
DEFAULT_SCHEDULES = 200


@dataclass(frozen=True)
class HouseResult:
    """One house: its finish without and with the limits of crews (instants), half-days late, cost by crew.

    `late` counts half-days of the axis beyond `wanted` (its earliest `not_after`, else the finish without
    limits). `waits` are the half-days on the way to its finish in which each crew was busy elsewhere.
    """

    finish: int
    finish_levelled: int
    wanted: int
    late: int
    waits: Mapping[str, int]


@dataclass(frozen=True)
class Levelled:
    """Levelled start and finish (instants) by activity, and what they mean."""

    network: Network
    data_date: int
    start: Mapping[str, int]
    finish: Mapping[str, int]
    houses: Mapping[str, HouseResult]
    waits: Mapping[str, int]
    """Half-days that each activity waits for its busy crews."""
    idle: Mapping[str, int]
    """Half-days of each crew without work between its first and its last."""
    changed: tuple[tuple[str | None, str], ...]
    """House and name of told visits whose date changes."""
    objective: float
    bound: int
    """Finish without the limits of crews."""
    schedules: int
    seconds: float
    crew_of: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """The crew chosen for each trade that an activity asks for, by activity and trade."""

    @property
    def assigned(self) -> Network:
        """The network with the chosen crews in the place of trades."""
        return assign_crews(self.network, self.crew_of)

    @property
    def makespan(self) -> int:
        """The levelled finish of all (an instant)."""
        return max(self.finish.values())


@dataclass
class Bench:
    """One network laid out for making schedules, and the best schedule so far."""

    network: Network
    data_date: int
    compiled: CompiledNetwork = field(init=False)
    dates: DateArrays = field(init=False)
    demand: Demand = field(init=False)
    tables: Tables = field(init=False)
    capacity: NDArray[np.int32] = field(init=False)
    schedules: int = 0
    best: float = float("inf")

    def __post_init__(self) -> None:
        self.compiled = compile_network(self.network, self.data_date)
        self.dates = compute_arrays(self.compiled)
        self.demand = find_demand(self.network, self.compiled, self.dates)
        self.weights = read_weights(self.network)
        order = self.compiled.order
        self.es = self.dates.es[order].astype(np.int64)
        self.lf = self.dates.lf[order].astype(np.int64)
        self.ls = self.dates.ls[order].astype(np.int64)
        self.ef = self.dates.ef[order].astype(np.int64)
        self.house = self.compiled.house
        self.names: list[str | None] = list(dict.fromkeys(a.house for a in self.network.activities))
        self.free_finish = self.ends(self.ef)
        wanted = np.full(self.compiled.houses, FAR, dtype=np.int64)
        np.minimum.at(wanted, self.house, self.compiled.wanted)
        self.wanted = np.where(wanted == FAR, self.free_finish, wanted)
        self.house_weight = np.zeros(self.compiled.houses)
        for h, name in enumerate(self.names, 1):
            # Work of no house is weighed like one house: its row is 0.
            self.house_weight[h if name is not None else 0] = self.weights.get(name, 1.0) if name else 1.0
        self.told = self._find_told()
        self._reach(2)

    def ends(self, finish: NDArray[np.int64]) -> NDArray[np.int64]:
        """The last finish of each house."""
        ends = np.full(self.compiled.houses, -FAR, dtype=np.int64)
        np.maximum.at(ends, self.house, finish)
        return ends

    def _find_told(self) -> NDArray[np.int64]:
        """Activities whose start a crew was told: the first of each visit that has a ``not_before``."""
        first: dict[int, int] = {}
        for k, i in enumerate(self.compiled.order):
            a = self.network.activities[i]
            if a.not_before is not None and self.demand.visit[k] >= 0 and a.actual_start is None:
                first.setdefault(int(self.demand.visit[k]), k)
        return np.array(sorted(first.values()), dtype=np.int64)

    def _reach(self, years: int) -> None:
        low = (
            int(min(self.compiled.floor.min(), self.compiled.actual.min(), self.es.min())) - HALF_DAYS_A_YEAR
        )
        high = int(self.ef.max()) + years * HALF_DAYS_A_YEAR
        self.years = years
        self.tables = lay_out_calendars(
            self.compiled.calendars, max(low, FIRST_INSTANT), min(high, END_OF_TIME - 1)
        )
        self.capacity = count_capacity(self.network, self.tables)

    def make(self, key: Keys, shy: Keys | None = None) -> float:
        """Make a schedule by a key and keep it if it is the best; returns its objective.

        `shy` are half-days by which each crew is held back where a trade may choose.
        """
        c, d = self.compiled, self.demand
        held = np.zeros(len(d.roster[2]), np.int32) if shy is None else np.maximum(0, shy).astype(np.int32)
        key = key.copy()
        raise_keys(key, c.into)
        order = np.argsort(key, kind="stable").astype(np.int32)
        while True:
            start, finish, bound = (np.empty(len(order), dtype=np.int32) for _ in range(3))
            free, crews = self.capacity.copy(), d.crews.copy()
            stuck = place_activities(
                order, (self.tables.first, self.tables.before, self.tables.kth),
                (c.calendar, c.work, c.floor, c.fixed, c.actual), c.into, (d.rows, crews, d.units),
                (d.visit, d.member_rows, d.members), d.roster, held, d.kept, free, start, finish, bound,
            )  # fmt: skip
            if stuck == PLACED:
                break
            if self.years >= YEARS_BEYOND:
                self._refuse(int(stuck))
            self._reach(self.years * 3)
        self.schedules += 1
        made = finish.astype(np.int64) + self.tables.first
        late = np.maximum(0, self.ends(made) - self.wanted)[self.free_finish > -FAR]
        value = self.weights["lateness"] * float((late * self.house_weight[self.free_finish > -FAR]).sum())
        if len(self.told):
            moved = start[self.told] + self.tables.first != self.es[self.told]
            value += self.weights["changed"] * int(moved.sum())
        value += self.weights["idle"] * sum(self.count_idle(free))
        if value < self.best:
            self.best = value
            self.start, self.finish, self.free = start.astype(np.int64) + self.tables.first, made, free
            self.bound, self.crews = bound.astype(np.int64) + self.tables.first, crews
        return value

    def crew_names(self, k: int) -> list[str]:
        """The crews that the activity at a place has in the best schedule."""
        found = self.crews[self.demand.rows[k] : self.demand.rows[k + 1]]
        return [self.network.crews[r].name for r in found.tolist()]

    def name_chosen(self) -> dict[str, dict[str, str]]:
        """The crews of the best schedule by activity and trade; see `Levelled.crew_of`."""
        d, chosen = self.demand, {}
        for k in np.flatnonzero(np.diff(d.rows)).tolist():
            part = slice(d.rows[k], d.rows[k + 1])
            asked = d.crews[part].tolist()
            if min(asked) < 0:
                name = self.network.activities[int(self.compiled.order[k])].id
                pairs = zip(asked, self.crew_names(k), strict=True)
                chosen[name] = {d.trades[-1 - code]: crew for code, crew in pairs if code < 0}
        return chosen

    def count_idle(self, free: NDArray[np.int32]) -> list[int]:
        """Half-days of each crew without work between its first and its last."""
        idle = []
        for r in range(len(free)):
            used = np.flatnonzero(self.capacity[r] > free[r])
            idle.append(int(np.maximum(free[r, used[0] : used[-1] + 1], 0).sum()) if len(used) else 0)
        return idle

    def _refuse(self, stuck: int) -> None:
        a = self.network.activities[int(self.compiled.order[stuck])]
        raise Refused(
            f"activity {a.id!r} never finds its crew ({', '.join(map(repr, a.crew)) or 'none'}) free for "
            f"{a.duration} half-days of its calendar {a.calendar!r} up to "
            f"{write_half_day(self.tables.first + self.tables.before.shape[1] - 2)}: compare its "
            "calendar with the crew's, or lower what is reserved"
        )


def level_network(
    network: Network,
    *,
    data_date: int = 0,
    schedules: int | None = None,
    seconds: float | None = None,
    seed: int = 0,
) -> Levelled:
    """Find dates that the crews can keep, by the objective of `crews.DEFAULT_WEIGHTS`.

    Parameters
    ----------
    schedules, seconds
        when to stop, whichever comes first; neither: after `DEFAULT_SCHEDULES` schedules.
    seed
        the same seed and number of schedules give the same dates.

    Raises
    ------
    Refused
        naming a circle, a need beyond a crew's capacity, work that never finds its crew, an unknown weight.
    """
    begun = time.perf_counter()
    if (schedules is not None and schedules < 1) or (seconds is not None and not seconds > 0):
        raise Refused("levelling needs at least one schedule and more than 0 seconds: raise the number")
    bench = Bench(network, data_date)
    until = None if seconds is None else begun + seconds
    if is_plain_project(network):
        found = shorten_project(network, schedules=schedules, seconds=seconds, seed=seed)
        key = np.array(found.start, dtype=np.float64)[bench.compiled.order]
        bench.make(key)
        bench.schedules = found.schedules
    else:
        most = schedules if schedules is not None else (1 << 40 if until is not None else DEFAULT_SCHEDULES)
        search_keys(bench, most, until, seed)
    return _describe(bench, time.perf_counter() - begun)


def place_in_order(network: Network, turn: Mapping[str, int], *, data_date: int = 0) -> Levelled:
    """One schedule and no search: work takes its crews in the order in which its turn comes.

    Args:
        turn: the instant at which each activity is due by what was planned; whoever is due first has a crew
            first, for as long as what leads up to it allows.

    Raises: as `level_network`.
    """
    begun = time.perf_counter()
    bench = Bench(network, data_date)
    ids = [network.activities[i].id for i in bench.compiled.order]
    bench.make(np.array([turn[name] for name in ids], dtype=np.float64))
    return _describe(bench, time.perf_counter() - begun)


def _describe(bench: Bench, seconds: float) -> Levelled:
    """The answer for the best schedule."""
    network, c = bench.network, bench.compiled
    ids = [network.activities[i].id for i in c.order]
    start, finish = bench.start.tolist(), bench.finish.tolist()
    waits = {}
    for k, name in enumerate(ids):
        a = network.activities[int(c.order[k])]
        waited = bench.tables.before[c.calendar[k]]
        first = bench.tables.first
        busy = int(waited[start[k] - first] - waited[bench.bound[k] - first])
        waits[name] = busy if a.crew and a.actual_start is None else 0
    ends = bench.ends(bench.finish)
    houses = {}
    for h, house in enumerate(bench.names, 1):
        if house is None:
            continue
        last = max(np.flatnonzero(bench.house == h).tolist(), key=lambda k: finish[k])
        late = max(0, int(ends[h] - bench.wanted[h]))
        houses[house] = HouseResult(
            int(bench.free_finish[h]),
            int(ends[h]),
            int(bench.wanted[h]),
            late,
            _blame(bench, last, ids, waits),
        )
    told = [k for k in bench.told.tolist() if start[k] != bench.es[k]]
    activities = [network.activities[int(c.order[k])] for k in told]
    shown = {ids[k]: k for k in range(len(ids))}
    by_input = [shown[a.id] for a in network.activities]
    actual = [a.actual_start for a in network.activities]
    return Levelled(
        network=network,
        data_date=bench.data_date,
        start={ids[k]: start[k] if t is None else t for k, t in zip(by_input, actual, strict=True)},
        finish={ids[k]: finish[k] for k in by_input},
        houses=houses,
        waits={ids[k]: waits[ids[k]] for k in by_input},
        idle=dict(zip((crew.name for crew in network.crews), bench.count_idle(bench.free), strict=True)),
        changed=tuple((a.house, str(a.visit)) for a in activities),
        objective=bench.best,
        bound=int(bench.ef.max()),
        schedules=bench.schedules,
        seconds=seconds,
        crew_of=bench.name_chosen(),
    )


def _blame(bench: Bench, last: int, ids: list[str], waits: Mapping[str, int]) -> dict[str, int]:
    """Half-days that each crew cost on the way to an activity, back along what held each one."""
    rows, source = bench.compiled.into[0], bench.compiled.into[1]
    cost: dict[str, int] = {}
    k: int | None = last
    while k is not None:
        if waits[ids[k]]:
            # Of several crews the first named stands for all: which was busy may differ by half-day.
            name = bench.crew_names(k)[0]
            cost[name] = cost.get(name, 0) + waits[ids[k]]
        before = source[rows[k] : rows[k + 1]].tolist()
        held = [j for j in before if bench.start[j] < bench.start[k]]
        k = max(held, key=lambda j: int(bench.finish[j]), default=None)
    return cost
