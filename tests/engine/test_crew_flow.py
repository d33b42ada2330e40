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
    compute_dates,
    forecast_network,
    promise_starts,
    tie_crews,
)
from coordination.engine.levelling import level_network
from coordination.engine.network import Late
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


@settings(max_examples=25, deadline=None, derandomize=True)
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
