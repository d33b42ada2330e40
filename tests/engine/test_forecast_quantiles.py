"""Tabulated quantile functions against scipy: within 0.1 % of the range, everywhere and for every shape."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coordination.engine import Refused
from coordination.engine.quantiles import (
    fit_pert,
    normal_deviate,
    normal_share,
    pert_percentiles,
    read_quantiles,
    tabulate_by_deviate,
    tabulate_normal,
    tabulate_quantiles,
)

TAILS = np.logspace(-9, -2, 500)
SHARES = np.unique(np.concatenate((TAILS, np.linspace(0.01, 0.99, 4000), 1 - TAILS)))
MODES = [0.0, 1 / 97, 0.1, 0.2, 1 / 3, 0.5, 0.61, 0.9, 96 / 97, 1.0]


def exact(shape, mode, shares):
    if shape == "triangular":
        return stats.triang.ppf(shares, mode)
    return stats.beta.ppf(shares, 1 + 4 * mode, 5 - 4 * mode)


@pytest.mark.parametrize("shape", ["pert", "triangular"])
@pytest.mark.parametrize("mode", MODES)
def test_a_tabulated_quantile_lies_within_a_thousandth_of_the_range(shape, mode):
    read = read_quantiles(tabulate_quantiles(shape, mode), SHARES)
    assert np.abs(read - exact(shape, mode, SHARES)).max() < 0.001
    assert (np.diff(read) >= 0).all()


@settings(max_examples=60, derandomize=True)
@given(st.floats(0, 1), st.sampled_from(("pert", "triangular")))
def test_so_it_does_for_any_likeliest_value(mode, shape):
    read = read_quantiles(tabulate_quantiles(shape, mode), SHARES)
    assert np.abs(read - exact(shape, mode, SHARES)).max() < 0.001


@pytest.mark.parametrize("shape", ["pert", "triangular"])
@pytest.mark.parametrize("mode", MODES)
def test_the_table_by_normal_deviates_says_the_same(shape, mode):
    table = tabulate_by_deviate(shape, mode)
    deviates = np.linspace(-5.9, 5.9, 5000)
    read = np.interp(deviates, np.linspace(-6, 6, len(table)), table)
    assert np.abs(read - exact(shape, mode, stats.norm.cdf(deviates))).max() < 0.001


@pytest.mark.parametrize("mode", [0.1, 0.5, 0.75])
def test_mean_and_deviation_of_a_table_are_those_of_the_distribution(mode):
    read = read_quantiles(tabulate_quantiles("pert", mode), (np.arange(200_000) + 0.5) / 200_000)
    beta = stats.beta(1 + 4 * mode, 5 - 4 * mode)
    assert read.mean() == pytest.approx(beta.mean(), abs=1e-4)
    assert read.std() == pytest.approx(beta.std(), abs=1e-4)


def test_the_normal_table_and_its_inverse():
    read = read_quantiles(tabulate_normal(), SHARES)
    error = np.abs(read - stats.norm.ppf(SHARES))
    assert error[(SHARES > 1e-6) & (SHARES < 1 - 1e-6)].max() < 0.002
    assert error.max() < 0.01  # once in a thousand million draws
    deviates = np.linspace(-6, 6, 101)
    np.testing.assert_allclose(normal_share(deviates), stats.norm.cdf(deviates), rtol=1e-9)
    assert normal_deviate(0.7) == pytest.approx(stats.norm.ppf(0.7), abs=1e-4)


def test_a_range_comes_back_from_its_own_percentiles():
    shares = np.array([0.1, 0.5, 0.9])
    for low, likely, high in ((0.8, 1.0, 1.8), (2.0, 5.0, 6.0), (1.0, 2.0, 3.0)):
        percentiles = pert_percentiles(low, likely, high, shares)
        np.testing.assert_allclose(
            percentiles, low + (high - low) * exact("pert", (likely - low) / (high - low), shares), atol=2e-3
        )
        found = fit_pert(*percentiles.tolist())
        assert found == pytest.approx((low, likely, high), abs=0.02 * (high - low))


def test_certain_work_has_a_range_without_spread():
    assert fit_pert(3.0, 3.0, 3.0) == (3.0, 3.0, 3.0)
    assert pert_percentiles(2.0, 2.0, 2.0, np.array([0.5])).tolist() == [2.0]


@pytest.mark.parametrize(("shape", "mode"), [("pert", -0.1), ("pert", 1.5), ("square", 0.5)])
def test_no_such_shape(shape, mode):
    with pytest.raises(Refused, match="must"):
        tabulate_quantiles(shape, mode)
    with pytest.raises(Refused, match="in order"):
        fit_pert(2.0, 1.0, 3.0)
