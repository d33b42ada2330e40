"""Dates and floats of 1,000 and 5,000 houses of 60 activities: the kernel against networkx.

    python -m tests.benchmarks.dates [--houses 1000]

Both compute ES, EF, LS, LF, total and free float over mixed sequences and calendars, from structures that are
already built: the kernel from its arrays, the other side from a `networkx.DiGraph` whose nodes and edges hold
the calendars' own methods (`WorkingCalendar.before`, `kth`). The answers are compared before timing.
"""

import argparse

import networkx as nx

from coordination.engine.compiled_dates import compile_network, compute_arrays, lay_out_calendars
from tests.benchmarks.measuring import median_seconds, say_machine
from tests.benchmarks.networks import MONDAY, many_houses


def draw_graph(network):
    """The network as a graph of networkx."""
    graph = nx.DiGraph()
    for a in network.activities:
        floor = MONDAY if a.not_before is None else max(MONDAY, a.not_before)
        graph.add_node(a.id, n=a.duration, calendar=network.calendars[a.calendar], floor=floor, house=a.house)
    for x in network.relationships:
        graph.add_edge(x.from_id, x.to_id, type=x.type, lag=x.lag, calendar=network.lag_calendar_of(x))
    return graph


def date_graph(graph):
    """The two passes and the floats as one writes them with networkx."""
    es: dict[str, int] = {}
    ef, ls, lf, total, free, ends = es.copy(), es.copy(), es.copy(), es.copy(), es.copy(), es.copy()
    order = list(nx.topological_sort(graph))
    nodes = graph.nodes
    for i in order:
        node = nodes[i]
        calendar, n, t = node["calendar"], node["n"], node["floor"]
        for j, _, link in graph.in_edges(i, data=True):
            u = ef[j] if link["type"][0] == "F" else es[j]
            lag = link["lag"]
            if lag:
                u = u + lag if link["calendar"] is None else link["calendar"].add(u, lag)
            if link["type"][1] == "F":
                u = calendar.start_to_finish_from(u, n)
            t = max(t, u)
        es[i] = calendar.next_start(t, n)
        ef[i] = calendar.finish_of(es[i], n)
        ends[node["house"]] = max(ends.get(node["house"], 0), ef[i])
    for i in reversed(order):
        node = nodes[i]
        calendar, n = node["calendar"], node["n"]
        late = loose = ends[node["house"]]
        late_start = loose_start = 1 << 40
        for _, j, link in graph.out_edges(i, data=True):
            u, v = (ef[j], lf[j]) if link["type"][1] == "F" else (es[j], ls[j])
            lag = link["lag"]
            if lag and link["calendar"] is None:
                u, v = u - lag, v - lag
            elif lag:
                u, v = link["calendar"].take(u, lag), link["calendar"].take(v, lag)
            if link["type"][0] == "F":
                loose, late = min(loose, u), min(late, v)
            else:
                loose_start, late_start = min(loose_start, u), min(late_start, v)
        ls[i] = calendar.last_start(min(late_start, calendar.start_to_finish_by(late, n)), n)
        lf[i] = calendar.finish_of(ls[i], n)
        kept = calendar.last_start(min(loose_start, calendar.start_to_finish_by(loose, n)), n)
        total[i], free[i] = calendar.count(es[i], ls[i]), calendar.count(es[i], kept)
    return es, ef, ls, lf, total, free


def measure(houses, times):
    network = many_houses(houses)
    graph, compiled = draw_graph(network), compile_network(network, MONDAY)
    tables = lay_out_calendars(compiled.calendars, MONDAY - 500, MONDAY + 4000)
    found, expected = compute_arrays(compiled, tables), date_graph(graph)
    rows = (found.es, found.ef, found.ls, found.lf, found.total_float, found.free_float)
    for row, by_id in zip(rows, expected, strict=True):
        assert row.tolist() == [by_id[a.id] for a in network.activities]
    kernel = median_seconds(lambda: compute_arrays(compiled, tables), 15 * times)
    other = median_seconds(lambda: date_graph(graph), times)
    print(
        f"{houses:5} houses, {len(network.activities)} activities, {len(network.relationships)} links: "
        f"kernel {kernel * 1e3:.2f} ms, networkx {other * 1e3:.0f} ms, {other / kernel:.0f} times as fast; "
        f"{kernel / houses * 1e6:.2f} us a house"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--houses", type=int, nargs="*", default=[1000, 5000])
    say_machine()
    for houses in parser.parse_args().houses:
        measure(houses, 5 if houses <= 1000 else 3)


if __name__ == "__main__":
    main()
