"""The two passes over what a change can reach and no further, for `compiled.compile_kernel`.

The rules are those of `critical_path`. Arrays lie in an order in which each part of the network is in one
piece and every predecessor before its successors. Instants are absolute, those of the tables count from their
first.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled import compile_kernel

Whole = NDArray[np.int32]
Bytes = NDArray[np.uint8]

NO_FLOAT = int(np.iinfo(np.int32).min)
"""In place of a float: a milestone without successor has none."""
UNSTARTED, UNDER_WAY, FINISHED = 0, 1, 2
FROM_FINISH, TO_FINISH = 1, 2
BY_DATA_DATE, BY_NOT_BEFORE, BY_FACT = -1, -2, -3
FAR = 1 << 30


@compile_kernel
def _before(tables: Any, c: int, t: int) -> int:
    return int(tables.before[c, t]) if 0 <= t < tables.before.shape[1] else -FAR


@compile_kernel
def _kth(tables: Any, c: int, k: int) -> int:
    return int(tables.kth[c, k]) if 0 <= k < tables.kth.shape[1] else -FAR


@compile_kernel
def _holds(state_of_source: int, state_of_target: int, kind: int) -> bool:
    """Whether a relationship still asks anything of its successor; see `progress.still_holds`."""
    if state_of_target == UNDER_WAY:
        return state_of_source != FINISHED and kind != 0
    return bool(state_of_target != FINISHED)


@compile_kernel
def _place_early(facts: Any, links: Any, tables: Any, dates: Any, data_date: int, i: int) -> Any:
    """Start, finish, driver and half-days waited of one activity; a start of -`FAR` is outside the tables."""
    first, last = tables.first, tables.before.shape[1] - 1
    state, n, c = facts.state[i], facts.work[i], facts.calendar[i]
    if state == FINISHED:
        return facts.actual_start[i], facts.actual_finish[i], BY_FACT, 0
    demand, driver = data_date, BY_DATA_DATE
    if state == UNSTARTED and facts.not_before[i] >= demand:
        demand, driver = facts.not_before[i], BY_NOT_BEFORE
    demand -= first
    for e in range(links.into[i], links.into[i + 1]):
        j, kind = links.source[e], links.kind[e]
        if not _holds(facts.state[j], state, kind):
            continue
        if kind & FROM_FINISH:
            u = dates.ef[j] - first
        elif facts.state[j] != UNSTARTED:
            u = facts.actual_start[j] - first
        else:
            u = dates.es[j] - first
        d = links.lag_calendar[e]
        if d < 0:
            u += links.lag[e]
        else:
            u = _kth(tables, d, _before(tables, d, u) + links.lag[e] - 1) + 1
            if u < 0:
                return -FAR, -FAR, 0, 0
        if kind & TO_FINISH and n:
            u = _kth(tables, c, _before(tables, c, u - 1) - n + 1)
        if u < -FAR // 2:
            return -FAR, -FAR, 0, 0
        if u > demand or (u == demand and driver < 0):
            demand, driver = u, e
    if n:
        k = _before(tables, c, demand)
        start, finish = _kth(tables, c, k), _kth(tables, c, k + n - 1) + 1
    else:
        start = finish = demand
    if start < 0 or finish < 0 or start > last or finish > last:
        return -FAR, -FAR, 0, 0
    return start + first, finish + first, driver, start - demand


@compile_kernel
def _place_late(facts: Any, links: Any, tables: Any, dates: Any, end: int, i: int) -> Any:
    """Latest start and finish, total and free float; a start of -`FAR` is outside the tables."""
    first, last = tables.first, tables.before.shape[1] - 1
    state, n, c = facts.state[i], facts.work[i], facts.calendar[i]
    if state == FINISHED:
        return dates.es[i], dates.ef[i], 0, 0
    loose = end - first
    late = min(loose, facts.not_after[i] - first)
    loose_start, late_start = FAR, FAR
    for x in range(links.out[i], links.out[i + 1]):
        e = links.leaving[x]
        j, kind, d, lag = links.target[e], links.kind[e], links.lag_calendar[e], links.lag[e]
        if not _holds(state, facts.state[j], kind) or (not kind & FROM_FINISH and state != UNSTARTED):
            continue
        if kind & TO_FINISH:
            u, v = dates.ef[j] - first, dates.lf[j] - first
        else:
            u, v = dates.es[j] - first, dates.ls[j] - first
        if d < 0:
            u, v = u - lag, v - lag
        else:
            u = _kth(tables, d, _before(tables, d, u) - lag)
            v = _kth(tables, d, _before(tables, d, v) - lag)
            if u < 0 or v < 0:
                return -FAR, -FAR, 0, 0
        if kind & FROM_FINISH:
            loose, late = min(loose, u), min(late, v)
        else:
            loose_start, late_start = min(loose_start, u), min(late_start, v)
    if n:
        loose = min(loose_start, _kth(tables, c, _before(tables, c, loose) - n))
        late = min(late_start, _kth(tables, c, _before(tables, c, late) - n))
        if loose < 0 or late < 0:
            return -FAR, -FAR, 0, 0
        b, k = _before(tables, c, loose + 1) - 1, _before(tables, c, late + 1) - 1
        start = _kth(tables, c, k)
        finish = _kth(tables, c, k + n - 1) + 1
    else:
        loose, start = min(loose_start, loose), min(late_start, late)
        b, k = _before(tables, c, loose), _before(tables, c, start)
        finish = start
    early = _before(tables, c, dates.es[i] - first)
    if b < 0 or k < 0 or early < 0 or start < 0 or finish < 0 or finish > last:
        return -FAR, -FAR, 0, 0
    total, free = k - early, b - early
    if facts.bare[i] and links.out[i] == links.out[i + 1]:
        total, free = NO_FLOAT, NO_FLOAT
    return start + first, finish + first, total, free


@compile_kernel
def date_cone(
    facts: Any,
    links: Any,
    tables: Any,
    dates: Any,
    data_date: int,
    seeds: Whole,
    begin: int,
    end: int,
    ends: Whole,
    forward: Bytes,
    backward: Bytes,
) -> bool:
    """Bring the dates up to date after the facts of `seeds` changed, places `begin` to `end`.

    `ends` are finishes by house (0: no house, the last of all). `forward` and `backward` mark what is to be
    looked at; they are empty before and after. False: a date lies outside the tables, the dates are spoilt.
    """
    for x in range(len(seeds)):
        i = seeds[x]
        forward[i], backward[i] = 1, 1
        for e in range(links.into[i], links.into[i + 1]):
            backward[links.source[e]] = 1
        for y in range(links.out[i], links.out[i + 1]):
            forward[links.target[links.leaving[y]]] = 1
    moved = False
    touched = np.zeros(len(ends), np.uint8)
    for i in range(begin, end):
        if not forward[i]:
            continue
        forward[i] = 0
        start, finish, driver, waits = _place_early(facts, links, tables, dates, data_date, i)
        if start == -FAR:
            return False
        dates.driver[i], dates.waits[i] = driver, waits
        if start == dates.es[i] and finish == dates.ef[i]:
            continue
        dates.es[i], dates.ef[i] = start, finish
        moved = True
        touched[facts.house[i]] = 1
        backward[i] = 1
        for e in range(links.into[i], links.into[i + 1]):
            backward[links.source[e]] = 1
        for x in range(links.out[i], links.out[i + 1]):
            forward[links.target[links.leaving[x]]] = 1
    if moved:
        before = ends.copy()
        last = -FAR
        for i in range(begin, end):
            h = facts.house[i]
            if touched[h] == 1:
                touched[h] = 2
                ends[h] = -FAR
            if touched[h] and h:
                ends[h] = max(ends[h], dates.ef[i])
            last = max(last, dates.ef[i])
        ends[0] = last
        for i in range(begin, end):
            if ends[facts.house[i]] != before[facts.house[i]]:
                backward[i] = 1
    for i in range(end - 1, begin - 1, -1):
        if not backward[i]:
            continue
        backward[i] = 0
        start, finish, total, free = _place_late(facts, links, tables, dates, ends[facts.house[i]], i)
        if start == -FAR:
            return False
        dates.total[i], dates.free[i] = total, free
        if start == dates.ls[i] and finish == dates.lf[i]:
            continue
        dates.ls[i], dates.lf[i] = start, finish
        for e in range(links.into[i], links.into[i + 1]):
            backward[links.source[e]] = 1
    return True
