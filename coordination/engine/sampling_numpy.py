"""The draws in plain NumPy: the same numbers as `sampling_kernels`, for machines without numba."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from coordination.engine.quantiles import CELLS, NORMAL_END, Reals, read_quantiles
from coordination.engine.sampling_layout import FAR, FROM_FINISH, TO_FINISH, Frame, Layout
from coordination.engine.sampling_luck import Whole

Numbers = NDArray[np.uint64]
Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX_1, _MIX_2 = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_LOW = np.uint64(0xFFFFFFFF)
_PART = 2.0**-32
_STEPS = (2 * CELLS + 1) / (2 * NORMAL_END)


def draw_numbers(key: Any, first: int, count: int) -> Numbers:
    """The numbers `first` and on of a key (or of a column of keys): SplitMix64 as a counter."""
    x = key + np.arange(first + 1, first + count + 1, dtype=np.uint64) * _GOLDEN
    x = (x ^ (x >> np.uint64(30))) * _MIX_1
    x = (x ^ (x >> np.uint64(27))) * _MIX_2
    return np.asarray(x ^ (x >> np.uint64(31)))


def share_of(numbers: Numbers) -> Reals:
    """Shares between 0 and 1 from the upper halves of numbers."""
    return np.asarray(((numbers >> np.uint64(32)).astype(np.float64) + 0.5) * _PART)


def part_of(numbers: Numbers) -> Reals:
    """Numbers from 0 to below 1 from the lower halves of numbers."""
    return np.asarray((numbers & _LOW).astype(np.float64) * _PART)


def draw_lengths(
    lay: Layout,
    frame: Frame,
    shared: Reals,
    weights: tuple[float, float],
    i: int,
    first: int,
    length: Whole,
) -> None:
    """Fill `length` with draws of an activity's length, rework after a failed walk included."""
    row, draws = int(lay.table[i]), len(length)
    if row < 0:
        length[:] = lay.length[i]
    else:
        numbers = draw_numbers(lay.key[i], first, draws)
        part = part_of(numbers)
        c, r = int(lay.crew[i]), int(lay.region[i])
        if c == 0 and r == 0:
            x = read_quantiles(frame.quantiles[row], share_of(numbers))
        else:
            z = lay.own[i] * read_quantiles(frame.normal, share_of(numbers))
            z = z + (weights[0] * shared[c] + weights[1] * shared[r])
            at = np.clip((z + NORMAL_END) * _STEPS, 0.0, 2.0 * CELLS + 0.999)
            cell = at.astype(np.int64)
            table = frame.by_deviate[row]
            x = table[cell] + (at - cell) * (table[cell + 1] - table[cell])
        length[:] = (lay.low[i] + lay.span[i] * x + part).astype(np.int32)
    if lay.fail_chance[i] > 0:
        failed = part_of(draw_numbers(lay.fail_key[i], first, draws)) < lay.fail_chance[i]
        length[failed] += lay.fail_length[i]


def draw_late(
    lay: Layout, frame: Frame, shared: Reals, weights: tuple[float, float], i: int, first: int, late: Whole
) -> int:
    """Fill `late` with the half-days by which crews come late; returns the most that is possible."""
    late[:] = 0
    most = 0
    for e in range(int(lay.lates[i]), int(lay.lates[i + 1])):
        c = int(lay.late_crew[e])
        common = weights[0] if c else 0.0
        numbers = draw_numbers(lay.late_key[e], first, len(late))
        z = np.sqrt(1.0 - common * common) * read_quantiles(frame.normal, share_of(numbers))
        amount = part_of(numbers) * (lay.late_span[e] + 1)
        late += np.where(
            z + common * shared[c] > lay.late_over[e], lay.late_least[e] + amount.astype(np.int32), 0
        ).astype(np.int32)
        most += int(lay.late_least[e] + lay.late_span[e])
    return most


def sample_part(
    lay: Layout,
    frame: Frame,
    shared: Reals,
    weights: tuple[float, float],
    bits: int,
    begin: int,
    end: int,
    first: int,
    finish: Whole,
    start: Whole,
    ready: Whole,
    holds: Bytes,
) -> bool:
    """Draw the dates of a part; see `sampling_kernels.sample_part`."""
    draws, last = finish.shape[1], frame.before.shape[1] - 1
    full, base = (1 << bits) - 1, int(lay.links[begin])
    length, late = np.empty(draws, np.int32), np.empty(draws, np.int32)
    for i in range(begin, end):
        row = i - begin
        demand, begun = finish[row], start[row]
        demand[:] = lay.floor[i]
        arriving = range(int(lay.links[i]), int(lay.links[i + 1]))
        if lay.fixed[i]:
            begun[:] = lay.actual[i]
            if lay.wanted[i]:
                ready[row] = lay.actual[i]
            holds[arriving.start - base : arriving.stop - base] = 0
            continue
        draw_lengths(lay, frame, shared, weights, i, first, length)
        whole = bool(lay.whole[i])
        before, kth = frame.before[lay.calendar[i]], frame.kth[lay.calendar[i]]
        bounds = []
        for e in arriving:
            seen = (finish if lay.kind[e] & FROM_FINISH else start)[lay.source[e] - begin]
            if lay.later[e] < 0:
                bound = seen + lay.lag[e]
            else:
                bound = frame.later[lay.later[e]][(seen + full) >> bits] << bits
            if lay.kind[e] & TO_FINISH:
                if whole:
                    t = np.maximum(((bound + full) >> bits) - 1, 0)
                    if (t[length > 0] > last).any():
                        return False
                    k = before[np.minimum(t, last)] - length + 1
                    placed = np.where(k >= 0, kth[np.maximum(k, 0).clip(max=last)] << bits, 0)
                    bound = np.where(length > 0, placed, bound)
                else:
                    bound = bound - length
            bounds.append(bound)
            np.maximum(demand, bound, out=demand)
        top = int(demand.max())
        if (top + full) >> bits > last:
            return False
        for e, bound in zip(arriving, bounds, strict=True):
            holds[e - base] = bound >= demand
        k = before[(demand + full) >> bits]
        if lay.wanted[i]:
            ready[row] = kth[k] if whole else (demand + full) >> bits
        most = draw_late(lay, frame, shared, weights, i, first, late)
        if not whole:
            begun[:] = demand + (late << bits)
            demand[:] = begun + length
        else:
            if int(before[(top + full) >> bits]) + most + int(length.max()) > last:
                return False
            moved = (length > 0) | (late > 0)
            begun[:] = np.where(moved, kth[k + late] << bits, demand)
            worked = (kth[np.maximum(k + late + length - 1, 0)] + 1) << bits
            demand[:] = np.where(length > 0, worked, begun)
        if lay.actual[i] < FAR:
            begun[:] = lay.actual[i]
        if int(demand.max()) >> bits > last:
            return False
    return True


def find_drivers(
    lay: Layout, begin: int, end: int, finish: Whole, holds: Bytes, ends: Whole, drives: Bytes, count: Whole
) -> None:
    """Count the draws in which each activity drives the end; see `sampling_kernels.find_drivers`."""
    base = int(lay.links[begin])
    drives[:] = finish >= ends[lay.house[begin:end]]
    for i in range(end - 1, begin - 1, -1):
        for e in range(int(lay.links[i]), int(lay.links[i + 1])):
            drives[lay.source[e] - begin] |= drives[i - begin] & holds[e - base]
    count[begin:end] += drives.sum(axis=1, dtype=np.int32)


def find_ends(rows: Whole, finish: Whole, ends: Whole) -> None:
    """Raise `ends` (by house number) to the finishes of the activities whose house numbers are `rows`."""
    np.maximum.at(ends, rows, finish)


def find_reach(values: Whole, low: Whole, high: Whole) -> None:
    """Lower `low` and raise `high` to the least and the greatest value of each row."""
    np.minimum(low, values.min(axis=1), out=low)
    np.maximum(high, values.max(axis=1), out=high)


def count_values(values: Whole, low: Whole, step: int, offset: Places, counts: Whole) -> None:
    """Count the values of each row by steps (powers of two, as bits) from `low` on."""
    flat = ((values - low[:, None]) >> step) + offset[:-1, None]
    counts += np.bincount(flat.ravel(), minlength=len(counts)).astype(np.int32)


def move_counts(counts: Whole, offset: Places, steps: Whole, wider: Whole, wider_offset: Places) -> None:
    """Put each row of counts into a wider one, so many steps further on."""
    rows = np.repeat(np.arange(len(steps)), np.diff(offset))
    wider[np.arange(len(counts)) + (wider_offset[:-1] + steps - offset[:-1])[rows]] = counts


def read_counts(counts: Whole, offset: Places, needed: Whole, found: Whole) -> None:
    """For each row the first step by which so many draws (`needed`, rising) are through."""
    for i in range(len(found)):
        through = np.cumsum(counts[offset[i] : offset[i + 1]])
        found[i] = np.searchsorted(through, needed)
