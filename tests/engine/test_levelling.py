"""Levelled dates are sound by the judges, and follow the rules of visits, reserved time and kept dates."""

import dataclasses
import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination.engine import (
    Activity,
    Crew,
    Network,
    Refused,
    Relationship,
    ReservedTime,
    WorkingCalendar,
    compute_dates,
    find_faults,
)
from coordination.engine.crews import find_crew_parts
from coordination.engine.levelling import level_network
from coordination.engine.verify_crews import find_crew_faults
from tests.engine.networks import MONDAY
from tests.engine.strategies import problems

ROOT = Path(__file__).parents[2]
SITE = {"site": WorkingCalendar()}
PAINTERS = (Crew("painters", 1, "site"),)


def dates_of(levelled):
    return {name: (levelled.start[name], levelled.finish[name]) for name in levelled.start}


def judge(network, levelled, data_date=MONDAY):
    dates = dates_of(levelled)
    return find_faults(network, dates, data_date=data_date) + find_crew_faults(
        network, dates, data_date=data_date, crew_of=levelled.crew_of
    )


def houses(count, *, crews=PAINTERS, **extra):
    """Houses of one activity of 4 half-days for the painters."""
    activities = tuple(
        Activity(f"paint {h}", 4, "site", f"house {h}", crew={"painters": 1}) for h in range(count)
    )
    return Network(activities, (), SITE, crews=crews, **extra)


@st.composite
def crewed(draw):
    """A random network with crews of one calendar each, visits, reserved time, a freeze."""
    network, _, data_date = draw(problems(deadlines=False))
    crews = tuple(
        Crew(
            name,
            draw(st.integers(1, 2)),
            "every",
            reserved=(ReservedTime(data_date + 3, data_date + 9, 1),) if draw(st.booleans()) else (),
        )
        for name in ("x", "y")
    )
    names = st.sampled_from(("x", "y"))
    activities = [
        dataclasses.replace(
            a,
            crew={draw(names): 1} if draw(st.booleans()) else {},
            visit=draw(st.sampled_from((None, "v", "w"))),
        )
        for a in network.activities
    ]
    confirmed = {a.visit for a in activities if a.visit} if draw(st.booleans()) else set()
    return (
        dataclasses.replace(
            network,
            activities=tuple(activities),
            crews=crews,
            confirmed=frozenset(confirmed),
            freeze_until=draw(st.none() | st.integers(data_date, data_date + 12)),
        ),
        data_date,
    )


@settings(max_examples=150, derandomize=True)
@given(crewed())
def test_levelled_dates_are_sound_on_random_networks(case):
    network, data_date = case
    levelled = level_network(network, data_date=data_date, schedules=8, seed=1)
    assert judge(network, levelled, data_date) == []
    plan = compute_dates(network, data_date=data_date)
    assert all(levelled.finish[name] >= plan[name].ef for name in levelled.finish)


def test_without_crews_levelled_dates_are_the_earliest():
    network = Network(
        (Activity("a", 4, "site"), Activity("b", 3, "site")), (Relationship("a", "b", lag=2),), SITE
    )
    plan, levelled = compute_dates(network, data_date=MONDAY), level_network(network, data_date=MONDAY)
    assert dates_of(levelled) == {a.id: (a.es, a.ef) for a in plan.activities.values()}


def test_one_crew_takes_houses_one_after_the_other_and_the_answer_says_what_it_costs():
    network = houses(3)
    levelled = level_network(network, data_date=MONDAY, schedules=20)
    assert judge(network, levelled) == []
    assert sorted(levelled.start.values()) == [MONDAY, MONDAY + 4, MONDAY + 8]
    results = sorted(levelled.houses.values(), key=lambda h: h.finish_levelled)
    assert [(h.late, dict(h.waits)) for h in results] == [
        (0, {}),
        (4, {"painters": 4}),
        (12, {"painters": 8}),  # over a weekend: 4 half-days more on the axis
    ]


def test_the_heavier_house_goes_first():
    network = houses(3, weights={"house 2": 5.0})
    levelled = level_network(network, data_date=MONDAY, schedules=60)
    assert levelled.houses["house 2"].late == 0


def test_a_visit_takes_its_crew_once():
    together = tuple(
        Activity(name, 4, "site", "house", crew={"plumbers": 1}, visit="rough-in") for name in ("hot", "cold")
    )
    network = Network(together, (), SITE, crews=(Crew("plumbers", 1, "site"),))
    levelled = level_network(network, data_date=MONDAY)
    assert set(levelled.start.values()) == {MONDAY}
    assert judge(network, levelled) == []
    apart = dataclasses.replace(
        network, activities=tuple(dataclasses.replace(a, visit=None) for a in together)
    )
    assert sorted(level_network(apart, data_date=MONDAY).start.values()) == [MONDAY, MONDAY + 4]


def test_reserved_time_and_days_off_of_the_crew_are_kept_free():
    crew = Crew("painters", 1, "site", reserved=(ReservedTime(MONDAY + 2, MONDAY + 6, 1),))
    levelled = level_network(houses(1, crews=(crew,)), data_date=MONDAY)
    assert levelled.start["paint 0"] == MONDAY + 6
    calendars = {**SITE, "late": WorkingCalendar(off=range(MONDAY, MONDAY + 14))}
    network = Network(houses(1).activities, (), calendars, crews=(Crew("painters", 1, "late"),))
    assert level_network(network, data_date=MONDAY).start["paint 0"] == MONDAY + 14


def test_confirmed_and_frozen_visits_stay_and_the_others_go_round_them():
    activities = (
        Activity("long", 8, "site", "a", crew={"painters": 1}, visit="va"),
        Activity("told", 4, "site", "b", not_before=MONDAY + 4, crew={"painters": 1}, visit="vb"),
    )
    network = Network(activities, (), SITE, crews=(Crew("painters", 1, "site"),), confirmed=frozenset({"vb"}))
    levelled = level_network(network, data_date=MONDAY, schedules=20)
    assert (levelled.start["told"], levelled.start["long"], levelled.changed) == (MONDAY + 4, MONDAY + 8, ())
    frozen = Network(activities, (), SITE, crews=network.crews, freeze_until=MONDAY + 1)
    levelled = level_network(frozen, data_date=MONDAY, schedules=20)
    assert (levelled.start["long"], levelled.start["told"]) == (MONDAY, MONDAY + 8)
    assert levelled.changed == (("b", "vb"),)


def test_the_judge_finds_planted_faults():
    network = houses(2, confirmed=frozenset())
    both = {"paint 0": (MONDAY, MONDAY + 4), "paint 1": (MONDAY, MONDAY + 4)}
    assert {f.rule for f in find_crew_faults(network, both, data_date=MONDAY)} == {"capacity"}
    visit = tuple(dataclasses.replace(a, visit=f"v{i}") for i, a in enumerate(network.activities))
    kept = Network(visit, (), SITE, crews=network.crews, confirmed=frozenset({"v0"}))
    moved = {"paint 0": (MONDAY + 4, MONDAY + 8), "paint 1": (MONDAY, MONDAY + 4)}
    assert [(f.rule, f.activity_id) for f in find_crew_faults(kept, moved, data_date=MONDAY)] == [
        ("kept", "paint 0")
    ]


def test_nonsense_is_refused_by_name():
    with pytest.raises(Refused, match="activity 'paint 0' needs 1 of crew 'painters', which has 0"):
        level_network(houses(1, crews=(Crew("painters", 0, "site"),)), data_date=MONDAY)
    with pytest.raises(Refused, match="weight 'late' is neither"):
        level_network(houses(1, weights={"late": 1}), data_date=MONDAY)
    never = Network(
        (Activity("paint", 4, crew={"painters": 1}),),
        (),
        {"mornings": WorkingCalendar((1,) * 7)},
        crews=(Crew("painters", 1, "mornings"),),
    )
    with pytest.raises(Refused, match="activity 'paint' never finds its crew"):
        level_network(never, data_date=MONDAY)
    with pytest.raises(Refused, match="at least one schedule"):
        level_network(houses(1), schedules=0)


def test_parts_share_no_crew_house_or_relationship():
    network = Network(
        (
            Activity("a", 1, house="one", crew={"x": 1}),
            Activity("b", 1, house="two", crew={"x": 1}),
            Activity("c", 1, house="three", crew={"y": 1}),
            Activity("d", 1),
        ),
        (Relationship("c", "d"),),
        crews=(Crew("x", 1), Crew("y", 1)),
    )
    assert find_crew_parts(network) == [("a", "b"), ("c", "d")]


def test_the_same_seed_gives_the_same_dates_without_numba_too():
    code = """
import sys
if sys.argv[1] == "plain":
    sys.modules["numba"] = None
import logging
logging.disable()
from tests.engine.test_levelling import MONDAY, dates_of, houses
from coordination.engine.levelling import level_network
from tests.published.psplib_files import instances
print(dates_of(level_network(houses(4), data_date=MONDAY, schedules=30, seed=5)))
print(dates_of(level_network(instances("j30")[0].network, schedules=120, seed=5)))
"""
    said = [
        subprocess.run(
            [sys.executable, "-c", code, way], capture_output=True, text=True, cwd=ROOT, check=True
        ).stdout
        for way in ("compiled", "plain")
    ]
    assert said[0] == said[1] != ""


def test_the_command_levels_a_document():
    document = {
        "data_date": "2026-02-02",
        "calendars": {"site": {"week": [2, 2, 2, 2, 2, 0, 0]}},
        "activities": [
            {"id": f"paint {h}", "duration": 4, "house": f"house {h}", "crew": {"painters": 1}}
            for h in (1, 2)
        ],
        "crews": {"painters": {"capacity": 1}},
    }
    run = subprocess.run(
        [sys.executable, "-m", "coordination.engine", "level", "-", "--schedules", "10", "--seed", "1"],
        input=json.dumps(document),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert (run.returncode, run.stderr) == (0, "")
    answer = json.loads(run.stdout)
    assert sorted(a["es_levelled"] for a in answer["activities"].values()) == [0, 4]
    assert {a["start_levelled"] for a in answer["activities"].values()} == {"2026-02-02 am", "2026-02-04 am"}
    assert (answer["makespan"], answer["bound"]) == (8, 4)
    assert 1 <= answer["schedules"] <= 10
    assert sorted(h["late"] for h in answer["houses"].values()) == [0, 4]
