"""The network of one house as the lints need it: order, cycles, what comes before what.

Small on purpose: dates on calendars are the engine's business. Here only order counts, and half-days as
if every one of them were worked.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence

from coordination.sequence.library.entry import Activity, Link


def find_cycle(ids: Iterable[str], links: Iterable[Link]) -> tuple[str, ...]:
    """One shortest cycle in order, its first activity repeated at the end; () if there is none.

    >>> find_cycle("abc", [Link("a", "b"), Link("b", "c"), Link("c", "a")])
    ('a', 'b', 'c', 'a')
    """
    successors: dict[str, list[str]] = {key: [] for key in ids}
    for link in links:
        if link.predecessor in successors and link.successor in successors:
            successors[link.predecessor].append(link.successor)
    best: tuple[str, ...] = ()
    for start in successors:
        found = _shortest_way_back(start, successors)
        if found and (not best or len(found) < len(best)):
            best = found
    return best


def _shortest_way_back(start: str, successors: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    came_from: dict[str, str] = {}
    waiting = deque([start])
    while waiting:
        here = waiting.popleft()
        for there in successors[here]:
            if there == start:
                way = [start, here]
                while way[-1] != start:
                    way.append(came_from[way[-1]])
                return tuple(reversed(way))
            if there not in came_from:
                came_from[there] = here
                waiting.append(there)
    return ()


def order_activities(ids: Iterable[str], links: Iterable[Link]) -> tuple[str, ...]:
    """Ids so that predecessors stand before successors, else in the order given; ValueError on a cycle."""
    keys = list(ids)
    known = set(keys)
    waiting = dict.fromkeys(keys, 0)
    successors: dict[str, list[str]] = {key: [] for key in keys}
    for link in links:
        if link.predecessor in known and link.successor in known:
            waiting[link.successor] += 1
            successors[link.predecessor].append(link.successor)
    ordered: list[str] = []
    ready = deque(key for key in keys if not waiting[key])
    while ready:
        key = ready.popleft()
        ordered.append(key)
        for successor in successors[key]:
            waiting[successor] -= 1
            if not waiting[successor]:
                ready.append(successor)
    if len(ordered) < len(keys):
        raise ValueError("the network goes round in a circle; ask find_cycle which")
    return tuple(ordered)


def reach_before(start: str, links: Iterable[Link]) -> set[str]:
    """Activities that `start` is before: a path of FS or SS relationships of lag 0 or more leads there."""
    successors: dict[str, list[str]] = {}
    for link in links:
        if link.type in ("FS", "SS") and link.lag >= 0:
            successors.setdefault(link.predecessor, []).append(link.successor)
    reached: set[str] = set()
    waiting = list(successors.get(start, ()))
    while waiting:
        key = waiting.pop()
        if key not in reached:
            reached.add(key)
            waiting.extend(successors.get(key, ()))
    return reached


def reach_after_finish(start: str, links: Iterable[Link]) -> tuple[set[str], set[str]]:
    """Activities that cannot start, and those that cannot finish, before `start` has finished.

    From a finish an FS relationship holds the successor's start and an FF its finish; from a start, SS and
    FS hold the start (nothing finishes before it starts) and FF and SF the finish. Only lags of 0 or more
    carry that on. The second set contains the first.
    """
    outgoing: dict[str, list[Link]] = {}
    for link in links:
        if link.lag >= 0:
            outgoing.setdefault(link.predecessor, []).append(link)
    starts: set[str] = set()
    finishes: set[str] = set()
    waiting: list[tuple[str, bool]] = [(start, False)]
    while waiting:
        key, start_is_held = waiting.pop()
        for link in outgoing.get(key, ()):
            if link.type[0] == "S" and not start_is_held:
                continue
            held = starts if link.type[1] == "S" else finishes
            if link.successor not in held:
                held.add(link.successor)
                waiting.append((link.successor, link.type[1] == "S"))
    return starts, starts | finishes


def early_dates(activities: Sequence[Activity], links: Sequence[Link]) -> dict[str, tuple[int, int]]:
    """Earliest start and finish of each activity in half-days from the start of the house.

    Every half-day is taken as worked and every lag as plain half-days; calendars are the engine's.
    ValueError on a cycle.
    """
    durations = {activity.id: activity.half_days for activity in activities}
    incoming: dict[str, list[Link]] = {}
    for link in links:
        incoming.setdefault(link.successor, []).append(link)
    dates: dict[str, tuple[int, int]] = {}
    for key in order_activities(durations, links):
        start = 0
        for link in incoming.get(key, ()):
            if link.predecessor in dates:
                from_instant = dates[link.predecessor][0 if link.type[0] == "S" else 1]
                bound = from_instant + link.lag - (durations[key] if link.type[1] == "F" else 0)
                start = max(start, bound)
        dates[key] = (start, start + durations[key])
    return dates


def holds_before_each(activities: Sequence[Activity], links: Sequence[Link]) -> dict[str, frozenset[str]]:
    """For each activity, also for points, the holds that it is behind, at any distance."""
    holds: dict[str, set[str]] = {activity.id: set() for activity in activities}
    for activity in activities:
        if activity.holds:
            for behind in reach_before(activity.id, links):
                holds.get(behind, set()).add(activity.id)
    return {key: frozenset(found) for key, found in holds.items()}
