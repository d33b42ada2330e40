"""The two passes over arrays: every date and float of many houses in one sweep forward and one back.

The same rules as `critical_path`, without reasons and windows: for comparing thousands of variants, for
levelling and for forecasts. Activities lie in topological order, relationships in compressed rows behind
them, calendars as the two tables `before` and `kth` on one common horizon.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled import compile_kernel, say_once_if_slow
from coordination.engine.network import ELAPSED, Network
from coordination.engine.order import order_activities
from coordination.engine.progress import count_work_left, earliest_instant, still_holds
from coordination.engine.workdays import (
    END_OF_TIME,
    FIRST_INSTANT,
    HALF_DAYS_PER_WEEK,
    BeyondTime,
    WorkingCalendar,
)

Whole = NDArray[np.int32]
Flags = NDArray[np.bool_]

Links = tuple[Whole, Whole, Whole, Whole, Whole]

NO_FLOAT = int(np.iinfo(np.int32).min)
"""In place of a float: a milestone without successor has none."""

_FROM_FINISH, _TO_FINISH, _COUNTED = (
    1,
    2,
    4,
)  # what a link looks at, what it holds, whether its lag is counted
_FAR = 1 << 30


@dataclass(frozen=True)
class Tables:
    """`before` and `kth` of several calendars over ``[first, first + before.shape[1] - 1]``, all from 0."""

    first: int
    before: Whole
    kth: Whole


@dataclass(frozen=True)
class CompiledNetwork:
    """A network as arrays in topological order; `order` leads back to the input order.

    `into` are the relationships into each activity (rows, sources, kinds, lags, lag calendars), `out` those
    out of it; what no longer holds anybody (see `critical_path`) is left out.
    """

    order: Whole
    calendar: Whole
    work: Whole
    floor: Whole
    wanted: Whole
    house: Whole
    houses: int
    fixed: Flags
    actual: Whole
    no_float: Flags
    into: Links
    out: Links
    calendars: tuple[WorkingCalendar, ...]
    data_date: int


@dataclass(frozen=True)
class DateArrays:
    """Instants and floats of every activity in input order; see `plan.PlannedActivity`."""

    es: Whole
    ef: Whole
    ls: Whole
    lf: Whole
    total_float: Whole
    free_float: Whole


def lay_out_calendars(calendars: Sequence[WorkingCalendar], first: int, end: int) -> Tables:
    """The tables of calendars over a horizon."""
    instants = np.arange(first, end + 1)
    before = np.zeros((len(calendars), len(instants)), dtype=np.int32)
    kth = np.full((len(calendars), len(instants)), _FAR, dtype=np.int32)
    for c, calendar in enumerate(calendars):
        counts = calendar.before_each(instants)
        before[c] = counts - counts[0]
        worked = np.flatnonzero(np.diff(before[c]))
        kth[c, : len(worked)] = worked
    return Tables(first, before, kth)


def compile_network(network: Network, data_date: int = 0) -> CompiledNetwork:
    """Lay a network out for `run_passes`. Raises `CircularNetwork`."""
    order = order_activities(network)
    place = np.empty(len(order), dtype=np.int32)
    place[order] = np.arange(len(order))
    names = {name: c for c, name in enumerate(network.calendars)}
    houses = {name: h for h, name in enumerate(dict.fromkeys(a.house for a in network.activities), 1)}
    activities = [network.activities[i] for i in order]
    calendars = tuple(network.calendars.values())

    position = network.position
    tied = [(position[x.from_id], position[x.to_id]) for x in network.relationships]
    into, out = _lay_out_links(network, tied, place, names)
    leads_on = np.zeros(len(order), dtype=np.bool_)
    leads_on[place[[i for i, _ in tied]]] = True

    def whole(values: Sequence[int]) -> Whole:
        return np.array(values, dtype=np.int32)

    return CompiledNetwork(
        whole(order),
        whole([names[a.calendar] for a in activities]),
        whole([count_work_left(a, network.calendars[a.calendar], data_date) for a in activities]),
        whole([earliest_instant(a, data_date) for a in activities]),
        whole([_FAR if a.not_after is None else a.not_after for a in activities]),
        whole([0 if a.house is None else houses[a.house] for a in activities]),
        len(houses) + 1,
        np.array([a.finished for a in activities]),
        whole([_FAR if a.actual_start is None else a.actual_start for a in activities]),
        np.array([a.duration == 0 and not a.finished for a in activities]) & ~leads_on,
        into,
        out,
        calendars,
        data_date,
    )


def _lay_out_links(
    network: Network, tied: Sequence[tuple[int, int]], place: Whole, names: Mapping[str, int]
) -> tuple[Links, Links]:
    """Relationships into and out of each activity; `tied` are the input positions of their ends."""
    given = network.activities
    table: list[tuple[int, int, int, int, int, bool]] = []
    for x, (i, j) in zip(network.relationships, tied, strict=True):
        source, target = given[i], given[j]
        if not still_holds(x, source, target):
            continue
        elapsed = x.lag_calendar == ELAPSED
        kind = _FROM_FINISH * (x.type[0] == "F") + _TO_FINISH * (x.type[1] == "F")
        counted = 0 if elapsed else names[x.lag_calendar or target.calendar]
        kind += _COUNTED * (not elapsed and x.lag != 0)
        held_back = x.type[0] == "F" or source.actual_start is None
        table.append((i, j, kind, x.lag, counted, held_back))
    rows = np.array(table, dtype=np.int32).reshape(len(table), 6).T
    source_place, target_place = place[rows[0]], place[rows[1]]

    def lay_out(near: Whole, far: Whole, some: Flags) -> Links:
        chosen = np.flatnonzero(some)
        chosen = chosen[np.argsort(near[chosen], kind="stable")]
        ends = np.concatenate(([0], np.cumsum(np.bincount(near[chosen], minlength=len(place)))))
        return ends.astype(np.int32), far[chosen], rows[2, chosen], rows[3, chosen], rows[4, chosen]

    into = lay_out(target_place, source_place, np.ones(len(table), dtype=np.bool_))
    return into, lay_out(source_place, target_place, rows[5] > 0)


def compute_arrays(compiled: CompiledNetwork, tables: Tables | None = None) -> DateArrays:
    """Dates and floats of a compiled network, in the input order of its activities.

    `tables` are made to fit when missing or too short. Raises `BeyondTime` for a date that cannot be written.
    """
    say_once_if_slow()
    reach = 52 * HALF_DAYS_PER_WEEK
    low, high = int(min(compiled.floor.min(), compiled.actual.min())), int(compiled.floor.max())
    while True:
        if tables is None:
            first, end = low - reach, max(low, high) + 2 * reach
            tables = lay_out_calendars(compiled.calendars, max(first, FIRST_INSTANT), min(end, END_OF_TIME))
        found = np.empty((6, len(compiled.order)), dtype=np.int32)
        if _run(compiled, tables, found):
            break
        if first_and_last(tables) == (FIRST_INSTANT, END_OF_TIME):
            raise BeyondTime("a date outside the years 1 to 9999 cannot be written")
        tables, reach = None, reach * 2
    answer = np.empty_like(found)
    answer[:, compiled.order] = found
    return DateArrays(*answer)


def first_and_last(tables: Tables) -> tuple[int, int]:
    """The first and the last instant of the tables."""
    return tables.first, tables.first + tables.before.shape[1] - 1


def _run(compiled: CompiledNetwork, tables: Tables, found: Whole) -> bool:
    c = compiled
    rows = (c.calendar, c.work, c.floor, c.wanted, c.house, c.houses, c.fixed, c.actual, c.no_float)
    return bool(run_passes(tables.first, tables.before, tables.kth, *rows, *c.into, *c.out, found))


# --- kernels: instants are counted from the first of the tables; -1 is an instant outside of them ----------


@compile_kernel
def _before(before: Whole, c: int, t: int) -> int:
    return int(before[c, t]) if 0 <= t < before.shape[1] else -_FAR


@compile_kernel
def _kth(kth: Whole, c: int, k: int) -> int:
    return int(kth[c, k]) if 0 <= k < kth.shape[1] else -_FAR


@compile_kernel
def run_passes(
    first: int,
    before: Whole,
    kth: Whole,
    calendar: Whole,
    work: Whole,
    floor: Whole,
    wanted: Whole,
    house: Whole,
    houses: int,
    fixed: Flags,
    actual: Whole,
    no_float: Flags,
    in_rows: Whole,
    in_source: Whole,
    in_kind: Whole,
    in_lag: Whole,
    in_calendar: Whole,
    out_rows: Whole,
    out_target: Whole,
    out_kind: Whole,
    out_lag: Whole,
    out_calendar: Whole,
    found: Whole,
) -> bool:
    """Fill `found` with ES, EF, LS, LF, total and free float; False when a date lies outside the tables."""
    n = len(work)
    last = before.shape[1] - 1
    es, ef, ls, lf, total, free = found[0], found[1], found[2], found[3], found[4], found[5]
    ends = np.full(houses, -_FAR, np.int32)
    for i in range(n):
        w, c = work[i], calendar[i]
        t = floor[i] - first
        if fixed[i]:
            es[i], ef[i] = actual[i] - first, t
        else:
            for e in range(in_rows[i], in_rows[i + 1]):
                j, kind, lag = in_source[e], in_kind[e], in_lag[e]
                if kind & 1:
                    u = ef[j]
                elif actual[j] < _FAR:
                    u = actual[j] - first
                else:
                    u = es[j]
                if kind & 4:
                    u = _kth(kth, in_calendar[e], _before(before, in_calendar[e], u) + lag - 1) + 1
                else:
                    u += lag
                if kind & 2 and w:
                    u = _kth(kth, c, _before(before, c, u - 1) - w + 1)
                if u < -last:
                    return False
                t = max(t, u)
            if w:
                k = _before(before, c, t)
                t = _kth(kth, c, k)
                u = _kth(kth, c, k + w - 1) + 1
            else:
                u = t
            if t < 0 or u < 0 or t > last or u > last:
                return False
            es[i], ef[i] = t, u
        ends[house[i]] = max(ends[house[i]], ef[i])
    ends[0] = max(ends)
    for i in range(n - 1, -1, -1):
        if fixed[i]:
            ls[i], lf[i], total[i], free[i] = es[i], ef[i], 0, 0
            continue
        w, c = work[i], calendar[i]
        loose = ends[house[i]]  # finish and start that keep all behind it at early dates, then at late ones
        late = min(loose, wanted[i] - first)
        loose_start, late_start = _FAR, _FAR
        for e in range(out_rows[i], out_rows[i + 1]):
            j, kind, lag = out_target[e], out_kind[e], out_lag[e]
            if kind & 2:
                u, v = ef[j], lf[j]
            else:
                u, v = es[j], ls[j]
            if kind & 4:
                d = out_calendar[e]
                u = _kth(kth, d, _before(before, d, u) - lag)
                v = _kth(kth, d, _before(before, d, v) - lag)
                if u < 0 or v < 0:
                    return False
            else:
                u, v = u - lag, v - lag
            if kind & 1:
                loose, late = min(loose, u), min(late, v)
            else:
                loose_start, late_start = min(loose_start, u), min(late_start, v)
        if w:
            loose = min(loose_start, _kth(kth, c, _before(before, c, loose) - w))
            late = min(late_start, _kth(kth, c, _before(before, c, late) - w))
            if loose < 0 or late < 0:
                return False
            b, k = _before(before, c, loose + 1) - 1, _before(before, c, late + 1) - 1
            late = _kth(kth, c, k)
            ls[i], lf[i] = late, _kth(kth, c, k + w - 1) + 1
        else:
            loose, late = min(loose_start, loose), min(late_start, late)
            b, k = _before(before, c, loose), _before(before, c, late)
            ls[i], lf[i] = late, late
        if b < 0 or k < 0 or lf[i] < 0 or lf[i] > last:
            return False
        early = _before(before, c, es[i])
        total[i], free[i] = k - early, b - early
        if no_float[i]:
            total[i], free[i] = NO_FLOAT, NO_FLOAT
    for i in range(n):
        es[i] += first
        ef[i] += first
        ls[i] += first
        lf[i] += first
        if actual[i] < _FAR and not fixed[i]:
            es[i], ls[i] = actual[i], actual[i]
    return True
