"""Tabulated quantile functions: from a number drawn evenly between 0 and 1 to a duration.

Standard shapes lie between 0 and 1 with the likeliest value at `mode`; a range stretches them. Beta-PERT with
shape 4 is the beta distribution with parameters 1 + 4 mode and 5 - 4 mode.

An even grid in u would be coarse just where quantile functions are steep, at both ends. The tables are even
in the fourth root of u, and of 1 - u in the upper half: x grows at an end as u to the power of 1/a,
1 <= a <= 5, that is as the root to the power of 4/a, which straight pieces follow. With `CELLS` pieces the
error stays below 0.1 % of the range everywhere.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from coordination.engine.workdays import Refused

Reals = NDArray[np.float64]
Shape = Literal["pert", "triangular"]

SHAPES: tuple[Shape, ...] = ("pert", "triangular")
PERT_SHAPE = 4.0
CELLS = 512
ROOT_END = 0.5**0.25
"""The fourth root at the middle of the distribution, where both halves of a table end."""
NORMAL_END = 6.0
"""The table over normal deviates reaches from minus to plus this."""

_SERIES = 48  # terms of the series below: the last is some 2 ** -48 of the first
_FINE = 4096


@lru_cache(maxsize=4096)
def tabulate_quantiles(shape: Shape, mode: float) -> Reals:
    """2 x (`CELLS` + 1) quantiles of a standard shape: from u = 0 to the middle, then from u = 1 down to it.

    Raises `Refused` for an unknown shape and a mode outside 0 to 1.
    """
    if not 0 <= mode <= 1:
        raise Refused(f"the likeliest value must lie between 0 and 1, not at {mode!r}")
    if shape not in SHAPES:
        raise Refused(f"the shape must be one of {', '.join(SHAPES)}, not {shape!r}")
    of = _triangular_tail if shape == "triangular" else _pert_tail
    shares = (np.arange(CELLS + 1) / CELLS * ROOT_END) ** 4
    table = np.concatenate((of(mode, shares), 1 - of(1 - mode, shares)))
    table.setflags(write=False)
    return table


@lru_cache(maxsize=4096)
def tabulate_by_deviate(shape: Shape, mode: float) -> Reals:
    """2 x (`CELLS` + 1) quantiles at even normal deviates from -`NORMAL_END` on, for correlated draws."""
    deviates = np.linspace(-NORMAL_END, NORMAL_END, 2 * CELLS + 2)
    table = read_quantiles(tabulate_quantiles(shape, mode), normal_share(deviates))
    table.setflags(write=False)
    return table


@lru_cache(maxsize=1)
def tabulate_normal() -> Reals:
    """2 x (`CELLS` + 1) quantiles of the normal distribution, laid out as `tabulate_quantiles`."""
    fine = np.linspace(-9.0, 0.0, 16 * _FINE)
    roots = np.arange(CELLS + 1) / CELLS * ROOT_END
    lower = np.interp(roots, normal_share(fine) ** 0.25, fine)
    table = np.concatenate((lower, -lower))
    table.setflags(write=False)
    return table


def read_quantiles(table: Reals, shares: Reals) -> Reals:
    """Quantiles at shares between 0 and 1, read from a table as the kernels read it."""
    upper = shares >= 0.5
    at = np.sqrt(np.sqrt(np.where(upper, 1 - shares, shares))) * (CELLS / ROOT_END)
    cell = np.minimum(at.astype(np.int64), CELLS - 1)
    row = cell + np.where(upper, CELLS + 1, 0)
    return np.asarray(table[row] + (at - cell) * (table[row + 1] - table[row]))


def normal_share(deviates: Reals) -> Reals:
    """The share of a normal distribution below each deviate."""
    return np.array([0.5 * math.erfc(-z / math.sqrt(2)) for z in deviates.ravel()]).reshape(deviates.shape)


def normal_deviate(share: float) -> float:
    """The deviate below which a share of a normal distribution lies, from the table.

    >>> round(normal_deviate(0.8), 3)
    0.842
    """
    return float(read_quantiles(tabulate_normal(), np.array([share]))[0])


def _triangular_tail(mode: float, shares: Reals) -> Reals:
    """The quantiles of the lower half."""
    rising = np.sqrt(shares * mode)
    return np.asarray(np.where(shares <= mode, rising, 1 - np.sqrt((1 - shares) * (1 - mode))))


def _pert_tail(mode: float, shares: Reals) -> Reals:
    """The quantiles of the lower half: the distribution function on a fine grid, turned round."""
    a, b = 1 + PERT_SHAPE * mode, 1 + PERT_SHAPE * (1 - mode)
    fine = (np.arange(_FINE + 1) / _FINE) ** 2 / 2
    roots = np.concatenate((_beta_share(a, b, fine), 1 - _beta_share(b, a, fine)[-2::-1])) ** 0.25
    return np.interp(shares**0.25, roots, np.concatenate((fine, 1 - fine[-2::-1])))


def _beta_share(a: float, b: float, x: Reals) -> Reals:
    """The regularised incomplete beta function for x of at most a half, by its power series.

    B(x; a, b) = x^a * sum over n of (1 - b)_n / (n! (a + n)) * x^n (Abramowitz and Stegun, Handbook of
    Mathematical Functions, 26.5.4 in another form; from memory, compared with scipy by a test).
    """
    terms, rising = [], 1.0
    for n in range(_SERIES):
        terms.append(rising / (a + n))
        rising *= (1 - b + n) / (n + 1)
    total = np.zeros_like(x)
    for term in reversed(terms):
        total = total * x + term
    whole = math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
    return np.asarray(np.clip(x**a * total / math.exp(whole), 0.0, 1.0))


# --- ranges from percentiles --------------------------------------------------------------------------------


def pert_percentiles(low: float, likely: float, high: float, shares: Reals) -> Reals:
    """The quantiles of a beta-PERT range."""
    if low == high:
        return np.full(shares.shape, low)
    mode = round((likely - low) / (high - low), 6)
    return low + (high - low) * read_quantiles(tabulate_quantiles("pert", mode), shares)


def fit_pert(p10: float, p50: float, p90: float) -> tuple[float, float, float]:
    """Shortest, likeliest and longest of the beta-PERT range with these percentiles, as near as one comes.

    The 10th and the 90th are met; the 50th as far as the skewest beta-PERT reaches. The shortest is kept
    above a tenth of the 10th percentile: work takes time.
    """
    if not 0 < p10 <= p50 <= p90:
        raise Refused(f"percentiles must be above 0 and in order, not {p10}, {p50}, {p90}")
    if p90 - p10 < 1e-9 * p90:
        return p50, p50, p50
    shares = np.array([0.1, 0.5, 0.9])

    def standard(mode: float) -> tuple[float, float, float]:
        a, b, c = read_quantiles(tabulate_quantiles("pert", mode), shares)
        return float(a), float(b), float(c)

    wanted = (p50 - p10) / (p90 - p10)
    steps, lowest, highest = 256, 0, 256
    while highest - lowest > 1:  # the middle lies the nearer to the upper end, the higher the mode
        between = (lowest + highest) // 2
        a, b, c = standard(between / steps)
        lowest, highest = (between, highest) if (b - a) / (c - a) < wanted else (lowest, between)
    mode = highest / steps
    a, _, c = standard(mode)
    span = (p90 - p10) / (c - a)
    low = max(p10 - span * a, 0.1 * p10)
    high = p90 + span * (1 - c)
    return low, min(max(low + mode * (high - low), low), high), high
