"""Sources of chance: their keys, what works have in common, and crews that may come late."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coordination.engine.forecast_spread import SharedFactors
from coordination.engine.network import Activity, Network
from coordination.engine.quantiles import NORMAL_END, Reals, normal_deviate

Whole = NDArray[np.int32]
Keys = NDArray[np.uint64]


def make_key(seed: int, *names: str | None) -> int:
    """The key of a source of chance: 64 bits that depend on the seed and the names only."""
    text = "\x1f".join(["" if name is None else "=" + name for name in (str(seed), *names)])
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "little")


class Shared:
    """Numbers the crews and regions that works have something in common by; 0 is none."""

    def __init__(self, network: Network, factors: SharedFactors) -> None:
        self.factors = factors
        self.names: list[tuple[str, str]] = []
        self.numbers: dict[tuple[str, str], int] = {}

    def _number(self, kind: str, name: str | None, part: float) -> int:
        if name is None or part == 0:
            return 0
        key = (kind, name)
        if key not in self.numbers:
            self.names.append(key)
            self.numbers[key] = len(self.names)
        return self.numbers[key]

    def crew(self, name: str) -> int:
        return self._number("crew", name, self.factors.crew)

    def crew_of(self, a: Activity) -> int:
        first = next((name for name, units in a.crew.items() if units), None)
        return self._number("crew", first, self.factors.crew)

    def region_of(self, a: Activity) -> int:
        return self._number("region", a.region, self.factors.weather)

    def own_weight(self, crew: int, region: int) -> float:
        common = self.factors.crew * (crew > 0) + self.factors.weather * (region > 0)
        return float(np.sqrt(1 - common))


class Lates(NamedTuple):
    """Crews that may come late: rows of activity i from `rows[i]` to `rows[i + 1]`."""

    rows: Whole
    key: Keys
    over: Reals
    least: Whole
    span: Whole
    crew: Whole


def lay_out_lates(network: Network, listed: Sequence[Activity], seed: int, shared: Shared) -> Lates:
    """For each activity the crews that may come late to it: once in a visit, to the first of its activities.

    A crew is late where its normal deviate lies over `Lates.over`.
    """
    may_be = {crew.name: crew.late for crew in network.crews if crew.late is not None and crew.late.chance}
    rows, keys, least, span, crews = [0], [], [], [], []
    over: list[float] = []
    come: set[tuple[str | None, str, str]] = set()
    for a in listed:
        for name, units in a.crew.items():
            late = may_be.get(name)
            if late is not None and units and a.actual_start is None:
                visit = (a.house, name, f"visit {a.visit}" if a.visit else f"activity {a.id}")
                if visit not in come:
                    come.add(visit)
                    keys.append(make_key(seed, a.house, "late", *visit[1:]))
                    over.append(normal_deviate(1 - late.chance) if late.chance < 1 else -2 * NORMAL_END)
                    least.append(late.half_days[0])
                    span.append(late.half_days[1] - late.half_days[0])
                    crews.append(shared.crew(name))
        rows.append(len(keys))
    return Lates(
        np.array(rows, dtype=np.int32),
        np.array(keys, dtype=np.uint64),
        np.array(over, dtype=np.float64),
        np.array(least, dtype=np.int32),
        np.array(span, dtype=np.int32),
        np.array(crews, dtype=np.int32),
    )
