"""Forecasts against the dates when nothing is uncertain, and against expectations when something is.

Worked PERT examples are in tests/published; single draws are judged in test_forecast_draws.py.
"""

import dataclasses
import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from scipy import stats

from coordination.engine import (
    Activity,
    BeyondTime,
    Crew,
    Network,
    Refused,
    Relationship,
    SharedFactors,
    WorkingCalendar,
    compute_dates,
    forecast_network,
)
from coordination.engine.network import Fails, Late
from tests.engine.networks import MONDAY
from tests.engine.strategies import problems

ROOT = Path(__file__).parents[2]
RANGED = Network(
    (
        Activity("frame", 4, "all", house="one", range=(3, 4, 9)),
        Activity("wrap", 3, "all", house="one", range=(2, 3, 5)),
        Activity("roof", 5, "all", house="one", range=(4, 5, 8)),
    ),
    (Relationship("frame", "wrap"), Relationship("frame", "roof", "SS", lag=2)),
    {"all": WorkingCalendar((2,) * 7)},
)


@settings(max_examples=80, derandomize=True)
@given(problems(deadlines=False))
def test_without_uncertainty_every_percentile_is_the_planned_finish(problem):
    network, _, data_date = problem
    plan = compute_dates(network, data_date=data_date)
    for name, found in forecast_network(network, data_date=data_date, samples=2).activities.items():
        assert (found.p10, found.p90) == (plan[name].ef, plan[name].ef), name


def test_late_crews_and_failing_walks_move_the_mean_by_what_they_cost():
    network = Network(
        (Activity("work", 4, crew={"x": 1}), Activity("walk", 1, fails=Fails(0.25, 8))),
        (Relationship("work", "walk"),),
        crews=(Crew("x", 1, late=Late(0.5, (2, 6))),),
    )
    found = forecast_network(network, samples=20_000, seed=3)
    assert found.mean == pytest.approx(5 + 0.5 * 4 + 0.25 * 8, abs=0.1)
    assert found.activities["walk"].criticality == 1.0


def test_whole_half_days_in_a_calendar_keep_the_mean_duration():
    network = Network((Activity("a", 4, "all", range=(2, 4, 9)),), (), {"all": WorkingCalendar((2,) * 7)})
    found = forecast_network(network, data_date=MONDAY, samples=40_000, seed=4)
    assert found.mean == pytest.approx((2 + 16 + 9) / 6, abs=0.05)


def test_what_is_left_of_work_under_way_keeps_the_proportions_of_its_range():
    # Half of the likeliest length is left: half of 10 to 18, likeliest 12.
    frame = Activity("frame", 12, "all", range=(10, 12, 18), actual_start=MONDAY - 6, remaining=6)
    found = forecast_network(
        Network((frame,), (), {"all": WorkingCalendar((2,) * 7)}), data_date=MONDAY, samples=40_000
    )
    assert found.mean == pytest.approx((5 + 4 * 6 + 9) / 6, abs=0.03)
    done = dataclasses.replace(frame, remaining=0)
    ended = forecast_network(Network((done,), (), {"all": WorkingCalendar((2,) * 7)}), data_date=MONDAY)
    assert (ended.mean, ended.deviation) == (0, 0)


def test_the_same_seed_gives_the_same_forecast():
    assert forecast_network(RANGED, seed=5) == forecast_network(RANGED, seed=5)
    assert forecast_network(RANGED, seed=5) != forecast_network(RANGED, seed=6)


def test_a_question_that_makes_no_sense_is_refused_by_name():
    with pytest.raises(Refused, match="at least one sample"):
        forecast_network(RANGED, samples=0)
    with pytest.raises(Refused, match="unknown activity 'attic'"):
        forecast_network(RANGED, ready_of=["attic"])
    with pytest.raises(Refused, match="pert, triangular"):
        forecast_network(RANGED, shape="square")  # type: ignore[arg-type]
    with pytest.raises(Refused, match="together more than 1"):
        SharedFactors(0.7, 0.7)
    with pytest.raises(Refused, match="'crew' must be a number from 0 to 1"):
        SharedFactors(crew=-0.1)
    done = Network((Activity("a", 1, actual_start=3),))
    with pytest.raises(Refused, match="'actual_start' lies after the data date"):
        forecast_network(done, data_date=2)


def test_dates_that_cannot_be_written_are_refused():
    far = Network((Activity("a", 900_000), Activity("b", 900_000)), (Relationship("a", "b"),))
    with pytest.raises(BeyondTime):
        forecast_network(far, data_date=5_000_000)
    with pytest.raises(BeyondTime, match="activity 'a' is longer"):
        forecast_network(Network((Activity("a", 10**7),)))
    with pytest.raises(BeyondTime, match="lag is longer"):
        forecast_network(Network((Activity("a", 1), Activity("b", 1)), (Relationship("a", "b", lag=10**8),)))


def test_the_command_forecasts_a_document():
    document = {"activities": [{"id": "a", "duration": 4, "range": [2, 4, 9]}]}
    run = subprocess.run(
        [sys.executable, "-m", "coordination.engine", "forecast", "-", "--samples", "4000", "--seed", "1"],
        input=json.dumps(document),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert (run.returncode, run.stderr) == (0, "")
    answer = json.loads(run.stdout)
    assert answer["mean"] == pytest.approx(4.5, abs=0.1)
    assert set(answer["activities"]["a"]) == {"p10", "p50", "p80", "p90", "criticality"}


DOCUMENT = {
    "data_date": "2026-02-02",
    "calendars": {"site": {"week": [2, 2, 2, 2, 2, 0, 0]}},
    "activities": [
        {"id": "frame", "duration": 12, "house": "14", "crew": {"carpenters": 1}, "range": [10, 12, 18]},
        {"id": "walk", "duration": 1, "house": "14", "fails": {"chance": 0.3, "half_days": 3}},
        {"id": "wrap", "duration": 3, "house": "14", "crew": {"wrappers": 1}, "region": "south"},
    ],
    "relationships": [{"from": "frame", "to": "walk"}, {"from": "walk", "to": "wrap", "lag": 2}],
    "crews": {
        "carpenters": {"capacity": 1, "late": {"chance": 0.3, "half_days": [1, 6]}},
        "wrappers": {"capacity": 1},
    },
    "details": [{"id": "pockets", "installed_by": ["frame"], "covered_by": ["wrap"], "point": "walk"}],
}


def ask(document, *arguments):
    return subprocess.run(
        [sys.executable, "-m", "coordination.engine", *arguments],
        input=json.dumps(document),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )


def test_the_command_says_what_can_be_promised_behind_each_point():
    run = ask(DOCUMENT, "forecast", "-", "--samples", "2000", "--seed", "3", "--confidence", "0.8")
    assert (run.returncode, run.stderr) == (0, "")
    answer = json.loads(run.stdout)
    (promise,) = answer["promises"]
    assert (promise["hold"], promise["activity"], promise["house"]) == ("walk", "wrap", "14")
    # Twelve half-days, the walk and two half-days of word time: to Wednesday noon of the second week.
    assert promise["planned"] == "2026-02-11 pm"
    assert promise["planned"] < promise["likely"] < promise["start"]
    assert 0.8 <= promise["share"] < 0.95
    assert answer["houses"]["14"]["p50"] == answer["activities"]["wrap"]["p50"]
    assert all(isinstance(answer["activities"]["wrap"][key], int) for key in ("p10", "p50", "p80", "p90"))


def test_the_command_lets_houses_wait_for_each_others_crews_if_told_to():
    document = {
        "activities": [
            {"id": name, "duration": 4, "house": name, "crew": {"liners": 1}} for name in ("14", "16")
        ],
        "crews": {"liners": {"capacity": 1, "late": {"chance": 1.0, "half_days": [2, 2]}}},
    }
    ends = {}
    for fit in ([], ["--fit"]):
        run = ask(document, "forecast", "-", "--samples", "50", *fit)
        assert (run.returncode, run.stderr) == (0, "")
        ends[bool(fit)] = sorted(a["p50"] for a in json.loads(run.stdout)["activities"].values())
    assert ends == {False: [6, 6], True: [6, 12]}


@pytest.mark.parametrize(
    ("change", "arguments", "words"),
    [
        ({}, ["--confidence", "1.5"], "confidence of a promise must lie between 0 and 1"),
        ({}, ["--samples", "0"], "at least one sample"),
        ({"range": [5, 4, 9]}, [], "activity 'frame': 'range' must be three lengths, shortest first"),
        ({"range": [5, 9]}, [], "activity 'frame': 'range' must be three lengths"),
        ({"range": [5, 6.5, 9]}, [], "activity 'frame': each length of 'range' must be a whole number"),
        (
            {"fails": {"chance": 1.2, "half_days": 3}},
            [],
            "the chance of failing must be a number from 0 to 1",
        ),
        ({"fails": {"chance": 0.2}}, [], "half_days"),
        ({"region": 7}, [], "region"),
        ({"weather": 1}, [], "weather"),
    ],
)
def test_the_command_refuses_by_name_with_status_2_and_an_empty_output(change, arguments, words):
    first, *others = DOCUMENT["activities"]
    run = ask(DOCUMENT | {"activities": [first | change, *others]}, "forecast", "-", *arguments)
    assert (run.returncode, run.stdout) == (2, "")
    assert words in run.stderr


def test_how_many_houses_are_late_together_is_counted_draw_by_draw():
    """Four houses, each late in half of the draws: alone as the binomial says, with one crew's luck together.

    Of independent houses 4 at once are late in 1 of 16 draws (binomial distribution, SciPy).
    """
    names = [f"house {i}" for i in range(4)]
    activities = tuple(
        Activity(name, 4, house=name, crew={f"crew {name}": 1}, range=(0, 4, 8)) for name in names
    )
    apart = Network(activities, crews=tuple(Crew(f"crew {name}", 1) for name in names))
    one_crew = Network(
        tuple(dataclasses.replace(a, crew={"all": 1}) for a in activities), crews=(Crew("all", 4),)
    )
    limits = dict.fromkeys(names, 4)
    draws = 4000
    alone = forecast_network(
        apart, samples=draws, limits=limits, factors=SharedFactors(crew=0.0, weather=0.0)
    ).late_houses
    together = forecast_network(
        one_crew, samples=draws, limits=limits, factors=SharedFactors(crew=1.0, weather=0.0)
    ).late_houses
    assert alone is not None
    assert together is not None
    assert alone.draws == draws
    late = sum(count * k for k, count in enumerate(alone.counts, alone.first)) / draws / 4
    expected = stats.binom(4, late).sf(3)
    error = 4 * (expected * (1 - expected) / draws) ** 0.5
    assert 1 - alone.share_by(3) == pytest.approx(expected, abs=error)
    assert 1 - together.share_by(3) > 0.3
    assert forecast_network(apart, samples=10).late_houses is None
