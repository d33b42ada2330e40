"""The search for keys by which the work of many houses is placed: rules first, then mixtures of them."""

from __future__ import annotations

import random
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from coordination.engine.levelling import Bench

Keys = NDArray[np.floating]


def search_keys(bench: Bench, most: int, until: float | None, seed: int) -> None:
    """Vary the key until the schedules or the time are used up, or nothing is late."""

    def goes_on() -> bool:
        if bench.schedules == 0:
            return True
        return bench.best > 0 and bench.schedules < most and (until is None or time.perf_counter() < until)

    work = bench.compiled.work.astype(np.float64)
    houses = bench.compiled.houses
    # The classical rules first: latest finish, least slack, earliest start; then the first house first.
    slack = (bench.ls - bench.es).astype(np.float64)
    rules = [bench.lf * 1.0, bench.ls * 1.0, bench.es * 1.0, bench.es + slack * 0.5]
    for key in rules:
        if goes_on():
            bench.make(key)
    # Then mixtures of them, near the best mixture so far; each crew and each house may be put forward.
    crew = np.zeros(len(work), dtype=np.int64)
    starts = bench.demand.rows[:-1]
    some = np.flatnonzero(np.diff(bench.demand.rows))
    asked = bench.demand.crews[starts[some]]
    crew[some] = np.where(asked < 0, len(bench.network.crews) - asked, asked + 1)
    chance = random.Random(seed)  # noqa: S311 - no secret depends on it
    numbers = np.random.default_rng(chance.getrandbits(32))
    trades = len(bench.demand.trades)
    groups = np.zeros(len(bench.network.crews) + trades + 1)
    mixture = _Mixture(
        np.zeros(3), groups, np.zeros(houses), groups[: len(bench.network.crews) * (trades > 0)]
    )
    spread = 1.0
    best, idle_turns = float("inf"), 0
    while goes_on():
        trial = mixture.vary(numbers, spread)
        value = bench.make(trial.key(bench, work, slack, crew), trial.shy if trades else None)
        if value <= best:
            idle_turns = 0 if value < best else idle_turns + 1
            best, mixture = value, trial
        else:
            idle_turns += 1
        # Stuck: take smaller steps, and after the smallest large ones again.
        if idle_turns > 12:
            idle_turns, spread = 0, spread / 2 if spread > 0.05 else 1.0


@dataclass(frozen=True)
class _Mixture:
    """Weights of rules, head starts by crew or trade and by house, and how much crews to choose from are held
    back (half-days)."""

    rules: NDArray[np.float64]
    crews: NDArray[np.float64]
    houses: NDArray[np.float64]
    shy: NDArray[np.float64]

    def vary(self, numbers: np.random.Generator, spread: float) -> _Mixture:
        rules, crews, houses = self.rules.copy(), self.crews.copy(), self.houses.copy()
        choice = numbers.random()
        if choice < 0.35:
            rules[numbers.integers(3)] += numbers.normal(0, spread)
        elif choice < 0.6:
            crews[numbers.integers(len(crews))] += numbers.normal(0, 20 * spread)
        else:
            some = numbers.random(len(houses)) < max(2 / len(houses), 0.2 * spread * numbers.random())
            houses[some] += numbers.normal(0, 30 * spread, int(some.sum()))
        shy = self.shy.copy()
        if len(shy) and numbers.random() < 0.3:
            shy[numbers.integers(len(shy))] += numbers.normal(0, 6 * spread)
        return _Mixture(rules, crews, houses, shy)

    def key(self, bench: Bench, work: Keys, slack: Keys, crew: NDArray[np.int64]) -> Keys:
        return np.asarray(
            bench.lf
            + self.rules[0] * slack
            + self.rules[1] * work
            + self.rules[2] * (bench.wanted[bench.house] - bench.lf)
            + self.crews[crew]
            + self.houses[bench.house]
        )
