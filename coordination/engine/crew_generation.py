"""The kernel that places the activities of many houses one after the other, each when its crews are free.

Serial schedule generation (Kolisch 1996) on the half-day axis: relationships of all types, a calendar for
each activity, capacity of each crew by half-day. The unit of demand is the visit: activities of one visit
that are worked in the same half-day take a crew once, not several times.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled import compile_kernel

Whole = NDArray[np.int32]
Flags = NDArray[np.bool_]
Links = tuple[Whole, Whole, Whole, Whole, Whole]
Work = tuple[Whole, Whole, Whole, Flags, Whole]
"""Calendar, half-days of work, first instant, whether finished, actual start (FAR: none) of each activity."""
Demand = tuple[Whole, Whole, Whole]
"""Rows, crews and units in them; a crew below 0 is a trade of which one crew is chosen (-1: the first)."""
Roster = tuple[Whole, Whole, Whole]
"""Rows of the trades, the crews in them, the capacity of every crew."""
Members = tuple[Whole, Whole, Whole]
"""Visit of each activity (-1: none), rows, activities in them."""

FAR = 1 << 30
PLACED = -1


@compile_kernel
def _needed(i: int, crew: int, units: int, u: int, start: Whole, finish: Whole, placed: Flags,
            before: Whole, calendar: Whole, demand: Demand, members: Members) -> int:  # fmt: skip
    """Units that activity i needs of a crew at half-day u beyond what its visit has there already."""
    visit, rows, inside = members
    rows_of, crews, counts = demand
    v = visit[i]
    if v < 0:
        return units
    there = 0
    for e in range(rows[v], rows[v + 1]):
        m = inside[e]
        if (
            m != i
            and placed[m]
            and start[m] <= u < finish[m]
            and before[calendar[m], u + 1] > before[calendar[m], u]
        ):
            for d in range(rows_of[m], rows_of[m + 1]):
                if crews[d] == crew:
                    there = max(there, counts[d])
    return max(0, units - there)


@compile_kernel
def _book(i: int, start: Whole, finish: Whole, placed: Flags, before: Whole, kth: Whole, calendar: Whole,
          work: Whole, demand: Demand, members: Members, free: Whole) -> None:  # fmt: skip
    """Take the crews of an activity out of what is free, over the half-days that it is worked."""
    rows_of, crews, counts = demand
    c = calendar[i]
    if work[i]:
        for k in range(before[c, start[i]], before[c, finish[i]]):
            u = kth[c, k]
            for d in range(rows_of[i], rows_of[i + 1]):
                r = crews[d]
                free[r, u] -= _needed(
                    i, r, counts[d], u, start, finish, placed, before, calendar, demand, members
                )
    placed[i] = True


@compile_kernel
def _find_start(i: int, k: int, last: int, start: Whole, finish: Whole, placed: Flags, before: Whole,
                kth: Whole, calendar: Whole, work: Whole, demand: Demand, members: Members,
                free: Whole) -> int:  # fmt: skip
    """The first k of the calendar's working half-days from which the crews are free; -1: not in the tables.

    Demand for a trade whose crew is not chosen yet is not looked at.
    """
    rows_of, crews, counts = demand
    c, w = calendar[i], work[i]
    q = k
    while q < k + w:
        u = kth[c, q]
        if u >= last:
            return -1
        enough = True
        for d in range(rows_of[i], rows_of[i + 1]):
            r = crews[d]
            if (
                free[r, u] < counts[d]
                and r >= 0
                and free[r, u]
                < _needed(i, r, counts[d], u, start, finish, placed, before, calendar, demand, members)
            ):
                enough = False
        q += 1
        if not enough:
            k = q
    return k


@compile_kernel
def _choose_crews(i: int, k: int, last: int, start: Whole, finish: Whole, placed: Flags, before: Whole,
                  kth: Whole, calendar: Whole, work: Whole, demand: Demand, members: Members, free: Whole,
                  roster: Roster, shy: Whole) -> None:  # fmt: skip
    """Put a crew in the place of each trade that an activity asks for: the one that can begin first.

    `shy` are half-days by which the search holds a crew back here. The whole visit gets the same crew.
    """
    rows_of, crews, counts = demand
    rows, options, most = roster
    visit, member_rows, inside = members
    for d in range(rows_of[i], rows_of[i + 1]):
        code = crews[d]
        if code >= 0:
            continue
        chosen, earliest = -1, FAR
        for o in range(rows[-1 - code], rows[-code]):
            r = options[o]
            if chosen < 0:
                chosen = r
            if counts[d] > most[r]:
                continue
            crews[d] = r
            q = _find_start(
                i, k, last, start, finish, placed, before, kth, calendar, work, demand, members, free
            )
            if q >= 0 and q + shy[r] < earliest:
                chosen, earliest = r, q + shy[r]
        crews[d] = chosen
        v = visit[i]
        if v >= 0:
            for e in range(member_rows[v], member_rows[v + 1]):
                for x in range(rows_of[inside[e]], rows_of[inside[e] + 1]):
                    if crews[x] == code:
                        crews[x] = chosen


@compile_kernel
def place_activities(
    order: Whole,
    tables: tuple[int, Whole, Whole],
    activities: Work,
    links: Links,
    demand: Demand,
    members: Members,
    roster: Roster,
    shy: Whole,
    kept: Whole,
    free: Whole,
    start: Whole,
    finish: Whole,
    bound: Whole,
) -> int:
    """Fill `start`, `finish` and `bound` (the start that predecessors alone would allow) in this order.

    `kept` are starts to be kept where predecessors allow (FAR: none); their crews are booked first. `free` is
    the capacity of each crew by half-day and is used up; trades in `demand` are replaced by the crews chosen.
    Returns `PLACED`, or the activity that found no place within the tables. Instants count from the first of
    the tables.
    """
    first, before, kth = tables
    calendar, work, floor, fixed, actual = activities
    rows, source, kinds, lags, counted = links
    rows_of, crews, counts = demand
    last = before.shape[1] - 1
    n = len(order)
    placed = np.zeros(n, np.bool_)
    nothing = np.zeros_like(shy)
    chooses = len(roster[1]) > 0
    for i in range(n):
        if fixed[i]:
            start[i], finish[i] = actual[i] - first, floor[i] - first
            bound[i] = start[i]
        elif kept[i] < FAR:
            start[i] = kept[i] - first
            c = calendar[i]
            k = before[c, start[i]]
            finish[i] = kth[c, k + work[i] - 1] + 1 if work[i] else start[i]
            _choose_crews(i, k, last, start, finish, placed, before, kth, calendar, work, demand, members,
                          free, roster, nothing)  # fmt: skip
            if actual[i] < FAR or k == _find_start(
                i, k, last, start, finish, placed, before, kth, calendar, work, demand, members, free
            ):
                _book(i, start, finish, placed, before, kth, calendar, work, demand, members, free)
    for x in range(n):
        i = order[x]
        if fixed[i]:
            continue
        w, c = work[i], calendar[i]
        t = floor[i] - first
        for e in range(rows[i], rows[i + 1]):
            j, kind = source[e], kinds[e]
            if kind & 1:
                u = finish[j]
            elif actual[j] < FAR:
                u = actual[j] - first
            else:
                u = start[j]
            if kind & 4:
                k = before[counted[e], min(last, max(0, u))] + lags[e] - 1
                if k < 0 or k >= last or kth[counted[e], k] >= last:
                    return int(i)
                u = kth[counted[e], k] + 1
            else:
                u += lags[e]
            if kind & 2 and w:
                u = kth[c, max(0, before[c, min(last, max(0, u - 1))] - w + 1)]
            t = max(t, u)
        if t < 0 or t >= last:
            return int(i)
        k = before[c, t]
        if w:
            t = kth[c, k]
            if t >= last or k + w >= last:
                return int(i)
        bound[i] = t
        if placed[i]:
            if start[i] >= t:
                continue
            # What was to be kept cannot be: give its crews back and place it like the others.
            placed[i] = False
            for q in range(before[c, start[i]], before[c, finish[i]]):
                u = kth[c, q]
                for d in range(rows_of[i], rows_of[i + 1]):
                    free[crews[d], u] += _needed(
                        i, crews[d], counts[d], u, start, finish, placed, before, calendar, demand, members
                    )
        if w and rows_of[i + 1] > rows_of[i] and actual[i] == FAR:
            if chooses:
                _choose_crews(i, k, last, start, finish, placed, before, kth, calendar, work, demand, members,
                              free, roster, shy)  # fmt: skip
            k = _find_start(
                i, k, last, start, finish, placed, before, kth, calendar, work, demand, members, free
            )
            if k < 0:
                return int(i)
            t = kth[c, k]
        elif chooses and rows_of[i + 1] > rows_of[i]:
            _choose_crews(i, k, last, start, finish, placed, before, kth, calendar, work, demand, members,
                          free, roster, shy)  # fmt: skip
        start[i] = t
        finish[i] = kth[c, k + w - 1] + 1 if w else t
        if finish[i] > last:
            return int(i)
        _book(i, start, finish, placed, before, kth, calendar, work, demand, members, free)
    return PLACED


@compile_kernel
def raise_keys(key: NDArray[np.float64], links: Links) -> None:
    """Raise each key to that of its latest predecessor: sorted by them, predecessors come first."""
    rows, source = links[0], links[1]
    for i in range(len(key)):
        for e in range(rows[i], rows[i + 1]):
            key[i] = max(key[i], key[source[e]])
