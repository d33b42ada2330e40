"""How often something was met at once, with the interval that so few or so many looks allow. Pure."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

NORMAL_95 = 1.959963984540054
"""Quantile of the normal distribution for an interval of 95 %."""


@dataclass(frozen=True)
class Rate:
    """So many of so many, with Wilson's interval (1927, Journal of the American Statistical Association)."""

    met: int
    looked_at: int

    @property
    def share(self) -> float:
        """Between 0 and 1; 0 when nothing was looked at."""
        return self.met / self.looked_at if self.looked_at else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Lower and upper end at 95 %; from 0 to 1 when nothing was looked at."""
        if not self.looked_at:
            return 0.0, 1.0
        n, p, z = self.looked_at, self.share, NORMAL_95
        middle = p + z * z / (2 * n)
        spread = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
        whole = 1 + z * z / n
        low, high = (middle - spread) / whole, (middle + spread) / whole
        return (0.0 if self.met == 0 else max(0.0, low), 1.0 if self.met == n else min(1.0, high))

    @property
    def percent(self) -> int:
        """The share in whole percent."""
        return round(self.share * 100)

    @property
    def percent_interval(self) -> tuple[int, int]:
        """The interval in whole percent, rounded outwards: never narrower than it is."""
        low, high = self.interval
        return math.floor(low * 100), math.ceil(high * 100)


def count_rates(looks: Iterable[tuple[Hashable, bool]]) -> dict[Hashable, Rate]:
    """The rate of each key from (key, met at once), the worst first; few looks say little and come later."""
    counts: dict[Hashable, list[int]] = {}
    for key, met in looks:
        found = counts.setdefault(key, [0, 0])
        found[0] += met
        found[1] += 1
    rates = {key: Rate(met, looked_at) for key, (met, looked_at) in counts.items()}
    return dict(sorted(rates.items(), key=lambda one: (one[1].interval[1], str(one[0]))))
