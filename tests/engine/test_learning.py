"""Promises scored and ranges learnt: against scipy, sums by hand, and ranges known beforehand.

The Wilson interval is compared with scipy.stats.binomtest; the Brier score and the quantile loss are computed
beside by hand; what is learnt is compared with the range that the observations were drawn from.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coordination.engine import (
    DEFAULT_FACTORS,
    DEFAULT_LATE,
    DurationFactors,
    PromiseKept,
    Refused,
    learn_lateness,
    learn_range,
    score_promises,
    wilson_interval,
)
from coordination.engine.network import Late


@settings(max_examples=200, derandomize=True)
@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_of_a_share_is_wilsons(case):
    kept, count = case
    expected = stats.binomtest(kept, count).proportion_ci(0.95, method="wilson")
    assert wilson_interval(kept, count) == pytest.approx((expected.low, expected.high), abs=1e-6)


def test_nothing_seen_says_nothing_about_a_share():
    assert wilson_interval(0, 0) == (0.0, 1.0)
    for kept, count in ((3, 2), (-1, 4), (0, -1)):
        with pytest.raises(Refused, match="kept"):
            wilson_interval(kept, count)


def promises(outcomes, confidence=0.8):
    """Promises for instant 100 that were kept by so many half-days (negative: missed)."""
    return [PromiseKept(confidence, 100, 100 - early) for early in outcomes]


def test_a_promise_is_scored_by_what_was_kept():
    (score,) = score_promises(promises([3, 0, 0, -2, 1, 4, -1, 0, 2, 0]))
    assert (score.confidence, score.count, score.kept, score.share) == (0.8, 10, 8, 0.8)
    assert (score.low, score.high) == wilson_interval(8, 10)
    assert score.brier == pytest.approx((8 * 0.2**2 + 2 * 0.8**2) / 10)
    # Late half-days weigh the confidence, early ones the rest of it.
    assert score.loss == pytest.approx((0.8 * (2 + 1) + 0.2 * (3 + 1 + 4 + 2)) / 10)
    assert score.verdict == "fits"


@pytest.mark.parametrize(
    ("kept", "verdict"), [(20, "too early"), (21, "fits"), (24, "fits"), (27, "fits"), (28, "too late")]
)
def test_under_70_or_over_90_in_a_hundred_the_ranges_are_called_wrong(kept, verdict):
    (score,) = score_promises(promises([1] * kept + [-1] * (30 - kept)))
    assert score.verdict == verdict


def test_only_the_last_30_of_a_confidence_count_and_few_say_nothing():
    (score,) = score_promises(promises([-1] * 40 + [1] * 24 + [-1] * 6))
    assert (score.count, score.kept, score.verdict) == (30, 24, "fits")
    (score,) = score_promises(promises([-1] * 40 + [1] * 24), last=None)
    assert (score.count, score.kept) == (64, 24)
    (score,) = score_promises(promises([-1] * 9))
    assert score.verdict == "too few"


def test_confidences_are_scored_apart():
    low, high = score_promises(promises([1, -1], 0.5) + promises([1, 1], 0.9))
    assert (low.confidence, low.share, high.confidence, high.share) == (0.5, 0.5, 0.9, 1.0)
    assert score_promises([]) == ()


def test_an_honest_forecaster_is_called_fitting_and_loses_least():
    numbers = np.random.default_rng(3)
    actual = numbers.normal(100, 6, 4000).round().astype(int).tolist()
    losses = {}
    for share in (0.6, 0.8, 0.95):
        told = round(float(np.quantile(actual, share)))
        (score,) = score_promises([PromiseKept(0.8, told, t) for t in actual], last=None)
        losses[share] = score.loss
        assert (score.verdict == "fits") == (share == 0.8)
    assert min(losses, key=losses.__getitem__) == 0.8


@pytest.mark.parametrize("confidence", [0, 1, 1.2, True, "0.8"])
def test_a_promise_without_confidence_is_refused(confidence):
    with pytest.raises(Refused, match="confidence of a promise"):
        PromiseKept(confidence, 1, 2)


def test_other_nonsense_about_promises_is_refused():
    with pytest.raises(Refused, match="'actual' of a promise must be a half-day number"):
        PromiseKept(0.8, 1, 2.5)  # type: ignore[arg-type]
    for wrong in ({"last": 0}, {"least": 0}, {"tolerance": 2}):
        with pytest.raises(Refused, match="scoring needs"):
            score_promises([], **wrong)


# --- ranges -------------------------------------------------------------------------------------------------


def works(factors, count, planned=2000, seed=1):
    low, likely, high = factors
    mode = (likely - low) / (high - low)
    drawn = stats.beta(1 + 4 * mode, 5 - 4 * mode).rvs(count, random_state=seed)
    return [(planned, round(planned * (low + (high - low) * float(x)))) for x in drawn]


@pytest.mark.parametrize("true", [(0.8, 1.0, 1.8), (0.9, 1.5, 2.0), (0.5, 0.7, 1.1)])
def test_with_many_works_the_range_comes_near_the_true_one(true):
    found = learn_range(works(true, 4000))
    assert found.observations == 4000
    span = true[2] - true[0]
    for have, want in zip((found.shortest, found.likeliest, found.longest), true, strict=True):
        assert have == pytest.approx(want, abs=0.08 * span)


def test_with_few_works_the_range_stays_near_the_default():
    slow = [(10, 20)] * 2
    found = learn_range(slow)
    assert DEFAULT_FACTORS.likeliest < found.likeliest < 1.3
    heavy = learn_range(slow * 50)
    assert heavy.likeliest > 1.8
    assert learn_range([], default=DurationFactors(0.5, 1, 2)) == DurationFactors(0.5, 1, 2)


def test_the_more_works_the_nearer_to_them():
    likeliest = [learn_range([(10, 15)] * n).likeliest for n in (0, 1, 5, 20, 100)]
    assert likeliest == sorted(likeliest)
    assert likeliest[-1] == pytest.approx(1.5, abs=0.1)


def test_one_work_gone_wrong_moves_the_range_little():
    usual = works((0.8, 1.0, 1.8), 30)
    calm, shaken = learn_range(usual), learn_range([*usual, (2, 900)])
    assert shaken.longest < 1.25 * calm.longest
    assert shaken.likeliest == pytest.approx(calm.likeliest, abs=0.1)


def test_a_learnt_range_forecasts_as_the_works_were():
    true = (0.9, 1.2, 2.2)
    found = learn_range(works(true, 500, seed=5))
    mode = (found.likeliest - found.shortest) / (found.longest - found.shortest)
    spread = found.longest - found.shortest
    learnt = found.shortest + spread * stats.beta.ppf(0.8, 1 + 4 * mode, 5 - 4 * mode)
    mode = (true[1] - true[0]) / (true[2] - true[0])
    assert learnt == pytest.approx(true[0] + 1.3 * stats.beta.ppf(0.8, 1 + 4 * mode, 5 - 4 * mode), abs=0.03)


@settings(max_examples=200, derandomize=True)
@given(st.lists(st.tuples(st.integers(1, 60), st.integers(1, 300)), max_size=30), st.floats(0, 50))
def test_whatever_was_worked_the_range_is_one(observed, weight):
    found = learn_range(observed, weight=weight)
    assert 0 < found.shortest <= found.likeliest <= found.longest
    for planned in (0, 1, 7, 40):
        low, likely, high = found.range_of(planned)
        assert min(planned, 1) <= low <= likely <= high


@pytest.mark.parametrize("observed", [(0, 5), (5, 0), (-3, 5), (5, 4.5), (5, True)])
def test_works_that_cannot_be_are_refused(observed):
    with pytest.raises(Refused, match="half-days of a work must be a whole number"):
        learn_range([observed])


def test_factors_and_weights_that_cannot_be_are_refused():
    for factors in ((0, 1, 2), (2, 1, 3), (1, 2, math.inf)):
        with pytest.raises(Refused, match="duration factors"):
            DurationFactors(*factors)
    for weight in (-1, math.nan, math.inf):
        with pytest.raises(Refused, match="weight of the default"):
            learn_range([], weight=weight)
        with pytest.raises(Refused, match="weight of the default"):
            learn_lateness([], weight=weight)
    with pytest.raises(Refused, match="planned duration"):
        DEFAULT_FACTORS.range_of(2.5)  # type: ignore[arg-type]


# --- lateness -----------------------------------------------------------------------------------------------


def test_lateness_is_learnt_as_a_share_and_a_range():
    numbers = np.random.default_rng(2)
    late = np.where(numbers.random(3000) < 0.4, numbers.integers(2, 11, 3000), 0).tolist()
    found = learn_lateness(late)
    assert found.late.chance == pytest.approx(0.4, abs=4 * math.sqrt(0.24 / 3000))
    # The 10th and the 90th percentile of 2 to 10 even half-days.
    assert found.late.half_days == (2, 10)
    assert (found.visits, found.late_visits) == (3000, sum(n > 0 for n in late))


def test_with_few_visits_lateness_stays_near_the_default():
    assert learn_lateness([]).late == DEFAULT_LATE
    once = learn_lateness([8]).late
    assert once.chance == pytest.approx((1 + 10 * 0.3) / 11)
    assert once.half_days[1] <= 7
    punctual = learn_lateness([0, -1, 0]).late
    assert punctual.chance == pytest.approx(3 / 13)
    assert punctual.half_days == DEFAULT_LATE.half_days
    assert learn_lateness([0] * 5, default=Late(0.0, (1, 1)), weight=0).late.chance == 0.0


@pytest.mark.parametrize("value", [1.5, True, "2", 5000, -5000])
def test_lateness_that_cannot_be_is_refused(value):
    with pytest.raises(Refused, match="a visit's lateness"):
        learn_lateness([value])
