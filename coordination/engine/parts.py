"""What hangs together: the parts of a network, and an order in which each lies in one piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coordination.engine.network import Network
from coordination.engine.order import order_activities

Whole = NDArray[np.int32]
Places = NDArray[np.int64]


@dataclass(frozen=True)
class Parts:
    """An order of activities: part after part, within a part every predecessor before its successors.

    `order` leads from places to input positions, `place` back; `starts` are the first place of each part and
    the end. `house` is the number of the house at each place, `houses` are the names by number (0: none).
    `source` and `target` are the places that each relationship of the network ties.
    """

    order: Places
    place: Whole
    starts: Whole
    house: Whole
    houses: tuple[str | None, ...]
    source: Whole
    target: Whole

    def part_of(self, place: int) -> tuple[int, int]:
        """The first place and the end of the part that a place lies in."""
        k = int(np.searchsorted(self.starts, place, side="right"))
        return int(self.starts[k - 1]), int(self.starts[k])


def find_parts(network: Network) -> Parts:
    """Houses with relationships between them are one part, every other house is one by itself.

    Work of no house is measured against the last end of all: with it, all is one part. Raises
    `CircularNetwork`.
    """
    names = tuple(dict.fromkeys([None, *(a.house for a in network.activities)]))
    number = {name: h for h, name in enumerate(names)}
    house = np.array([number[a.house] for a in network.activities], dtype=np.int32)
    position = network.position
    source = np.array([position[x.from_id] for x in network.relationships], dtype=np.int64)
    target = np.array([position[x.to_id] for x in network.relationships], dtype=np.int64)
    part = _join_houses(house, len(names), source, target)[house]
    topological = np.array(order_activities(network), dtype=np.int64)
    order = topological[np.argsort(part[topological], kind="stable")]
    place = np.empty(len(order), dtype=np.int32)
    place[order] = np.arange(len(order), dtype=np.int32)
    starts = np.append(np.flatnonzero(np.diff(part[order], prepend=-1)), len(order))
    return Parts(order, place, starts.astype(np.int32), house[order], names, place[source], place[target])


def _join_houses(house: Whole, houses: int, source: Places, target: Places) -> Whole:
    """The part of each house, named by the first house in it."""
    if not house.all() and house.any():
        return np.zeros(houses, dtype=np.int32)
    leader = list(range(houses))

    def lead(h: int) -> int:
        while leader[h] != h:
            leader[h] = leader[leader[h]]
            h = leader[h]
        return h

    across = house[source] != house[target]
    for a, b in zip(house[source[across]].tolist(), house[target[across]].tolist(), strict=True):
        low, high = sorted((lead(a), lead(b)))
        leader[high] = low
    return np.array([lead(h) for h in range(houses)], dtype=np.int32)
