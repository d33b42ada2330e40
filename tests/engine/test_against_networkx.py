"""Plain finish-to-start networks against longest paths of networkx, cycles against its cycle finder."""

from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination.engine import (
    Activity,
    CircularNetwork,
    Network,
    Relationship,
    compute_dates,
    order_activities,
)

quick = settings(max_examples=200, derandomize=True)


@st.composite
def graphs(draw, acyclic):
    count = draw(st.integers(2, 12))
    pairs = [(i, j) for i in range(count) for j in range(count) if (i < j if acyclic else i != j)]
    edges = draw(st.lists(st.sampled_from(pairs), max_size=30, unique=True))
    names = draw(st.permutations([f"t{i}" for i in range(count)]))
    return names, [(names[i], names[j]) for i, j in edges]


@quick
@given(graphs(acyclic=True), st.data())
def test_the_end_is_the_longest_path_and_float_what_the_longest_path_through_leaves(graph, data):
    names, edges = graph
    lengths = {name: data.draw(st.integers(1, 9)) for name in names}
    weighted = nx.DiGraph()
    weighted.add_nodes_from(["start", "end"])
    for name in names:
        weighted.add_edge("start", name, weight=0)
        weighted.add_edge(name, "end", weight=lengths[name])
    for a, b in edges:
        weighted.add_edge(a, b, weight=lengths[a])
    plan = compute_dates(
        Network(tuple(Activity(n, lengths[n]) for n in names), tuple(Relationship(a, b) for a, b in edges))
    )
    end = nx.dag_longest_path_length(weighted)
    assert plan.finish == end
    for name in names:
        before = nx.dag_longest_path_length(weighted.subgraph({*nx.ancestors(weighted, name), name}))
        after = nx.dag_longest_path_length(weighted.subgraph({*nx.descendants(weighted, name), name}))
        assert (plan[name].es, plan[name].ls) == (before, end - after)
        assert plan[name].total_float == end - before - after
    chain = plan.driving_chain()
    assert sum(lengths[name] for name in chain) == end
    assert all(weighted.has_edge(a, b) for a, b in pairwise(chain))


@quick
@given(graphs(acyclic=False))
def test_circles_are_found_exactly_when_networkx_finds_one_and_a_shortest_is_named(graph):
    names, edges = graph
    network = Network(tuple(Activity(n, 1) for n in names), tuple(Relationship(a, b) for a, b in edges))
    drawn = nx.DiGraph(edges)
    drawn.add_nodes_from(names)
    if nx.is_directed_acyclic_graph(drawn):
        order = [names[i] for i in order_activities(network)]
        assert sorted(order) == sorted(names)
        assert all(order.index(a) < order.index(b) for a, b in edges)
    else:
        with pytest.raises(CircularNetwork) as caught:
            order_activities(network)
        cycle = caught.value.cycle
        assert all(drawn.has_edge(a, b) for a, b in zip(cycle, (*cycle[1:], cycle[0]), strict=True))
        ways = dict(nx.all_pairs_shortest_path_length(drawn))
        assert len(cycle) == min(ways[b][a] + 1 for a, b in edges if a in ways[b])
