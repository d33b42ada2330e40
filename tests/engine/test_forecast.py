"""Forecasts against worked PERT examples, and against the dates when nothing is uncertain.

Hendrickson, Project Management for Construction, table 11-1 (on the network of table 10-1). Means and
deviations of the Monte Carlo were computed apart with 1,000,000 draws.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings

from coordination.engine import Activity, Crew, Network, Refused, Relationship, WorkingCalendar, compute_dates
from coordination.engine.forecast import forecast_network
from coordination.engine.network import Fails, Late
from tests.engine.networks import MONDAY
from tests.engine.strategies import problems

ROOT = Path(__file__).parents[2]
HENDRICKSON = "A3,4,5 B2,3,5 C6,8,10 D5,7,8 E6,9,14 F10,12,14 G2,2,4 H4,5,8 I4,6,8"


def hendrickson():
    activities = []
    for word in HENDRICKSON.split():
        low, likely, high = (int(n) for n in word[1:].split(","))
        activities.append(Activity(word[0], likely, range=(low, likely, high)))
    pairs = ["AC", "AD", "BE", "CE", "BF", "CF", "DG", "EG", "DH", "EH", "FI", "GI"]
    return Network(tuple(activities), tuple(Relationship(*pair) for pair in pairs))


@pytest.mark.parametrize(
    ("shape", "mean", "deviation"), [("pert", 30.538, 1.480), ("triangular", 30.944, 1.736)]
)
def test_the_merging_paths_of_hendrickson_make_the_mean_later_than_pert(shape, mean, deviation):
    found = forecast_network(hendrickson(), samples=40_000, seed=1, shape=shape)
    assert found.mean == pytest.approx(mean, abs=4 * deviation / 200)
    assert found.deviation == pytest.approx(deviation, abs=0.03)
    assert found.mean > 30.0  # the mean of the longest path alone


def test_percentiles_of_hendrickson():
    last = max(
        forecast_network(hendrickson(), samples=40_000, seed=2).activities.values(), key=lambda a: a.p80
    )
    assert last.p50 == pytest.approx(30.51, abs=0.05)
    assert last.p80 == pytest.approx(31.78, abs=0.06)


@settings(max_examples=80, deadline=None, derandomize=True)
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


def test_the_same_seed_gives_the_same_forecast():
    assert forecast_network(hendrickson(), seed=5) == forecast_network(hendrickson(), seed=5)
    assert forecast_network(hendrickson(), seed=5) != forecast_network(hendrickson(), seed=6)
    with pytest.raises(Refused, match="at least one sample"):
        forecast_network(hendrickson(), samples=0)


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
