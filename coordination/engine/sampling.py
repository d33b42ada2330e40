"""Draws of a whole network, part after part: exact counts, shares and ends, in memory that stays bounded.

Dates are whole half-days (or ticks of them), so that the draws of an activity are counted by half-day: its
percentiles are read from exact counts, none is interpolated, and no draw has to be kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from coordination.engine import sampling_numpy
from coordination.engine.compiled import COMPILES, say_once_if_slow
from coordination.engine.forecast_spread import Spread
from coordination.engine.quantiles import Reals, read_quantiles, tabulate_normal
from coordination.engine.sampling_counts import NO_DRAW, Counts
from coordination.engine.sampling_layout import Frame, Laid, make_frame
from coordination.engine.workdays import END_OF_TIME, HALF_DAYS_PER_WEEK, BeyondTime, Refused

ROOM = 64 << 20
"""Bytes that the draws of one part may take at once: more draws are made in turns."""


@dataclass(frozen=True)
class Sampled:
    """What the draws came to, by place in the input order (`houses`: by house number).

    `percentiles` and `house_percentiles` are instants, a column for each share asked for; `drives` is the
    share of draws in which an activity drives the end of its house; `ends` is the end of all in each draw,
    `late` the number of houses that end after their limits in it.
    """

    percentiles: NDArray[np.float64]
    drives: Reals
    house_percentiles: NDArray[np.float64]
    house_mean: Reals
    house_deviation: Reals
    ends: Reals
    late: NDArray[np.int32]
    ready: dict[int, Spread] = field(default_factory=dict)


class _Drawing:
    """The draws of a laid-out network over one horizon."""

    def __init__(
        self,
        laid: Laid,
        frame: Frame,
        samples: int,
        shares: Sequence[float],
        kernels: ModuleType,
        limits: Mapping[str, int],
    ):
        self.laid, self.frame, self.samples, self.shares, self.kernels = laid, frame, samples, shares, kernels
        count, houses = len(laid.order), len(laid.houses)
        self.percentiles = np.zeros((count, len(shares)))
        self.drives = np.zeros(count, dtype=np.int32)
        self.house_percentiles = np.zeros((houses, len(shares)))
        self.house_mean, self.house_deviation = np.zeros(houses), np.zeros(houses)
        self.ends = np.full(samples, -NO_DRAW, dtype=np.int32)
        self.late = np.zeros(samples, dtype=np.int32)
        ticks = [
            NO_DRAW
            if name is None or name not in limits
            else min((limits[name] - laid.first) << laid.bits, NO_DRAW)
            for name in laid.houses
        ]
        self.limits = np.array(ticks, dtype=np.int64)
        self.ready: dict[int, Spread] = {}
        self.weights = (float(np.sqrt(laid.weights.crew)), float(np.sqrt(laid.weights.weather)))
        self.normal = tabulate_normal()

    def draw(self) -> bool:
        """Draw all parts; False when a date lies outside the tables."""
        sizes = np.diff(self.laid.parts)
        links = np.diff(self.laid.layout.links[self.laid.parts])
        # Bytes of one draw of the largest part: finishes, starts, drivers, readiness; what each link holds;
        # the bounds of the links into one activity; the luck of crews and regions; the ends of houses.
        wanted = 4 * bool(self.laid.layout.wanted.any())
        lanes = int(np.diff(self.laid.layout.links).max(initial=0))
        need = int(((9 + wanted) * sizes + links).max()) + 4 * lanes
        need += 8 * len(self.laid.factor_keys) + 8 * len(self.laid.houses) + 40
        chunk = max(1, min(self.samples, ROOM // need))
        largest = int(sizes.max())
        self.finish = np.empty((largest, chunk), dtype=np.int32)
        self.start = np.empty((largest, chunk), dtype=np.int32)
        self.at_ready = np.empty((largest if self.laid.layout.wanted.any() else 1, chunk), dtype=np.int32)
        self.drives_row = np.empty((largest, chunk), dtype=np.uint8)
        self.holds = np.empty((int(links.max()), chunk), dtype=np.uint8)
        self.by_house = np.empty((len(self.laid.houses), chunk), dtype=np.int32)
        self.shared: dict[int, Reals] = {}
        parts = self.laid.parts.tolist()
        return all(self._draw_part(begin, end, chunk) for begin, end in pairwise(parts))

    def _shared_from(self, first: int, count: int) -> Reals:
        """Normal deviates of crews and regions, a row each; row 0 is of none."""
        if first not in self.shared:
            if first and self.samples > 8 * count:
                self.shared.clear()  # many turns: make them again rather than keep them
            numbers = sampling_numpy.draw_numbers(self.laid.factor_keys[:, None], first, count)
            found = read_quantiles(self.normal, sampling_numpy.share_of(numbers))
            found[0] = 0
            self.shared[first] = found
        return self.shared[first]

    def _draw_part(self, begin: int, end: int, chunk: int) -> bool:
        laid, layout, kernels = self.laid, self.laid.layout, self.kernels
        size = end - begin
        houses = np.unique(layout.house[begin:end])
        counts, ended = Counts(size), Counts(len(houses))
        wanted = np.flatnonzero(layout.wanted[begin:end])
        when_ready = Counts(len(wanted))
        total, square = np.zeros(len(houses)), np.zeros(len(houses))
        origin = 0.0
        for first in range(0, self.samples, chunk):
            draws = min(chunk, self.samples - first)
            finish, start = self.finish[:size, :draws], self.start[:size, :draws]
            at_ready, holds = self.at_ready[:, :draws], self.holds[:, :draws]
            shared = self._shared_from(first, draws)
            if not kernels.sample_part(
                layout,
                self.frame,
                shared,
                self.weights,
                laid.bits,
                begin,
                end,
                first,
                finish,
                start,
                at_ready,
                holds,
            ):
                return False
            by_house = self.by_house[:, :draws]
            by_house[houses] = -NO_DRAW
            kernels.find_ends(layout.house[begin:end], finish, by_house)
            ends = by_house[houses]
            np.maximum(
                self.ends[first : first + draws], ends.max(axis=0), out=self.ends[first : first + draws]
            )
            self.late[first : first + draws] += (ends > self.limits[houses][:, None]).sum(axis=0)
            if 0 in houses:  # work of no house is measured against the last end of all, which is this part's
                by_house[0] = ends.max(axis=0)
                ends = by_house[houses]
            kernels.find_drivers(
                layout, begin, end, finish, holds, by_house, self.drives_row[:size, :draws], self.drives
            )
            more = first + draws < self.samples
            counts.add(kernels, finish, more)
            ended.add(kernels, np.ascontiguousarray(ends), more)
            if len(wanted):
                when_ready.add(kernels, np.ascontiguousarray(at_ready[wanted]), more)
            origin = float(ends[0, 0]) if first == 0 else origin
            total += (ends - origin).sum(axis=1)
            square += ((ends - origin) ** 2).sum(axis=1)
        self.percentiles[begin:end] = counts.read(kernels, self.shares, self.samples)
        self.house_percentiles[houses] = ended.read(kernels, self.shares, self.samples)
        mean = total / self.samples
        self.house_mean[houses] = mean + origin
        if self.samples > 1:
            spread = np.maximum(0, square - self.samples * mean**2) / (self.samples - 1)
            self.house_deviation[houses] = np.sqrt(spread)
        for row, i in enumerate(wanted.tolist()):
            self.ready[begin + i] = when_ready.spread(row)
        return True


def sample_network(
    laid: Laid,
    samples: int,
    shares: Sequence[float],
    *,
    kernels: ModuleType | None = None,
    limits: Mapping[str, int] | None = None,
) -> Sampled:
    """Draw a laid-out network so many times.

    Args:
        shares: of draws, rising, for which percentiles are read.
        kernels: the module that draws; None: the compiled one where numba is there, else the NumPy twin.
        limits: by house the instant after which it counts as late.

    Raises:
        Refused: for fewer than one sample.
        BeyondTime: for a date that cannot be written.
    """
    if samples < 1:
        raise Refused("a forecast needs at least one sample: raise the number")
    if kernels is None:
        kernels = _choose_kernels()
    furthest = END_OF_TIME - laid.first
    reach = int(laid.layout.floor.max() >> laid.bits) + 104 * HALF_DAYS_PER_WEEK
    while True:
        reach = min(reach, furthest)
        drawing = _Drawing(laid, make_frame(laid, reach), samples, shares, kernels, limits or {})
        if drawing.draw():
            return _in_input_order(laid, drawing)
        if reach == furthest:
            raise BeyondTime("a date outside the years 1 to 9999 cannot be written")
        reach *= 2


def _choose_kernels() -> ModuleType:
    say_once_if_slow()
    if not COMPILES:
        return sampling_numpy
    from coordination.engine import sampling_kernels  # here: without numba its loops would be far too slow

    return sampling_kernels


def _in_input_order(laid: Laid, drawing: _Drawing) -> Sampled:
    ticks, order = 1 << laid.bits, laid.order
    percentiles = np.empty_like(drawing.percentiles)
    percentiles[order] = drawing.percentiles / ticks + laid.first
    drives = np.empty(len(order))
    drives[order] = drawing.drives / drawing.samples
    return Sampled(
        percentiles,
        drives,
        drawing.house_percentiles / ticks + laid.first,
        drawing.house_mean / ticks + laid.first,
        drawing.house_deviation / ticks,
        drawing.ends / ticks + laid.first,
        drawing.late,
        {
            int(order[i]): Spread(spread.first + laid.first, spread.counts)
            for i, spread in drawing.ready.items()
        },
    )
