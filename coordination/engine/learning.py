"""What was promised and planned against what came: promises scored, ranges and lateness learnt per crew.

Pure functions of plain numbers. Few observations say little, so that what is learnt leans on a default as if
that had been observed a number of times already (shrinkage, as with a beta or normal prior).

References: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of
the American Statistical Association 22 (1927) 209-212 (the interval of a share); G. W. Brier, "Verification
of forecasts expressed in terms of probability", Monthly Weather Review 78 (1950) 1-3; R. Koenker, G. Bassett,
"Regression quantiles", Econometrica 46 (1978) 33-50 (the loss of a quantile). From memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from coordination.engine.network import Late
from coordination.engine.quantiles import fit_pert, pert_percentiles
from coordination.engine.workdays import Refused

Verdict = Literal["too few", "too early", "fits", "too late"]

NORMAL_95 = 1.959964
"""The two-sided 95 % point of the normal distribution."""


@dataclass(frozen=True)
class PromiseKept:
    """A promise and what came of it: the confidence it was given at, the instant promised, the instant it was
    so. It is kept when `actual` is not after `promised`.
    """

    confidence: float
    promised: int
    actual: int

    def __post_init__(self) -> None:
        if type(self.confidence) not in (int, float) or not 0 < self.confidence < 1:
            raise Refused(f"the confidence of a promise must lie between 0 and 1, not {self.confidence!r}")
        for name in ("promised", "actual"):
            value = getattr(self, name)
            if type(value) is not int:
                raise Refused(f"the instant {name!r} of a promise must be a half-day number, not {value!r}")

    @property
    def kept(self) -> bool:
        """Whether it was so by the date promised."""
        return self.actual <= self.promised


@dataclass(frozen=True)
class PromiseScore:
    """How promises of one confidence held.

    `share` of `count` was kept; `low` and `high` are its 95 % interval (Wilson). `verdict`: ``too early``,
    the dates are promised too early (fewer kept than the confidence, beyond the tolerance), ``too late`` for
    the opposite, ``too few`` below the least number. `brier` is the mean square of confidence less outcome (0
    best); `loss` the mean quantile loss in half-days, which punishes both lateness and dates far too safe.
    """

    confidence: float
    count: int
    kept: int
    share: float
    low: float
    high: float
    brier: float
    loss: float
    verdict: Verdict


def wilson_interval(kept: int, count: int, z: float = NORMAL_95) -> tuple[float, float]:
    """The interval of a share, kept of count, after Wilson (1927); (0, 1) when there is nothing to go by.

    >>> low, high = wilson_interval(8, 10)
    >>> round(low, 4), round(high, 4)
    (0.4902, 0.9433)
    """
    if count < 0 or not 0 <= kept <= max(count, 0):
        raise Refused(f"a share needs 0 <= kept <= count, not {kept} of {count}")
    if count == 0:
        return 0.0, 1.0
    share, square = kept / count, z * z
    middle = (share + square / (2 * count)) / (1 + square / count)
    reach = z * math.sqrt(share * (1 - share) / count + square / (4 * count * count)) / (1 + square / count)
    return (0.0 if kept == 0 else middle - reach), (1.0 if kept == count else middle + reach)


def score_promises(
    promises: Iterable[PromiseKept], *, last: int | None = 30, tolerance: float = 0.10, least: int = 10
) -> tuple[PromiseScore, ...]:
    """Score promises by their confidence, lowest first.

    Args:
        promises: oldest first.
        last: only so many of the latest of each confidence count (None: all).
        tolerance: how far the share kept may lie from the confidence before the ranges are called wrong.
        least: below so many the verdict is ``too few``.

    Raises:
        Refused: for a `last` or `least` below 1 and a tolerance outside 0 to 1.
    """
    if (last is not None and last < 1) or least < 1 or not 0 <= tolerance <= 1:
        raise Refused("scoring needs 'last' and 'least' of at least 1 and a tolerance from 0 to 1")
    by_confidence: dict[float, list[PromiseKept]] = {}
    for one in promises:
        by_confidence.setdefault(float(one.confidence), []).append(one)
    return tuple(
        _score(confidence, group if last is None else group[-last:], tolerance, least)
        for confidence, group in sorted(by_confidence.items())
    )


def _score(confidence: float, group: Sequence[PromiseKept], tolerance: float, least: int) -> PromiseScore:
    count, kept = len(group), sum(one.kept for one in group)
    share = kept / count
    low, high = wilson_interval(kept, count)
    brier = sum((confidence - one.kept) ** 2 for one in group) / count
    loss = sum(
        confidence * max(0, one.actual - one.promised) + (1 - confidence) * max(0, one.promised - one.actual)
        for one in group
    )
    if count < least:
        verdict: Verdict = "too few"
    elif share < confidence - tolerance - 1e-9:
        verdict = "too early"
    else:
        verdict = "too late" if share > confidence + tolerance + 1e-9 else "fits"
    return PromiseScore(confidence, count, kept, share, low, high, brier, loss / count, verdict)


# --- ranges of durations ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class DurationFactors:
    """Shortest, likeliest and longest duration as parts of the planned one; how many works that rests on."""

    shortest: float
    likeliest: float
    longest: float
    observations: int = 0

    def __post_init__(self) -> None:
        if not 0 < self.shortest <= self.likeliest <= self.longest or not math.isfinite(self.longest):
            raise Refused(
                "duration factors must be above 0, shortest first: "
                f"not {self.shortest}, {self.likeliest}, {self.longest}"
            )

    def range_of(self, planned: int) -> tuple[int, int, int]:
        """The range of a work planned with so many half-days, whole half-days, none below 1 but for 0.

        >>> DurationFactors(0.8, 1.0, 1.8).range_of(10)
        (8, 10, 18)
        """
        if type(planned) is not int or planned < 0:
            raise Refused(f"a planned duration must be a whole number of half-days, not {planned!r}")
        if planned == 0:
            return 0, 0, 0
        likeliest = max(1, round(planned * self.likeliest))
        shortest = max(1, min(likeliest, math.floor(planned * self.shortest + 1e-9)))
        return shortest, likeliest, max(likeliest, math.ceil(planned * self.longest - 1e-9))


DEFAULT_FACTORS = DurationFactors(0.8, 1.0, 1.8)
"""An assumption for a crew that nothing is known of, not a measurement."""

MOST_OFF = 5.0
"""A work that took more than so many times its planned length, or less than that part, counts as if so."""


def learn_range(
    worked: Iterable[tuple[int, int]], *, default: DurationFactors = DEFAULT_FACTORS, weight: float = 10.0
) -> DurationFactors:
    """Duration factors of a crew from (planned, actual) half-days of works that it finished.

    The 10th, 50th and 90th percentile of actual over planned, on the scale of logarithms, are drawn towards
    those of the default, which counts as `weight` works; the answer is the beta-PERT range with these
    percentiles, as near as one comes. A single work gone wrong moves a percentile little.

    Raises:
        Refused: for planned or actual half-days that are not whole numbers of at least 1.

    >>> learn_range([]) == DEFAULT_FACTORS
    True
    """
    if not weight >= 0 or not math.isfinite(weight):
        raise Refused(f"the weight of the default must be a number of at least 0, not {weight!r}")
    logs = []
    for planned, actual in worked:
        for name, value in (("planned", planned), ("actual", actual)):
            if type(value) is not int or value < 1:
                raise Refused(
                    f"the {name} half-days of a work must be a whole number from 1 on, not {value!r}"
                )
        logs.append(max(-math.log(MOST_OFF), min(math.log(MOST_OFF), math.log(actual / planned))))
    if not logs:
        return default
    shares = np.array([0.1, 0.5, 0.9])
    own = np.quantile(np.array(logs), shares)
    leaning = np.log(pert_percentiles(default.shortest, default.likeliest, default.longest, shares))
    p10, p50, p90 = np.exp((len(logs) * own + weight * leaning) / (len(logs) + weight)).tolist()
    shortest, likeliest, longest = fit_pert(p10, p50, p90)
    return DurationFactors(shortest, likeliest, longest, len(logs))


# --- late crews ---------------------------------------------------------------------------------------------

DEFAULT_LATE = Late(0.3, (1, 6))
"""An assumption for a crew that nothing is known of (30 % of visits, 1 to 6 half-days), not a measurement."""


@dataclass(frozen=True)
class LearntLateness:
    """How a crew comes late, and on how many visits, how many of them late, that rests."""

    late: Late
    visits: int
    late_visits: int


def learn_lateness(
    half_days_late: Iterable[int], *, default: Late = DEFAULT_LATE, weight: float = 10.0
) -> LearntLateness:
    """How a crew comes late, from the working half-days by which its visits began after the date told.

    On time or early is 0 or less. Only visits that the builder was ready for belong here. The chance is the
    share of late visits, the default counting as `weight` visits; the least and the most are the 10th and
    90th percentile of late visits, drawn to the default by the same rule.

    Raises:
        Refused: for lateness that is not a whole number of half-days, or of more than a year.
    """
    if not weight >= 0 or not math.isfinite(weight):
        raise Refused(f"the weight of the default must be a number of at least 0, not {weight!r}")
    seen = list(half_days_late)
    for value in seen:
        if type(value) is not int or abs(value) > 730:
            raise Refused(f"a visit's lateness must be whole half-days within a year, not {value!r}")
    if not seen:
        return LearntLateness(default, 0, 0)
    late = [value for value in seen if value > 0]
    chance = (len(late) + weight * default.chance) / (len(seen) + weight)
    least, most = default.half_days
    if late:
        own = np.quantile(np.array(late, dtype=np.float64), (0.1, 0.9))
        # The default's own late visits are what it leans with: of `weight` visits so many would be late.
        behind = weight * default.chance
        mixed = (len(late) * own + behind * np.array([least, most])) / (len(late) + behind)
        least, most = max(1, int(mixed[0] + 0.5)), max(1, int(mixed[1] + 0.5))
    return LearntLateness(Late(chance, (least, max(least, most))), len(seen), len(late))
