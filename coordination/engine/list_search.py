"""Kernels that search for a short schedule of work that shares limited crews.

An *activity list* is an order in which every activity comes after its predecessors; serial generation places
the activities of a list one after the other, each as early as predecessors and capacity allow. The search
keeps two populations: schedules pushed to the left and schedules pushed to the right. Each generation is made
from the other one read backwards, so that every new schedule is at the same time a justification of its
parents. A child takes one parent's order inside the window of time where that parent uses the scarce crews
best (its peak), and the other parent's order before and after it. Of equally long schedules that is better
whose work lies earlier: what comes after it has more room. At first some children are made by parallel
generation. The populations shrink as the schedules run out, and hold nothing twice.

References (from memory): R. Kolisch, EJOR 90 (1996) 320-333 (schemes, regret-biased sampling); V. Valls, F.
Ballestin, S. Quintanilla, EJOR 165 (2005) 375-386 (justification), 185 (2008) 495-508 (peak crossover);
D. Debels, M. Vanhoucke, LNCS 3483 (2005) 378-387 (two populations). Times are whole periods from 0;
activities are numbered so that predecessors come first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled import compile_kernel

Whole = NDArray[np.int32]
Wide = NDArray[np.int64]
Real = NDArray[np.float64]
Work = tuple[Whole, Whole, Whole]
"""Length by activity, need by activity and crew, capacity by crew."""
Links = tuple[Whole, Whole]
"""Rows and the activities in them: predecessors or successors."""

FAR = 1 << 30
STATE = 6
DONE, BEST, SIDE, SEED, SAMPLED, SIZE = range(STATE)
"""State: schedules made, best end, side (0 left, 1 right), random number, schedules sampled, size."""
Limits = tuple[int, int, int, int]
"""The end that cannot be beaten; schedules at which to pause, to stop, and expected in all."""
Habits = tuple[int, int, float, float, float]
"""Sizes of the populations at first and at last; the mean distance in time of parents below which they are
alike, and how many activities are moved, usually and then."""

WINDOW = (0.1, 0.5)  # length of a peak, as shares of the schedule's length
NOISE = 0.2  # how much chance has a say in where the peak lies
SAMPLE_BIAS = 2.0  # how strongly regret decides when a first population is drawn
EARLY = 0.9  # how much the place of the work counts beside one period of the end (below 1: never against it)
PARALLEL = 0.3  # share of children made by parallel generation at first; none at last
CHILDREN = 2
RIVALS = 3  # of so many the best becomes the other parent
TRIED_EACH = 5  # schedules of each generation scheme before the better one is sampled


@compile_kernel
def random_share(state: Wide) -> float:
    """The next random number of [0, 1): Park and Miller's generator, the same with and without numba."""
    state[SEED] = state[SEED] * 48271 % 2147483647
    return float(state[SEED]) / 2147483647.0


@compile_kernel
def place_list(order: Whole, work: Work, links: Links, start: Whole, free: Whole) -> int:
    """Serial generation: fill `start`, return the end. `links` are the predecessors."""
    (length, need, capacity), (rows, before) = work, links
    free[:] = capacity
    end = 0
    for k in range(len(order)):
        i = order[k]
        t = 0
        for e in range(rows[i], rows[i + 1]):
            t = max(t, start[before[e]] + length[before[e]])
        d = length[i]
        if d:
            first = t
            while t < first + d:
                for r in range(len(capacity)):
                    if free[t, r] < need[i, r]:
                        first = t + 1
                t += 1
            for u in range(first, first + d):
                for r in range(len(capacity)):
                    free[u, r] -= need[i, r]
            t = first
        start[i] = t
        end = max(end, t + d)
    return end


@compile_kernel
def measure_tails(length: Whole, rows: Whole, behind: Whole) -> Whole:
    """Length of the longest chain from the start of each activity, itself included."""
    tail = np.zeros(len(length), np.int32)
    for i in range(len(length) - 1, -1, -1):
        for e in range(rows[i], rows[i + 1]):
            tail[i] = max(tail[i], tail[behind[e]])
        tail[i] += length[i]
    return tail


@compile_kernel
def draw_place(priority: Whole, free: Whole, count: int, bias: float, share: float) -> int:
    """Which of `count` activities is next: the least priority (bias < 0), or by chance, biased by regret."""
    least, most = FAR, -FAR
    first = 0
    for a in range(count):
        p = priority[free[a]]
        if p < least or (p == least and free[a] < free[first]):
            least, first = p, a
        most = max(most, p)
    if bias < 0:
        return first
    total = 0.0
    for a in range(count):
        total += float(most - priority[free[a]] + 1) ** bias
    left = share * total
    for a in range(count):
        left -= float(most - priority[free[a]] + 1) ** bias
        if left < 0:
            return a
    return count - 1


@compile_kernel
def sample_list(priority: Whole, bias: float, into: Whole, out: Links, state: Wide, order: Whole) -> None:
    """Fill `order` with a list drawn by priority; `into` counts predecessors, `out` are the successors."""
    rows, behind = out
    n = len(order)
    waiting = into.copy()
    ready = np.empty(n, np.int32)
    count = 0
    for i in range(n):
        if waiting[i] == 0:
            ready[count] = i
            count += 1
    for k in range(n):
        a = draw_place(priority, ready, count, bias, random_share(state))
        i = ready[a]
        count -= 1
        ready[a] = ready[count]
        order[k] = i
        for e in range(rows[i], rows[i + 1]):
            j = behind[e]
            waiting[j] -= 1
            if waiting[j] == 0:
                ready[count] = j
                count += 1


@compile_kernel
def generate_parallel(priority: Whole, bias: float, into: Whole, out: Links, work: Work, state: Wide,
                      start: Whole) -> int:  # fmt: skip
    """Parallel generation: from one finish to the next, start whatever fits, by priority. Returns the end."""
    rows, behind = out
    length, need, capacity = work
    n, crews, waiting, left = len(length), len(capacity), into.copy(), capacity.copy()
    ready, fits, busy = np.empty(n, np.int32), np.empty(n, np.int32), np.empty(n, np.int32)
    count = working = placed = end = t = 0
    for i in range(n):
        if waiting[i] == 0:
            ready[count] = i
            count += 1
    while placed < n:
        a = 0
        while a < working:
            i = busy[a]
            if start[i] + length[i] > t:
                a += 1
                continue
            left += need[i]
            working, busy[a] = working - 1, busy[working - 1]
            for e in range(rows[i], rows[i + 1]):
                j = behind[e]
                waiting[j] -= 1
                if waiting[j] == 0:
                    ready[count] = j
                    count += 1
        at_once = False
        while True:
            fitting = 0
            for a in range(count):
                enough = True
                for r in range(crews):
                    enough = enough and need[ready[a], r] <= left[r]
                if enough:
                    fits[fitting] = ready[a]
                    fitting += 1
            if fitting == 0:
                break
            i = fits[draw_place(priority, fits, fitting, bias, random_share(state))]
            for a in range(count):
                if ready[a] == i:
                    count -= 1
                    ready[a] = ready[count]
                    break
            start[i] = t
            end = max(end, t + length[i])
            at_once = at_once or length[i] == 0
            placed += 1
            left -= need[i]
            busy[working] = i
            working += 1
        if not at_once:
            t = FAR
            for a in range(working):
                t = min(t, start[busy[a]] + length[busy[a]])
    return end


@compile_kernel
def sort_by_time(time: Whole, backwards: bool, tally: Whole, order: Whole) -> None:
    """Fill `order` with the activities by time; equal times in the order of numbers, or against it."""
    n = len(time)
    tally[:] = 0
    for i in range(n):
        tally[time[i] + 1] += 1
    for t in range(len(tally) - 1):
        tally[t + 1] += tally[t]
    for a in range(n):
        i = n - 1 - a if backwards else a
        order[tally[time[i]]] = i
        tally[time[i]] += 1


@compile_kernel
def find_peak(time: Whole, length: Whole, end: int, weight: Real, used: Real, state: Wide) -> tuple[int, int]:
    """The window of a random length in which a schedule uses the crews best."""
    used[: end + 1] = 0.0
    for i in range(len(time)):
        for u in range(time[i], time[i] + length[i]):
            used[u] += weight[i]
    span = max(1, int(end * (WINDOW[0] + (WINDOW[1] - WINDOW[0]) * random_share(state))))
    total = 0.0
    for u in range(span):
        total += used[u]
    most, first = total, 0
    for u in range(1, end - span + 1):
        total += used[u + span - 1] - used[u - 1]
        counted = total * (1.0 + NOISE * random_share(state))
        if counted > most + 1e-9:
            most, first = counted, u
    return first, first + span


@compile_kernel
def move_some(order: Whole, place: Whole, moves: float, links: Links, links_on: Links, state: Wide) -> None:
    """Move about `moves` activities of a list to other places between their predecessors and successors."""
    (rows, before), (rows_on, behind) = links, links_on
    n = len(order)
    for x in range(n):
        place[order[x]] = x
    for _ in range(n):
        if random_share(state) >= moves / n:
            continue
        i = int(random_share(state) * n)
        low, high = 0, n - 1
        for e in range(rows[i], rows[i + 1]):
            low = max(low, place[before[e]] + 1)
        for e in range(rows_on[i], rows_on[i + 1]):
            high = min(high, place[behind[e]] - 1)
        x, target = place[i], low + int(random_share(state) * (high - low + 1))
        step = 1 if target > x else -1
        while x != target:
            order[x] = order[x + step]
            place[order[x]] = x
            x += step
        order[x], place[i] = i, x


@compile_kernel
def cross(order_in: Whole, order_out: Whole, time: Whole, first: int, last: int, child: Whole) -> None:
    """One parent's order within its window ``[first, last)`` of times, the other's before and after it."""
    k = 0
    for x in order_out:
        if time[x] < first:
            child[k] = x
            k += 1
    for x in order_in:
        if first <= time[x] < last:
            child[k] = x
            k += 1
    for x in order_out:
        if time[x] >= last:
            child[k] = x
            k += 1


@compile_kernel
def rate_schedule(start: Whole, end: int, load: Real) -> float:
    """The end, and as a fraction of a period how late the work lies: the less the better."""
    late = 0.0
    for i in range(len(start)):
        late += load[i] * start[i]
    return end + EARLY * late / (end + 1.0)


@compile_kernel
def shrink_populations(size: int, wanted: int, value: Real, starts: Whole) -> int:
    """Drop the worst of each side until `wanted` are left; returns how many are."""
    while size > wanted:
        size -= 1
        for side in range(2):
            worst = int(value[side, : size + 1].argmax())
            value[side, worst] = value[side, size]
            starts[side, worst] = starts[side, size]
    return size


@compile_kernel
def search_lists(work: Work, links: tuple[Links, Links], weights: tuple[Real, Real], limits: Limits,
                 habits: Habits, state: Wide, value: Real, starts: Whole, best: Whole) -> None:  # fmt: skip
    """Go on with a search until a limit is reached (at a pause: at the end of a generation).

    `links` are predecessors and successors; `weights` what a period of each activity counts in a peak, and
    its share in all work; `value` and `starts` the populations (first index: side), as large as the sample.
    """
    weight, load = weights
    floor, pause, most, expected = limits
    size_first, size_last, nearness, moves_usual, moves_alike = habits
    length, _, capacity = work
    n, samples = len(length), value.shape[1]
    horizon = int(length.sum()) + 1
    free = np.empty((horizon, len(capacity)), np.int32)
    used, tally = np.empty(horizon + 1), np.empty(horizon + 2, np.int32)
    made, child, place = np.empty(n, np.int32), np.empty(n, np.int32), np.empty(n, np.int32)
    waiting = links[0][0][1:] - links[0][0][:-1], links[1][0][1:] - links[1][0][:-1]
    priority = -measure_tails(length, links[1][0], links[1][1])
    seen, order = np.empty((samples, n), np.int32), np.empty((samples, n), np.int32)
    new_value, new_starts = np.empty(samples), np.empty((samples, n), np.int32)
    sums, counts = np.zeros(2), np.zeros(2)
    while state[DONE] < min(pause, most) and state[BEST] > floor:
        if state[SAMPLED] < samples:
            # Both schemes are tried; the one that makes shorter schedules here draws the rest.
            k = state[SAMPLED]
            both = k < 2 * TRIED_EACH or counts.min() == 0
            scheme = k % 2 if both else int(sums[1] / counts[1] < sums[0] / counts[0])
            if scheme:
                end = generate_parallel(priority, SAMPLE_BIAS, waiting[0], links[1], work, state, made)
            else:
                sample_list(priority, SAMPLE_BIAS, waiting[0], links[1], state, child)
                end = place_list(child, work, links[0], made, free)
            sums[scheme] += end
            counts[scheme] += 1
            value[0, k], starts[0, k] = rate_schedule(made, end, load), made
            state[SAMPLED] += 1
            state[DONE] += 1
            if end < state[BEST]:
                state[BEST] = end
                best[:] = made
            continue
        side = state[SIDE]
        to = 1 - side
        gone = min(1.0, state[DONE] / expected)
        wanted = int(size_first - (size_first - size_last) * gone)
        size = shrink_populations(state[SIZE], wanted, value, starts)
        state[SIZE] = size
        for p in range(size):
            seen[p] = int(value[side, p]) - starts[side, p] - length
            sort_by_time(seen[p], side == 0, tally, order[p])
        kept = value[to, :size].min()
        new_value[:] = FAR
        for p in range(size):
            for _ in range(CHILDREN):
                if state[DONE] >= most:
                    break
                inside, outside = p, int(random_share(state) * size)
                for _ in range(RIVALS - 1):
                    rival = int(random_share(state) * size)
                    if value[side, rival] < value[side, outside]:
                        outside = rival
                if outside == p:
                    outside = int(random_share(state) * size)
                if random_share(state) < 0.5:
                    inside, outside = outside, inside
                time = seen[inside]
                first, last = find_peak(time, length, int(value[side, inside]), weight, used, state)
                cross(order[inside], order[outside], time, first, last, child)
                alike = np.abs(time - seen[outside]).sum() < nearness * n
                moves = moves_alike if alike else moves_usual
                move_some(child, place, moves, links[to], links[side], state)
                if random_share(state) < PARALLEL * (1.0 - gone):
                    for x in range(n):
                        place[child[x]] = x
                    end = generate_parallel(place, -1.0, waiting[to], links[side], work, state, made)
                else:
                    end = place_list(child, work, links[to], made, free)
                state[DONE] += 1
                rated = rate_schedule(made, end, load)
                if rated <= new_value[p]:
                    new_value[p], new_starts[p] = rated, made
                if end < state[BEST]:
                    state[BEST] = end
                    best[:] = made
                    if to:
                        best[:] = end - made - length
        for p in range(size):
            stays = new_value[p] == FAR or (value[to, p] == kept and new_value[p] > kept)
            known = value[to, p] < FAR and (value[to, :size] == new_value[p]).any()
            if not (stays or known):
                value[to, p], starts[to, p] = new_value[p], new_starts[p]
        state[SIDE] = to
