"""Levelled work tied crew by crew: within capacity whatever the durations, as the judge of crews finds.

The judge (`verify_crews`) shares no arithmetic with the ties.
"""

import dataclasses

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
    WorkingCalendar,
    compute_dates,
    forecast_network,
    promise_starts,
    tie_crews,
)
from coordination.engine.levelling import level_network
from coordination.engine.network import Late, ReservedTime
from coordination.engine.verify_crews import find_crew_faults
from tests.benchmarks.networks import houses_with_crews
from tests.engine.networks import MONDAY

HOUSES = houses_with_crews(8, size=14)
LEVELLED = level_network(HOUSES, data_date=MONDAY, schedules=3)


def add_visits(network):
    """Each three activities of a house in a row are one visit of the crew of the first of them."""
    activities = []
    for a in network.activities:
        house, i = a.id.split(".")
        first = network[f"{house}.{int(i) // 3 * 3}"]
        activities.append(dataclasses.replace(a, crew=first.crew, visit=f"visit {int(i) // 3}"))
    return dataclasses.replace(network, activities=tuple(activities))


def capacity_faults(network, data_date=MONDAY):
    """What the judge says of the dates that relationships alone give."""
    plan = compute_dates(network, data_date=data_date)
    dates = {a.id: (a.es, a.ef) for a in plan.activities.values()}
    return [f for f in find_crew_faults(network, dates, data_date=data_date) if f.rule == "capacity"]


def test_the_levelled_dates_keep_every_tie():
    tied = tie_crews(HOUSES, LEVELLED.start, LEVELLED.finish)
    added = tied.relationships[len(HOUSES.relationships) :]
    assert added
    for x in added:
        assert LEVELLED.finish[x.from_id] <= LEVELLED.start[x.to_id]
        shared = set(HOUSES[x.from_id].crew) & set(HOUSES[x.to_id].crew)
        assert len(shared) == 1


@settings(max_examples=25, derandomize=True)
@given(st.integers(0, 10_000), st.booleans())
def test_with_the_ties_any_durations_stay_within_the_capacity(seed, with_visits):
    network = add_visits(HOUSES) if with_visits else HOUSES
    levelled = level_network(network, data_date=MONDAY, schedules=2) if with_visits else LEVELLED
    numbers = np.random.default_rng(seed)
    longer = {a.id: int(numbers.integers(1, 15)) for a in network.activities}
    tied = tie_crews(network, levelled.start, levelled.finish)

    def lasting(net):
        return dataclasses.replace(
            net, activities=tuple(dataclasses.replace(a, duration=longer[a.id]) for a in net.activities)
        )

    assert capacity_faults(lasting(network))  # the busiest trade is fully loaded: without ties it is over
    assert capacity_faults(lasting(tied)) == []


def row_of_houses(count=10, chance=0.5):
    """Houses with one work each by one crew, all ready at once."""
    return Network(
        tuple(Activity(f"house {i}", 4, house=f"{i}", crew={"liners": 1}) for i in range(count)),
        crews=(Crew("liners", 1, late=Late(chance, (2, 6))),),
    )


def test_the_tenth_house_of_a_crew_inherits_the_lateness_of_nine():
    network = row_of_houses()
    start = {f"house {i}": 4 * i for i in range(10)}
    tied = tie_crews(network, start, {name: t + 4 for name, t in start.items()})
    assert len(tied.relationships) == 9
    draws = 20_000
    found = forecast_network(tied, samples=draws, seed=1)
    # Each visit is late in half of the cases by 2 to 6, even: mean 2, and 40 half-days of work.
    deviation = (10 * (0.5 * (4**2 + 2) - 2**2)) ** 0.5
    assert found.houses["9"].mean == pytest.approx(40 + 10 * 2, abs=4 * deviation * 1.8 / draws**0.5)
    assert forecast_network(network, samples=500).houses["9"].p90 <= 4 + 6
    first, *_, last = promise_starts(tied, activities=[f"house {i}" for i in range(10)], samples=2000)
    assert (first.start, first.planned) == (0, 0)
    assert last.planned == 36
    assert last.start > last.likely > 45


def test_two_units_are_handed_on_each_by_itself():
    network = dataclasses.replace(row_of_houses(4), crews=(Crew("liners", 2),))
    start = {"house 0": 0, "house 1": 0, "house 2": 4, "house 3": 4}
    tied = tie_crews(network, start, {name: t + 4 for name, t in start.items()})
    pairs = {(x.from_id, x.to_id) for x in tied.relationships}
    assert len(pairs) == 2
    assert {a for a, _ in pairs} == {"house 0", "house 1"}
    assert {b for _, b in pairs} == {"house 2", "house 3"}


def test_what_is_tied_already_and_what_is_finished_gets_no_tie():
    network = row_of_houses(3)
    network = dataclasses.replace(
        network,
        activities=(
            dataclasses.replace(network.activities[0], actual_start=0, actual_finish=4),
            *network.activities[1:],
        ),
        relationships=(Relationship("house 1", "house 2"),),
    )
    start = {f"house {i}": 4 * i for i in range(3)}
    assert tie_crews(network, start, {name: t + 4 for name, t in start.items()}) == network


def test_dates_beyond_the_capacity_leave_the_surplus_untied():
    network = row_of_houses(3)
    start = {"house 0": 0, "house 1": 2, "house 2": 6}
    tied = tie_crews(network, start, {"house 0": 4, "house 1": 6, "house 2": 10})
    assert [(x.from_id, x.to_id) for x in tied.relationships] == [("house 0", "house 2")]


def test_a_network_that_was_not_levelled_is_refused_by_name():
    with pytest.raises(Refused, match="'house 1' has no levelled dates"):
        tie_crews(row_of_houses(2), {"house 0": 0}, {"house 0": 4})


def test_work_for_a_trade_is_tied_to_the_crew_chosen_and_refused_without_one():
    network = Network(
        tuple(Activity(f"house {i}", 4, house=f"{i}", crew={"lining": 1}) for i in range(4)),
        crews=(Crew("here", 1, trade="lining"), Crew("there", 1, trade="lining")),
    )
    levelled = level_network(network, schedules=3)
    with pytest.raises(Refused, match="asks for the trade 'lining' and has no crew of it"):
        tie_crews(network, levelled.start, levelled.finish)
    tied = tie_crews(levelled.assigned, levelled.start, levelled.finish)
    assert len(tied.relationships) == 2
    assert capacity_faults(tied, 0) == []


TUESDAYS = WorkingCalendar((0, 2, 0, 0, 0, 0, 0))
FIVE_DAYS = WorkingCalendar((2, 2, 2, 2, 2, 0, 0))


def houses_of_a_busy_crew(reserved=(), crew_calendar="site", capacity=1):
    """Four houses of one crew, with calendars, reserved time and a lag that counts in the site's days."""
    activities, links = [], []
    for i in range(4):
        activities.append(Activity(f"{i}.frame", 2, house=f"{i}", calendar="site"))
        activities.append(Activity(f"{i}.line", 4, house=f"{i}", calendar="site", crew={"liners": 1}))
        links.append(Relationship(f"{i}.frame", f"{i}.line", "FS", lag=2))
    return Network(
        tuple(activities),
        tuple(links),
        calendars={"site": FIVE_DAYS, "tuesdays": TUESDAYS},
        crews=(Crew("liners", capacity, calendar=crew_calendar, reserved=tuple(reserved)),),
    )


@pytest.mark.parametrize("capacity", [1, 2])
@pytest.mark.parametrize(
    "reserved",
    [
        [ReservedTime(MONDAY, MONDAY + 20, 1)],
        [ReservedTime(MONDAY + 6, MONDAY + 9, 1), ReservedTime(MONDAY + 30, MONDAY + 44, 2)],
    ],
)
@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000))
def test_reserved_time_is_kept_whatever_the_durations(capacity, reserved, seed):
    network = houses_of_a_busy_crew(reserved, capacity=capacity)
    levelled = level_network(network, data_date=MONDAY, schedules=3)
    tied = tie_crews(network, levelled.start, levelled.finish)
    numbers = np.random.default_rng(seed)
    longer = tuple(dataclasses.replace(a, duration=int(numbers.integers(1, 15))) for a in tied.activities)
    assert capacity_faults(dataclasses.replace(tied, activities=longer)) == []
    as_levelled = compute_dates(tied, data_date=MONDAY)
    assert all(as_levelled[a.id].ef <= levelled.finish[a.id] for a in network.activities)


def test_a_crew_that_comes_on_tuesdays_is_forecast_on_tuesdays():
    """Two half-days of each: the first Tuesday, the second, and so on; the lag counts in the site's days."""
    network = houses_of_a_busy_crew(crew_calendar="tuesdays")
    network = dataclasses.replace(
        network,
        activities=tuple(dataclasses.replace(a, duration=2) if a.crew else a for a in network.activities),
    )
    levelled = level_network(network, data_date=MONDAY, schedules=3)
    tied = tie_crews(network, levelled.start, levelled.finish)
    assert capacity_faults(tied) == []
    found = forecast_network(tied, data_date=MONDAY, samples=20)
    ends = sorted(found.activities[f"{i}.line"].p50 for i in range(4))
    # Frame Monday, lag Tuesday: Tuesday of the week after is the first that the crew can come.
    assert ends == [MONDAY + 14 * week + 4 for week in (1, 2, 3, 4)]
