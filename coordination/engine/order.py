"""Topological order of a network, and the shortest cycle when there is none."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from itertools import pairwise

from coordination.engine.network import Network
from coordination.engine.workdays import Refused


class CircularNetwork(Refused):
    """Activities that wait for each other in a circle; `cycle` names one shortest such circle in order."""

    def __init__(self, cycle: Sequence[str]) -> None:
        self.cycle = tuple(cycle)
        circle = " > ".join((*cycle, cycle[0]))
        back = [cycle[0], *reversed(cycle)]
        waits = ", ".join(f"{b} waits for {a}" for b, a in pairwise(back))
        super().__init__(f"the relationships go round in a circle: {circle} ({waits}); take one of them away")


def order_activities(network: Network) -> list[int]:
    """Positions of the activities so that every predecessor comes before its successors.

    Among activities that are free to come next the input order is kept (Kahn 1962, "Topological sorting of
    large networks", Communications of the ACM 5, 558-562). Raises `CircularNetwork`.
    """
    successors = _successors(network)
    waiting = [0] * len(successors)
    for targets in successors:
        for j in targets:
            waiting[j] += 1
    ready = deque(i for i, count in enumerate(waiting) if count == 0)
    order: list[int] = []
    while ready:
        i = ready.popleft()
        order.append(i)
        for j in successors[i]:
            waiting[j] -= 1
            if waiting[j] == 0:
                ready.append(j)
    if len(order) < len(successors):
        left = {i for i, count in enumerate(waiting) if count}
        cycle = _shortest_cycle(successors, left)
        raise CircularNetwork([network.activities[i].id for i in cycle])
    return order


def _successors(network: Network) -> list[list[int]]:
    successors: list[list[int]] = [[] for _ in network.activities]
    for link in network.relationships:
        successors[network.position[link.from_id]].append(network.position[link.to_id])
    return successors


def _shortest_cycle(successors: list[list[int]], among: set[int]) -> list[int]:
    """One shortest cycle, by a breadth-first search from every activity that is left over."""
    best: list[int] = []
    for source in sorted(among):
        came_from = {source: source}
        queue = deque([source])
        depth = {source: 1}
        while queue:
            i = queue.popleft()
            if best and depth[i] >= len(best):
                break
            if source in successors[i]:
                best = [i]
                while best[-1] != source:
                    best.append(came_from[best[-1]])
                best.reverse()
                break
            for j in successors[i]:
                if j in among and j not in came_from:
                    came_from[j] = i
                    depth[j] = depth[i] + 1
                    queue.append(j)
    return best
