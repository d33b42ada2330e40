"""Order, cycles and 'before', judged by networkx and by delaying an activity and looking what moves."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coordination.sequence.library.entry import Activity, Link
from coordination.sequence.library.network import (
    early_dates,
    find_cycle,
    holds_before_each,
    order_activities,
    reach_after_finish,
    reach_before,
)

IDS = [f"a{number}" for number in range(7)]
ANY_LINKS = st.lists(
    st.tuples(st.sampled_from(IDS), st.sampled_from(IDS)).filter(lambda p: p[0] != p[1]), max_size=14
)
NO_LAG = st.just(0)
TYPES = st.sampled_from(["FS", "SS", "FF", "SF"])


@st.composite
def forward_links(draw, lags=NO_LAG) -> list[Link]:
    """Relationships of every type that only go forward, so that there is no cycle."""
    pairs = draw(
        st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)).filter(lambda p: p[0] < p[1]), max_size=14)
    )
    return [Link(IDS[a], IDS[b], draw(TYPES), draw(lags)) for a, b in set(pairs)]


def work(durations: list[int]) -> list[Activity]:
    return [Activity(key, key, days, "s", trade="t") for key, days in zip(IDS, durations, strict=True)]


@given(ANY_LINKS)
def test_cycle_found_is_a_shortest_one_of_networkx(pairs):
    graph = nx.DiGraph(pairs)
    found = find_cycle(IDS, [Link(a, b) for a, b in pairs])
    lengths = [len(cycle) for cycle in nx.simple_cycles(graph)]
    assert len(found) == (min(lengths) + 1 if lengths else 0)
    assert all(graph.has_edge(a, b) for a, b in pairwise(found))
    assert not found or found[0] == found[-1]


@given(forward_links())
def test_order_is_a_topological_one(links):
    order = order_activities(reversed(IDS), links)
    assert sorted(order) == IDS
    assert all(order.index(link.predecessor) < order.index(link.successor) for link in links)


def test_order_of_a_circle_is_refused():
    with pytest.raises(ValueError, match="circle"):
        order_activities("ab", [Link("a", "b"), Link("b", "a")])


@given(forward_links(st.integers(-2, 2)))
def test_before_is_reachability_over_fs_and_ss_without_negative_lags(links):
    graph = nx.DiGraph(
        [(one.predecessor, one.successor) for one in links if one.type in ("FS", "SS") and one.lag >= 0]
    )
    graph.add_nodes_from(IDS)
    for key in IDS:
        assert reach_before(key, links) == nx.descendants(graph, key)


@given(forward_links(st.integers(0, 6)), st.integers(0, 6))
def test_what_waits_for_a_finish_is_what_moves_when_the_work_takes_very_long(links, which):
    # Oracle: let the activity take 10,000 half-days; whatever cannot begin (or end) before its finish in
    # the dates is what the reachability must name, and nothing else. Named is what waits whatever the others
    # take, so they take ever longer once and ever shorter once, and what waits both times counts.
    starts, finishes = reach_after_finish(IDS[which], links)
    others = {key for key in IDS if key != IDS[which]}
    late_starts, late_finishes = set(others), set(others)
    for durations in ([1000 + 100 * n for n in range(7)], [1600 - 100 * n for n in range(7)]):
        durations[which] = 10_000
        dates = early_dates(work(durations), links)
        finish = dates[IDS[which]][1]
        late_starts &= {key for key in others if dates[key][0] >= finish}
        late_finishes &= {key for key in others if dates[key][1] >= finish}
    assert starts == late_starts
    assert finishes == late_finishes


@given(forward_links(st.integers(-3, 6)), st.lists(st.integers(0, 5), min_size=7, max_size=7))
def test_early_dates_are_longest_paths_of_networkx(links, durations):
    # Each relationship as an arc between starts, and an arc from the house's start to every activity.
    days = dict(zip(IDS, durations, strict=True))
    graph = nx.MultiDiGraph()
    for key in IDS:
        graph.add_edge("start", key, weight=0)
    for link in links:
        leaves = days[link.predecessor] if link.type[0] == "F" else 0
        enters = days[link.successor] if link.type[1] == "F" else 0
        graph.add_edge(link.predecessor, link.successor, weight=leaves + link.lag - enters)
    dates = early_dates(work(durations), links)
    negated = nx.MultiDiGraph()
    negated.add_weighted_edges_from((a, b, -data["weight"]) for a, b, data in graph.edges(data=True))
    longest = nx.single_source_bellman_ford_path_length(negated, "start")
    assert {key: dates[key][0] for key in IDS} == {key: -longest[key] for key in IDS}


def test_holds_before_an_activity_are_found_at_any_distance():
    points = [Activity("H1", "h", 1, "s", point="hold", walker="supervisor")]
    points.append(Activity("P1", "p", 0, "s", point="photo", walker="t"))
    points.append(Activity("H2", "h", 1, "s", point="hold from photographs", walker="supervisor"))
    links = [
        Link("a0", "H1"),
        Link("H1", "a1", "SS", 3),
        Link("a1", "H2"),
        Link("H2", "a2"),
        Link("H2", "a3", "FF"),
    ]
    found = holds_before_each([*work([1] * 7), *points], [*links, Link("a1", "P1")])
    assert found["a0"] == set()
    assert found["a1"] == found["H2"] == found["P1"] == {"H1"}
    assert found["a2"] == {"H1", "H2"}
    assert found["a3"] == set(), "an FF relationship lets a3 begin before the hold"
