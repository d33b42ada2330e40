"""Exact counts of draws by half-day (or tick), row by row, each row as wide as its draws reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from coordination.engine.forecast_spread import Spread
from coordination.engine.quantiles import Reals
from coordination.engine.sampling_luck import Whole

Places = NDArray[np.int64]

COUNT_ROOM = 128 << 20
"""Bytes that the counts of one part may take: finer counts become coarser."""
NO_DRAW = int(np.iinfo(np.int32).max)


@dataclass
class Counts:
    """Counts by steps of 2 ** `step` from `low` on; row i lies from `offset[i]` to `offset[i + 1]`."""

    rows: int
    step: int = 0
    low: Whole = field(default_factory=lambda: np.empty(0, np.int32))
    offset: Places = field(default_factory=lambda: np.empty(0, np.int64))
    counts: Whole = field(default_factory=lambda: np.empty(0, np.int32))

    def add(self, kernels: ModuleType, values: Whole, more: bool = False) -> None:
        """Count further values, a row of draws for each row; `more`: others will follow."""
        low = np.full(self.rows, NO_DRAW, dtype=np.int32)
        high = np.full(self.rows, -NO_DRAW, dtype=np.int32)
        kernels.find_reach(values, low, high)
        if not self.counts.size:
            aside = (high - low) // 4 + 8 if more else np.zeros_like(low)  # later draws will reach further
            self.low = (low - aside).astype(np.int32)
            while int(self._widths(self.low, high + aside).sum()) * 4 > COUNT_ROOM:
                self.step += 1
            self._lay_out(self._widths(self.low, high + aside))
        else:
            width = np.diff(self.offset)
            if (low < self.low).any() or (self._widths(self.low, high) > width).any():
                self._widen(kernels, low, high)
        kernels.count_values(values, self.low, self.step, self.offset, self.counts)

    def _widths(self, low: Whole, high: Whole) -> Places:
        return ((high.astype(np.int64) - low) >> self.step) + 1

    def _lay_out(self, widths: Places) -> None:
        self.offset = np.concatenate(([0], np.cumsum(widths)))
        self.counts = np.zeros(int(self.offset[-1]), dtype=np.int32)

    def _widen(self, kernels: ModuleType, low: Whole, high: Whole) -> None:
        """Make room on both sides where it is needed, with some to spare; what is counted keeps its place."""
        spare = (high - low) >> 2
        before = np.maximum(0, (self.low - low + (1 << self.step) - 1) >> self.step)
        before = np.where(before > 0, before + (spare >> self.step), 0)
        base = (self.low - (before << self.step)).astype(np.int32)
        widths = np.diff(self.offset) + before
        reached = self._widths(base, high)
        widths = np.where(reached > widths, reached + (spare >> self.step), widths)
        offset, counts = self.offset, self.counts
        self._lay_out(widths)
        kernels.move_counts(counts, offset, before.astype(np.int32), self.counts, self.offset)
        self.low = base

    def read(self, kernels: ModuleType, shares: Sequence[float], draws: int) -> Reals:
        """The earliest value by which each share of the draws is through; of a coarse step its end."""
        needed = np.array([int(np.ceil(share * draws - 1e-9)) for share in shares], dtype=np.int32)
        found = np.zeros((self.rows, len(needed)), dtype=np.int32)
        kernels.read_counts(self.counts, self.offset, needed, found)
        return np.asarray(self.low[:, None] + ((found + 1) << self.step) - 1, dtype=np.float64)

    def spread(self, row: int) -> Spread:
        """The spread of a row; of a coarse step all counts are at its end."""
        tally = self.counts[self.offset[row] : self.offset[row + 1]]
        used = np.flatnonzero(tally)
        wide = 1 << self.step
        counts = np.zeros((int(used[-1] - used[0]) * wide) + 1, dtype=np.int64)
        counts[(used - used[0]) * wide] = tally[used]
        return Spread(int(self.low[row]) + (int(used[0]) + 1) * wide - 1, tuple(counts.tolist()))
