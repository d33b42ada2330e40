"""Crews of one trade to choose from, parts levelled side by side, kernels warmed beforehand."""

import dataclasses
import json
import os
import pickle
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import numpy as np
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
)
from coordination.engine.compiled import plain_twin
from coordination.engine.crew_generation import FAR, place_activities
from coordination.engine.crews import find_crew_parts
from coordination.engine.levelling import Bench, level_network
from coordination.engine.side_by_side import level_parts, split_network
from coordination.engine.verify_crews import find_crew_faults
from coordination.engine.writing import write_levelled
from tests.benchmarks.levelling import bound_delay
from tests.engine.networks import MONDAY
from tests.engine.test_levelling import SITE, crewed, judge

ROOT = Path(__file__).parents[2]


def painters(*calendars, **extra):
    """One crew of painters for each calendar."""
    return tuple(
        Crew(f"painters {name}", 1, calendar, trade="painters", **extra)
        for name, calendar in zip("ABC", calendars, strict=False)
    )


def painted(count, crews, **extra):
    activities = tuple(
        Activity(f"paint {h}", 4, "site", f"house {h}", crew={"painters": 1}, visit=f"v{h}")
        for h in range(count)
    )
    return Network(activities, (), {**SITE, "late": WorkingCalendar(off=range(MONDAY, MONDAY + 14))},
                   crews=crews, **extra)  # fmt: skip


@st.composite
def with_trades(draw):
    """A random network with crews (see `crewed`), some work asking for any crew of a trade."""
    network, data_date = draw(crewed())
    crews = (*network.crews, Crew("z", 1, "every"), *(Crew(f"t{k}", k, "every", trade="t") for k in (1, 2)))
    activities = tuple(
        dataclasses.replace(a, crew={"t": draw(st.integers(1, 2))}) if a.crew and draw(st.booleans()) else a
        for a in network.activities
    )
    return dataclasses.replace(network, crews=crews, activities=activities), data_date


@settings(max_examples=100, derandomize=True)
@given(with_trades())
def test_levelled_dates_and_chosen_crews_are_sound_on_random_networks(case):
    network, data_date = case
    levelled = level_network(network, data_date=data_date, schedules=8, seed=1)
    assert judge(network, levelled, data_date) == []
    asked = {a.id for a in network.activities if "t" in a.crew and not a.finished}
    assert levelled.crew_of.keys() == asked
    assert all("t" not in a.crew for a in levelled.assigned.activities if a.id in asked)


def test_two_crews_of_a_trade_work_at_once():
    network = painted(4, painters("site", "site"))
    levelled = level_network(network, data_date=MONDAY, schedules=10)
    assert judge(network, levelled) == []
    assert sorted(levelled.start.values()) == [MONDAY, MONDAY, MONDAY + 4, MONDAY + 4]
    assert {crew["painters"] for crew in levelled.crew_of.values()} == {"painters A", "painters B"}


def test_the_crew_whose_calendar_and_reserved_time_allow_it_is_sent():
    away = painted(1, painters("late", "site"))
    assert level_network(away, data_date=MONDAY).crew_of == {"paint 0": {"painters": "painters B"}}
    first, second = painters("site", "site")
    taken = dataclasses.replace(first, reserved=(ReservedTime(MONDAY, MONDAY + 6, 1),))
    levelled = level_network(painted(1, (taken, second)), data_date=MONDAY)
    assert (levelled.crew_of["paint 0"]["painters"], levelled.start["paint 0"]) == ("painters B", MONDAY)


def test_confirmed_visits_find_a_crew_first_and_a_visit_keeps_the_crew_that_began_it():
    network = painted(3, painters("site", "site"), confirmed=frozenset({"v1", "v2"}))
    levelled = level_network(network, data_date=MONDAY, schedules=10)
    assert judge(network, levelled) == []
    assert [levelled.start[f"paint {h}"] - MONDAY for h in range(3)] == [4, 0, 0]
    walls = Activity("walls", 4, "site", "a", crew={"painters": 1}, visit="paint")
    doors = Activity("doors", 4, "site", "a", crew={"painters": 1}, visit="paint")
    other = Activity("other", 6, "site", "b", crew={"painters": 1}, visit="paint")
    network = Network((walls, doors, other), (Relationship("walls", "doors"),), SITE,
                      crews=painters("site", "site"))  # fmt: skip
    levelled = level_network(network, data_date=MONDAY, schedules=10)
    assert judge(network, levelled) == []
    assert levelled.crew_of["walls"] == levelled.crew_of["doors"] != levelled.crew_of["other"]


def test_the_judge_asks_for_a_crew_of_the_trade_and_one_for_the_visit():
    network = painted(1, painters("site", "site"))
    dates = {"paint 0": (MONDAY, MONDAY + 4)}

    def rules(crew_of):
        return [f.rule for f in find_crew_faults(network, dates, data_date=MONDAY, crew_of=crew_of)]

    assert rules({"paint 0": {"painters": "painters A"}}) == []
    assert rules({}) == rules({"paint 0": {"painters": "nobody"}}) == ["crew"]
    two = (network.activities[0], dataclasses.replace(network.activities[0], id="paint more"))
    network = dataclasses.replace(network, activities=two)
    dates["paint more"] = (MONDAY + 4, MONDAY + 8)
    assert rules({"paint 0": {"painters": "painters A"}, "paint more": {"painters": "painters B"}}) == [
        "crew"
    ]


def test_nonsense_about_trades_is_refused_by_name():
    with pytest.raises(Refused, match="'painters' is the name of a crew and of a trade"):
        painted(1, (Crew("painters", 1), *painters("site")))
    with pytest.raises(Refused, match="unknown crew 'painters'"):
        painted(1, (Crew("tilers", 1, trade="tiling"),))
    two = (Activity("paint", 4, "site", crew={"painters": 2}),)
    with pytest.raises(Refused, match="needs 2 of crew 'painters', which has 1"):
        level_network(Network(two, (), SITE, crews=painters("site")), data_date=MONDAY)


def test_the_command_reads_trades_and_names_the_crews_chosen():
    document = {
        "data_date": "2026-02-02",
        "calendars": {"site": {"week": [2, 2, 2, 2, 2, 0, 0]}},
        "activities": [
            {"id": f"paint {h}", "duration": 4, "house": f"house {h}", "crew": {"painters": 1}}
            for h in (1, 2)
        ],
        "crews": {name: {"capacity": 1, "trade": "painters"} for name in ("A", "B")},
    }
    run = subprocess.run(
        [sys.executable, "-m", "coordination.engine", "level", "-", "--schedules", "4"],
        input=json.dumps(document), capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    assert (run.returncode, run.stderr) == (0, "")
    answer = json.loads(run.stdout)["activities"]
    assert {a["crews"]["painters"] for a in answer.values()} == {"A", "B"}
    assert {a["start_levelled"] for a in answer.values()} == {"2026-02-02 am"}


def two_regions():
    """Houses of two regions with crews of their own, and one house that nobody is asked for."""
    activities = tuple(
        Activity(
            f"{region} {h} {work}",
            4,
            "site",
            f"{region} {h}",
            crew={f"{trade} {region}": 1},
            visit=work,
            not_before=MONDAY,
        )
        for region in ("north", "south")
        for h in range(4)
        for work, trade in (("paint", "painters"), ("tile", "tilers"))
    )
    links = tuple(Relationship(a.id, b.id) for a, b in zip(activities[::2], activities[1::2], strict=True))
    crews = tuple(
        Crew(f"{name} {region}", 1, "site", trade=f"{trade} {region}")
        for region in ("north", "south")
        for trade, names in (("painters", ("Ash", "Birch")), ("tilers", ("Cedar",)))
        for name in names
    )
    alone = Activity("survey", 2, "site", "alone")
    weights = {"north 3": 4.0, "idle": 0.01}
    return Network((*activities, alone), links, SITE, crews=(*crews, Crew("spare", 1)), weights=weights)


def test_parts_levelled_in_threads_processes_or_one_after_the_other_are_the_same():
    network = two_regions()
    assert [len(part.activities) for part in split_network(network)] == [8, 8, 1]
    one = level_parts(network, data_date=MONDAY, schedules=25, seed=3)
    assert judge(network, one) == []
    with ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(2) as processes:
        for pool in (threads, processes):
            other = level_parts(network, data_date=MONDAY, schedules=25, seed=3, run=pool.map)
            assert dataclasses.replace(other, seconds=0.0) == dataclasses.replace(one, seconds=0.0)
    # A part by itself gives what it gives among the others, and what the whole judges of it is their sum.
    alone = level_network(split_network(network)[1], data_date=MONDAY, schedules=25, seed=3)
    assert alone.start.items() <= one.start.items()
    whole = level_network(network, data_date=MONDAY, schedules=200, seed=3)
    assert (one.bound, one.idle.keys(), one.houses.keys()) == (
        whole.bound,
        whole.idle.keys(),
        whole.houses.keys(),
    )
    assert write_levelled_is_whole(network, one)


def write_levelled_is_whole(network, levelled):
    from coordination.engine import compute_dates

    written = write_levelled(compute_dates(network, data_date=MONDAY), levelled)
    return written["activities"].keys() == levelled.start.keys()


def test_crews_of_one_trade_hold_parts_together():
    network = painted(2, painters("site", "site"))
    assert find_crew_parts(network) == [("paint 0", "paint 1")]
    named = tuple(
        dataclasses.replace(a, crew={f"painters {crew}": 1})
        for a, crew in zip(network.activities, "AB", strict=True)
    )
    assert len(find_crew_parts(dataclasses.replace(network, activities=named))) == 1
    apart = tuple(dataclasses.replace(crew, trade=None) for crew in network.crews)
    assert len(find_crew_parts(dataclasses.replace(network, activities=named, crews=apart))) == 2


@pytest.mark.parametrize("count", [1, 3, 8])
def test_no_schedule_is_better_than_the_lower_bound_of_the_benchmark(count):
    activities = [Activity(f"paint {h}", 4, "site", f"house {h}", crew={"p": 1}) for h in range(count)]
    network = Network(tuple(activities), (), SITE, crews=(Crew("p", 1, "site"),))
    levelled = level_network(network, data_date=MONDAY, schedules=30)
    mean_days = sum(house.late for house in levelled.houses.values()) / count / 2
    bound = bound_delay(Bench(network, MONDAY))
    assert bound <= mean_days
    assert (bound > 0) == (count > 1)
    # By hand for three: 8 half-days of work are overdue after the first 4, then 7, and so on to 1.
    assert count != 3 or bound == sum(range(9)) / 4 / 3 / 2


def test_networks_survive_pickling():
    network = two_regions()
    again = pickle.loads(pickle.dumps(network))  # noqa: S301 - pickled a moment ago
    assert again.activities == network.activities
    assert again.calendars["every"] is network.calendars["every"]
    assert (again.position, again.weights, again.crews) == (network.position, network.weights, network.crews)


@settings(max_examples=20, derandomize=True)
@given(with_trades())
def test_the_compiled_kernel_places_as_its_plain_twin_does(case):
    bench = Bench(*case)
    c, d = bench.compiled, bench.demand
    order = np.arange(len(c.order), dtype=np.int32)
    answers = []
    for place in (place_activities, plain_twin(place_activities)):
        made = [np.full(len(order), FAR, dtype=np.int32) for _ in range(3)]
        free, crews = bench.capacity.copy(), d.crews.copy()
        stuck = place(
            order, (bench.tables.first, bench.tables.before, bench.tables.kth),
            (c.calendar, c.work, c.floor, c.fixed, c.actual), c.into, (d.rows, crews, d.units),
            (d.visit, d.member_rows, d.members), d.roster, np.zeros(len(d.roster[2]), np.int32), d.kept, free,
            *made,
        )  # fmt: skip
        answers.append([stuck, *(a.tolist() for a in (*made, free, crews))])
    assert answers[0] == answers[1]


def run_python(code, *arguments, **environment):
    # Options for the run that asks, such as its order and its workers, are none of this one's.
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, cwd=ROOT, check=True,
        env={**os.environ, "PYTEST_ADDOPTS": "", **environment},
    )  # fmt: skip


def test_after_warming_no_search_has_to_compile():
    code = """
import sys
from coordination.engine.warming import warm
print(warm() > 0)
from coordination.engine import crew_generation, list_search, compiled_dates
search = list_search.search_lists
print(all(k.signatures for k in (crew_generation.place_activities, search, compiled_dates.run_passes)))
before = len(search.signatures)
from tests.published.psplib_files import instances
from coordination.engine.levelling import level_network
level_network(instances("j30")[0].network, schedules=300)
print(len(search.signatures) == before)
"""
    answer = run_python(code)
    assert answer.stdout.split() == ["True"] * 3


def test_kernels_run_where_no_folder_can_be_written():
    code = """
import numba
from numba.core import caching
caching.CacheImpl._locator_classes = []
from coordination.engine.compiled import compile_kernel
import logging
said = []
logging.getLogger("coordination.engine.compiled").addFilter(lambda r: said.append(r.getMessage()))
one, two = (compile_kernel(lambda x: x + 1) for _ in range(2))
print(one(1) + two(2), len(said), "NUMBA_CACHE_DIR" in said[0])
"""
    assert run_python(code).stdout.split() == ["5", "1", "True"]


def test_the_tests_of_the_engine_pass_on_small_sizes_without_numba():
    """Levelling, dates and commands over plain Python, and 'slower' said once."""
    code = """
import sys
sys.modules["numba"] = None
import logging
said = []
logging.getLogger("coordination.engine.compiled").addFilter(lambda r: said.append(r.getMessage()))
import pytest
from coordination.engine.warming import warm
assert warm() == 0.0
status = pytest.main(["-q", "-x", "-p", "no:randomly", "-p", "no:cacheprovider", *sys.argv[1:]])
assert not {"numba", "llvmlite"} & {k for k, m in sys.modules.items() if m is not None}
print("slower:", sum("slower" in line for line in said))
sys.exit(status)
"""
    small = [
        "tests/engine/test_compiled_dates.py",
        "tests/engine/test_levelling.py",
        "--deselect=tests/engine/test_levelling.py::test_the_same_seed_gives_the_same_dates_without_numba_too",
        "--deselect=tests/engine/test_levelling.py::test_levelled_dates_are_sound_on_random_networks",
    ]
    answer = run_python(code, *small, BEFORE_THE_BOARD_TEST_DATABASE="sqlite")
    assert "slower: 1" in answer.stdout
    assert "failed" not in answer.stdout
