"""The draws as loops over arrays, for `compiled.compile_kernel`; `sampling_numpy` is the twin without numba.

One activity after the other, all draws of it at once. Random numbers come from SplitMix64 (G. L. Steele,
D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014; from memory), used as a
counter: the n-th number of a key is the mix of key + n * golden ratio.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled import compile_kernel
from coordination.engine.quantiles import CELLS, NORMAL_END, ROOT_END

Whole = NDArray[np.int32]
Bytes = NDArray[np.uint8]
Reals = NDArray[np.float64]
Places = NDArray[np.int64]

_FAR = 1 << 30
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX_1, _MIX_2 = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_30, _27, _31, _32 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(32)
_LOW = np.uint64(0xFFFFFFFF)
_PART = 2.0**-32
_ROOTS = CELLS / ROOT_END
_STEPS = (2 * CELLS + 1) / (2 * NORMAL_END)


# Loops are kept short and apart, so that the compiler turns them into vector instructions.


@compile_kernel
def _spread_out(key: Any, first: int, at: Reals, half: Reals, part: Reals) -> None:
    """Where in a table of quantiles the numbers of a key lie (`at`, in the half that starts at row `half`).

    `part` is a second number between 0 and 1 for each, from the lower bits.
    """
    for s in range(len(at)):
        x = key + np.uint64(first + s + 1) * _GOLDEN
        x = (x ^ (x >> _30)) * _MIX_1
        x = (x ^ (x >> _27)) * _MIX_2
        x = x ^ (x >> _31)
        u = np.float64(np.int64(x >> _32)) + 0.5
        part[s] = np.float64(np.int64(x & _LOW)) * _PART
        upper = u >= 2.0**31
        at[s] = np.sqrt(np.sqrt((2.0**32 - u if upper else u) * _PART)) * _ROOTS
        half[s] = CELLS + 1.0 if upper else 0.0


@compile_kernel
def _read(table: Reals, at: Reals, half: Reals, found: Reals) -> None:
    """Read quantiles; see `quantiles.read_quantiles`."""
    for s in range(len(at)):
        cell = np.int32(at[s])
        row = np.uint32(cell + np.int32(half[s]))
        low = table[row]
        found[s] = low + (at[s] - cell) * (table[row + np.uint32(1)] - low)


@compile_kernel
def draw_lengths(
    lay: Any, frame: Any, shared: Any, weights: Any, i: int, first: int, length: Whole, scratch: Reals
) -> None:
    """Fill `length` with draws of an activity's length, rework after a failed walk included.

    `scratch` are four rows of draws to work in.
    """
    draws = len(length)
    at, half, part, found = scratch[0], scratch[1], scratch[2], scratch[3]
    row = lay.table[i]
    if row < 0:
        length[:] = lay.length[i]
    else:
        low, span, c, r = lay.low[i], lay.span[i], lay.crew[i], lay.region[i]
        _spread_out(lay.key[i], first, at, half, part)
        if c == 0 and r == 0:
            _read(frame.quantiles[row], at, half, found)
        else:
            table, own = frame.by_deviate[row], lay.own[i]
            of_crew, of_region, by_crew, by_region = shared[c], shared[r], weights[0], weights[1]
            _read(frame.normal, at, half, found)
            for s in range(draws):
                z = own * found[s] + (by_crew * of_crew[s] + by_region * of_region[s])
                at[s] = min(max((z + NORMAL_END) * _STEPS, 0.0), 2.0 * CELLS + 0.999)
            half[:] = 0.0
            _read(table, at, half, found)
        for s in range(draws):
            length[s] = np.int32(low + span * found[s] + part[s])
    chance = lay.fail_chance[i]
    if chance > 0:
        _spread_out(lay.fail_key[i], first, at, half, part)
        more = lay.fail_length[i]
        for s in range(draws):
            length[s] += more if part[s] < chance else 0


@compile_kernel
def draw_late(
    lay: Any, frame: Any, shared: Any, weights: Any, i: int, first: int, late: Whole, scratch: Reals
) -> int:
    """Fill `late` with the half-days by which crews come late; returns the most that is possible."""
    late[:] = 0
    most = 0
    at, half, part, found = scratch[0], scratch[1], scratch[2], scratch[3]
    for e in range(lay.lates[i], lay.lates[i + 1]):
        over, c, least, span = lay.late_over[e], lay.late_crew[e], lay.late_least[e], lay.late_span[e]
        common = weights[0] if c else 0.0
        own, of_crew = np.sqrt(1.0 - common * common), shared[c]
        _spread_out(lay.late_key[e], first, at, half, part)
        _read(frame.normal, at, half, found)
        for s in range(len(late)):
            amount = least + np.int32(part[s] * (span + 1))
            late[s] += amount if own * found[s] + common * of_crew[s] > over else 0
        most += least + span
    return most


@compile_kernel
def sample_part(
    lay: Any,
    frame: Any,
    shared: Any,
    weights: Any,
    bits: int,
    begin: int,
    end: int,
    first: int,
    finish: Whole,
    start: Whole,
    ready: Whole,
    holds: Bytes,
) -> bool:
    """Draw the dates of the activities from place `begin` to `end`, draws `first` and on.

    Rows of `finish`, `start` (filled where a successor looks at it) and `ready` (where it is asked for) are
    activities from `begin` on, those of `holds` relationships. Instants are ticks. False: a date lies outside
    the tables.
    """
    before, kth, later = frame.before, frame.kth, frame.later
    draws, last = finish.shape[1], before.shape[1] - 1
    full = np.int32((1 << bits) - 1)
    lanes = 0
    for i in range(begin, end):
        lanes = max(lanes, lay.links[i + 1] - lay.links[i])
    bounds = np.empty((lanes, draws), np.int32)
    length, late = np.empty(draws, np.int32), np.empty(draws, np.int32)
    scratch = np.empty((4, draws), np.float64)
    base = lay.links[begin]
    for i in range(begin, end):
        row = i - begin
        demand, begun = finish[row], start[row]
        demand[:] = lay.floor[i]
        if lay.fixed[i]:
            begun[:] = lay.actual[i]
            if lay.wanted[i]:
                ready[row, :] = lay.actual[i]
            holds[lay.links[i] - base : lay.links[i + 1] - base] = 0
            continue
        draw_lengths(lay, frame, shared, weights, i, first, length, scratch)
        c, whole = lay.calendar[i], lay.whole[i]
        table, back = before[c], kth[c]
        for e in range(lay.links[i], lay.links[i + 1]):
            bound, j, lag, way = bounds[e - lay.links[i]], lay.source[e] - begin, lay.lag[e], lay.later[e]
            seen = finish[j] if lay.kind[e] & 1 else start[j]
            if way < 0:
                for s in range(draws):
                    bound[s] = seen[s] + lag
            else:
                jump = later[way]
                for s in range(draws):
                    bound[s] = jump[np.uint32((seen[s] + full) >> bits)] << bits
            if lay.kind[e] & 2:
                for s in range(draws):
                    if not whole:
                        bound[s] -= length[s]
                    elif length[s] > 0:
                        t = max(((bound[s] + full) >> bits) - 1, 0)
                        if t > last:
                            return False
                        k = table[t] - length[s] + 1
                        bound[s] = back[k] << bits if k >= 0 else 0
            for s in range(draws):
                demand[s] = max(demand[s], bound[s])
        top = 0
        for s in range(draws):
            top = max(top, demand[s])
        if (top + full) >> bits > last:
            return False
        for e in range(lay.links[i], lay.links[i + 1]):
            bound, held = bounds[e - lay.links[i]], holds[e - base]
            for s in range(draws):
                held[s] = bound[s] >= demand[s]
        if lay.wanted[i]:
            for s in range(draws):
                ready[row, s] = (
                    back[table[(demand[s] + full) >> bits]] if whole else (demand[s] + full) >> bits
                )
        most = 0
        if lay.lates[i + 1] > lay.lates[i]:
            most = draw_late(lay, frame, shared, weights, i, first, late, scratch)
        else:
            late[:] = 0
        if not whole:
            for s in range(draws):
                t = demand[s] + (late[s] << bits)
                begun[s] = t
                demand[s] = t + length[s]
        else:
            longest = 0
            for s in range(draws):
                longest = max(longest, length[s])
            if table[(top + full) >> bits] + most + longest > last:
                return False
            _place(table, back, demand, length, late, begun, bits, lay.starts[i] or most > 0)
        if lay.actual[i] < _FAR:
            begun[:] = lay.actual[i]
        top = 0
        for s in range(draws):
            top = max(top, demand[s])
        if top >> bits > last:
            return False
    return True


@compile_kernel
def _place(
    before: Whole,
    kth: Whole,
    demand: Whole,
    length: Whole,
    late: Whole,
    begun: Whole,
    bits: int,
    begins: bool,
) -> None:
    """Turn demands into finishes of unbroken work in a calendar; fill starts where they are looked at."""
    full = np.int32((1 << bits) - 1)
    if begins:
        for s in range(len(demand)):
            n = length[s]
            k = before[np.uint32((demand[s] + full) >> bits)] + late[s]
            if n > 0:
                begun[s] = kth[np.uint32(k)] << bits
            elif late[s] > 0:
                begun[s] = kth[np.uint32(k)] << bits
                demand[s] = begun[s]
            else:
                begun[s] = demand[s]
            if n > 0:
                demand[s] = (kth[np.uint32(k + n - 1)] + 1) << bits
    else:
        for s in range(len(demand)):
            n = length[s]
            k = before[np.uint32((demand[s] + full) >> bits)] + n - 1
            t = (kth[np.uint32(max(k, 0))] + 1) << bits
            demand[s] = t if n > 0 else demand[s]


@compile_kernel
def find_drivers(
    lay: Any, begin: int, end: int, finish: Whole, holds: Bytes, ends: Whole, drives: Bytes, count: Whole
) -> None:
    """Add to `count` in how many draws each activity drives the end of its house, or of one that waits.

    `ends` are the ends of houses by number, rows of draws.
    """
    draws = finish.shape[1]
    base = lay.links[begin]
    for i in range(begin, end):
        until, by = finish[i - begin], ends[lay.house[i]]
        row = drives[i - begin]
        for s in range(draws):
            row[s] = until[s] >= by[s]
    for i in range(end - 1, begin - 1, -1):
        row = drives[i - begin]
        for e in range(lay.links[i], lay.links[i + 1]):
            held, other = holds[e - base], drives[lay.source[e] - begin]
            for s in range(draws):
                other[s] |= row[s] & held[s]
        total = 0
        for s in range(draws):
            total += row[s]
        count[i] += total


@compile_kernel
def find_ends(rows: Whole, finish: Whole, ends: Whole) -> None:
    """Raise `ends` (by house number) to the finishes of the activities whose house numbers are `rows`."""
    for i in range(len(rows)):
        until, by = finish[i], ends[rows[i]]
        for s in range(finish.shape[1]):
            by[s] = max(by[s], until[s])


@compile_kernel
def find_reach(values: Whole, low: Whole, high: Whole) -> None:
    """Lower `low` and raise `high` to the least and the greatest value of each row."""
    for i in range(len(values)):
        row, least, most = values[i], low[i], high[i]
        for s in range(len(row)):
            least = min(least, row[s])
            most = max(most, row[s])
        low[i], high[i] = least, most


@compile_kernel
def count_values(values: Whole, low: Whole, step: int, offset: Places, counts: Whole) -> None:
    """Count the values of each row by steps (powers of two, as bits) from `low` on."""
    for i in range(len(values)):
        row, least, tally = values[i], low[i], counts[offset[i] : offset[i + 1]]
        for s in range(len(row)):
            tally[np.uint32((row[s] - least) >> step)] += 1


@compile_kernel
def move_counts(counts: Whole, offset: Places, steps: Whole, wider: Whole, wider_offset: Places) -> None:
    """Put each row of counts into a wider one, so many steps further on."""
    for i in range(len(steps)):
        begin, end = offset[i], offset[i + 1]
        at = wider_offset[i] + steps[i]
        wider[at : at + end - begin] = counts[begin:end]


@compile_kernel
def read_counts(counts: Whole, offset: Places, needed: Whole, found: Whole) -> None:
    """For each row the first step by which so many draws (`needed`, rising) are through."""
    for i in range(len(found)):
        through, k = 0, 0
        for at in range(offset[i], offset[i + 1]):
            through += counts[at]
            while k < len(needed) and through >= needed[k]:
                found[i, k] = at - offset[i]
                k += 1
            if k == len(needed):
                break
