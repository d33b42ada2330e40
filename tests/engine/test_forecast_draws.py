"""Single draws judged one by one: each is a plan of its own; the compiled kernel and its NumPy twin agree.

What a draw should be is asked of `compute_dates`, which a slow second opinion judges
(`test_against_oracle.py`); distributions are asked of scipy.
"""

import dataclasses
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coordination.engine import (
    Activity,
    Crew,
    Network,
    Relationship,
    SharedFactors,
    WorkingCalendar,
    compute_dates,
    forecast_network,
    sampling,
    sampling_counts,
    sampling_kernels,
    sampling_numpy,
)
from coordination.engine.compiled import COMPILES, NOTICE
from coordination.engine.network import EVERY_NAME, Fails, Late
from coordination.engine.sampling import sample_network
from coordination.engine.sampling_layout import lay_out, make_frame
from tests.engine.networks import MONDAY, single_storey
from tests.engine.strategies import problems

ROOT = Path(__file__).parents[2]
# Without numba the kernel's loops are far slower: few draws then judge them, and the twin does the rest.
KERNELS, DRAWS = (sampling_kernels, 40) if COMPILES else (sampling_numpy, 5)
SHARES = (0.1, 0.5, 0.8, 0.9)
FACTORS = SharedFactors(0.2, 0.3)
REACH = 4000


@pytest.fixture(autouse=True, scope="module")
def numbers_may_wrap():
    """Plain Python loops over NumPy's numbers warn of what compiled ones do: multiply modulo 2 ** 64."""
    before = np.seterr(over="ignore")
    yield
    np.seterr(**before)


@st.composite
def uncertain(draw, fractions=True):
    """A network with ranges, crews that come late, regions and walks that fail; its data date."""
    network, _, data_date = draw(problems(deadlines=False, most=7))
    activities = []
    for a in network.activities:
        low = draw(st.integers(0, 4))
        likely = low + draw(st.integers(0, 3))
        ranged = draw(st.booleans()) and (fractions or a.calendar != EVERY_NAME)
        activities.append(
            dataclasses.replace(
                a,
                range=(low, likely, likely + draw(st.integers(0, 5))) if ranged else None,
                crew=draw(st.sampled_from(({}, {"x": 1}, {"y": 1}, {"x": 1, "y": 1}))),
                visit=draw(st.sampled_from((None, "first", "second"))),
                region=draw(st.sampled_from((None, "south", "north"))),
                fails=draw(st.none() | st.builds(Fails, st.sampled_from((0.3, 1.0)), st.integers(0, 3))),
            )
        )
    crews = (
        Crew("x", 1, late=Late(0.5, (1, 6))),
        Crew("y", 1, late=draw(st.none() | st.just(Late(1.0, (2, 2))))),
    )
    return dataclasses.replace(network, activities=tuple(activities), crews=crews), data_date


def laid_of(network, data_date, seed=1, shape="pert", ready_of=()):
    return lay_out(network, data_date=data_date, seed=seed, shape=shape, factors=FACTORS, ready_of=ready_of)


def assert_same(one, other):
    for part in dataclasses.fields(one):
        a, b = getattr(one, part.name), getattr(other, part.name)
        if isinstance(a, dict):
            assert a == b
        else:
            np.testing.assert_array_equal(a, b, err_msg=part.name)


@settings(max_examples=150, derandomize=True)
@given(uncertain(), st.sampled_from(("pert", "triangular")))
def test_the_kernel_and_its_numpy_twin_draw_the_same(problem, shape):
    network, data_date = problem
    laid = laid_of(network, data_date, shape=shape, ready_of=list(network.position))
    assert_same(
        sample_network(laid, DRAWS, SHARES, kernels=sampling_kernels),
        sample_network(laid, DRAWS, SHARES, kernels=sampling_numpy),
    )


@settings(max_examples=150, derandomize=True)
@given(uncertain(fractions=False))
def test_every_draw_is_the_plan_of_the_lengths_drawn(problem):
    network, data_date = problem
    punctual = dataclasses.replace(network, crews=tuple(Crew(crew.name, 1) for crew in network.crews))
    laid = laid_of(punctual, data_date)
    frame, layout, count, draws = make_frame(laid, REACH), laid.layout, len(laid.order), 6 if COMPILES else 2
    weights = (FACTORS.crew**0.5, FACTORS.weather**0.5)
    shared = np.random.default_rng(8).normal(size=(len(laid.factor_keys), draws))
    finish, start, ready = (np.zeros((count, draws), np.int32) for _ in range(3))
    holds = np.zeros((len(layout.source), draws), np.uint8)
    lengths = np.zeros((count, draws), np.int32)
    for begin, end in zip(laid.parts, laid.parts[1:], strict=False):
        rows = slice(layout.links[begin], layout.links[end])
        assert sampling_kernels.sample_part(
            layout, frame, shared, weights, laid.bits, int(begin), int(end), 0,
            finish[begin:end], start[begin:end], ready[begin:end], holds[rows],
        )  # fmt: skip
    for i in range(count):
        sampling_kernels.draw_lengths(layout, frame, shared, weights, i, 0, lengths[i], np.zeros((4, draws)))
    for s in range(draws):
        drawn = {}
        for i, place in enumerate(laid.order.tolist()):
            a = network.activities[place]
            left = {"remaining": int(lengths[i, s])} if a.under_way else {"duration": int(lengths[i, s])}
            drawn[a.id] = dataclasses.replace(a, range=None, fails=None, **({} if a.finished else left))
        plan = compute_dates(
            dataclasses.replace(network, activities=tuple(drawn[a.id] for a in network.activities)),
            data_date=data_date,
        )
        for i, place in enumerate(laid.order.tolist()):
            assert int(finish[i, s]) + laid.first == plan[network.activities[place].id].ef


def drawn_lengths(network, draws, shape="pert"):
    laid = laid_of(network, MONDAY, shape=shape)
    length = np.zeros(draws, np.int32)
    sampling_kernels.draw_lengths(
        laid.layout,
        make_frame(laid, 10),
        np.zeros((1, draws)),
        (0.0, 0.0),
        0,
        0,
        length,
        np.zeros((4, draws)),
    )
    return length


@pytest.mark.parametrize("shape", ["pert", "triangular"])
def test_drawn_lengths_are_distributed_as_their_range_says(shape):
    network = Network((Activity("a", 4, "site", range=(2, 4, 9)),), (), {"site": WorkingCalendar()})
    draws = 100_000
    found = np.bincount(drawn_lengths(network, draws, shape), minlength=11)[2:11] / draws
    # Rounded by chance: the length k has the mean of a tent over the density around it.
    distribution = (
        stats.triang(2 / 7, 2, 7) if shape == "triangular" else stats.beta(1 + 8 / 7, 5 - 8 / 7, 2, 7)
    )
    x = np.linspace(2, 9, 70_001)
    density = distribution.pdf(x)
    for k, share in enumerate(found, 2):
        expected = float(np.trapezoid(density * np.clip(1 - np.abs(x - k), 0, None), x))
        assert share == pytest.approx(expected, abs=4 * (max(expected, 1e-4) / draws) ** 0.5 + 2e-4)


def test_a_late_crew_is_late_once_in_a_visit_and_by_its_own_working_half_days():
    # Late every time by just three half-days: as if the crew's first work waited for that long a journey.
    site = {"site": WorkingCalendar()}
    late = Network(
        (
            Activity("a", 4, "site"),
            Activity("b", 3, "site", crew={"x": 1}, visit="v"),
            Activity("c", 2, "site", crew={"x": 1}, visit="v"),
        ),
        (Relationship("a", "b"), Relationship("b", "c")),
        site,
        crews=(Crew("x", 1, "site", late=Late(1.0, (3, 3))),),
    )
    plan = compute_dates(
        Network(
            tuple(Activity(name, n, "site") for name, n in (("a", 4), ("travel", 3), ("b", 3), ("c", 2))),
            (Relationship("a", "travel"), Relationship("travel", "b"), Relationship("b", "c")),
            site,
        ),
        data_date=MONDAY,
    )
    found = forecast_network(late, data_date=MONDAY, samples=3, ready_of=["b", "c"])
    assert {name: one.p50 for name, one in found.activities.items()} == {n: plan[n].ef for n in "abc"}
    # Ready is when the house is, not when the crew comes.
    assert (found.ready["b"].first, found.ready["b"].counts) == (MONDAY + 4, (3,))
    assert found.ready["c"].first == plan["c"].es


def test_percentiles_are_exact_counts_of_draws():
    network = dataclasses.replace(
        single_storey(),
        activities=tuple(
            dataclasses.replace(a, range=(a.duration, a.duration, 2 * a.duration + 1))
            for a in single_storey().activities
        ),
    )
    laid = laid_of(network, MONDAY)
    found = sample_network(laid, 999, SHARES)
    frame, count = make_frame(laid, REACH), len(laid.order)
    finish, start, ready = (np.zeros((count, 999), np.int32) for _ in range(3))
    holds = np.zeros((len(laid.layout.source), 999), np.uint8)
    shared, weights = np.zeros((1, 999)), (0.0, 0.0)
    sampling_numpy.sample_part(
        laid.layout, frame, shared, weights, 0, 0, count, 0, finish, start, ready, holds
    )
    expected = np.quantile(finish, SHARES, axis=1, method="inverted_cdf").T + laid.first
    np.testing.assert_array_equal(found.percentiles[laid.order], expected)
    np.testing.assert_allclose(found.ends, finish.max(axis=0) + laid.first)


@settings(max_examples=30, derandomize=True)
@given(uncertain(), st.sampled_from((KERNELS, sampling_numpy)))
def test_draws_made_in_turns_are_the_draws_made_at_once(problem, kernels):
    network, data_date = problem
    laid = laid_of(network, data_date, ready_of=list(network.position))
    at_once = sample_network(laid, 150, SHARES, kernels=kernels)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sampling, "ROOM", 6_000)
        in_turns = sample_network(laid, 150, SHARES, kernels=kernels)
    np.testing.assert_allclose(in_turns.house_deviation, at_once.house_deviation, atol=1e-6)
    np.testing.assert_allclose(in_turns.house_mean, at_once.house_mean, rtol=1e-12)
    even = dataclasses.replace(
        in_turns, house_deviation=at_once.house_deviation, house_mean=at_once.house_mean
    )
    assert_same(even, at_once)


def test_counts_too_fine_for_the_room_become_coarser_and_never_too_early():
    network = Network(
        tuple(Activity(f"a{i}", 40, house="one", range=(10, 40, 400)) for i in range(20)),
        tuple(Relationship(f"a{i}", f"a{i + 1}") for i in range(19)),
    )
    laid = laid_of(network, 0)
    fine = sample_network(laid, 400, SHARES)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sampling_counts, "COUNT_ROOM", 400_000)
        coarse = sample_network(laid, 400, SHARES)
    difference = coarse.percentiles - fine.percentiles
    assert (difference >= 0).all()
    assert 0 < difference.max() < 400


def house(name, seed):
    numbers = np.random.default_rng(seed)
    activities = tuple(
        Activity(
            f"{name} {i}",
            n := int(numbers.integers(1, 6)),
            "site",
            name,
            crew={"x": 1},
            range=(n, n, 3 * n),
            region="south",
        )
        for i in range(8)
    )
    return activities, tuple(Relationship(f"{name} {i}", f"{name} {i + 1 + i % 2}") for i in range(6))


def test_a_house_is_forecast_with_others_as_by_itself():
    parts = [house(name, k) for k, name in enumerate(("first", "second", "third"))]
    calendars = {"site": WorkingCalendar()}
    crews = (Crew("x", 3, "site", late=Late(0.4, (1, 4))),)
    together = forecast_network(
        Network(sum((a for a, _ in parts), ()), sum((x for _, x in parts), ()), calendars, crews=crews),
        data_date=MONDAY,
        samples=300,
        seed=9,
    )
    for activities, links in parts:
        alone = forecast_network(
            Network(activities, links, calendars, crews=crews), data_date=MONDAY, samples=300, seed=9
        )
        assert alone.activities.items() <= together.activities.items()
        assert alone.houses.items() <= together.houses.items()


def test_what_a_crew_has_in_common_makes_its_sum_more_uncertain_and_not_its_works():
    both = Network(
        (
            Activity("a", 20, crew={"x": 1}, range=(0, 20, 40)),
            Activity("b", 20, crew={"x": 1}, range=(0, 20, 40)),
        ),
        (Relationship("a", "b"),),
        crews=(Crew("x", 1),),
    )
    draws = 40_000
    # A Gaussian copula with correlation 0.5 over two beta-PERT lengths, drawn by scipy.
    numbers = np.random.default_rng(4)
    z = numbers.multivariate_normal([0, 0], [[1, 0.5], [0.5, 1]], 400_000)
    expected = (40 * stats.beta.ppf(stats.norm.cdf(z), 3, 3)).sum(axis=1).std()
    found = forecast_network(both, samples=draws, seed=1, factors=SharedFactors(crew=0.5))
    assert found.deviation == pytest.approx(expected, rel=4 * (1 / (2 * draws)) ** 0.5 + 0.005)
    apart = forecast_network(both, samples=draws, seed=1, factors=SharedFactors(0, 0))
    one = 40 * stats.beta.std(3, 3)
    assert apart.deviation == pytest.approx(one * 2**0.5, rel=0.02)
    assert found.activities["a"].p90 == pytest.approx(apart.activities["a"].p90, abs=0.3)


def test_without_numba_the_same_forecast_comes_out_and_it_is_said_once():
    code = """
import sys
sys.modules["numba"] = None
from tests.engine.test_forecast_draws import house
from coordination.engine import Crew, Network, WorkingCalendar, forecast_network
a, x = house("first", 0)
network = Network(a, x, {"site": WorkingCalendar()}, crews=(Crew("x", 3, "site"),))
print(forecast_network(network, samples=50, seed=2))
"""
    lines = code.strip().splitlines()
    slow, fast = (
        subprocess.run(
            [sys.executable, "-c", "\n".join(run)], capture_output=True, text=True, cwd=ROOT, check=False
        )
        for run in (lines, [lines[0], *lines[2:]])
    )
    assert (slow.returncode, slow.stderr.strip()) == (0, NOTICE)
    assert slow.stdout == fast.stdout
