"""1,000 houses whose busiest trade is fully loaded: mean delay of a house, search against one pass of rules.

    python -m tests.benchmarks.levelling [--houses 1000] [--seconds 10]

The network is generated with a fixed seed (`networks.houses_with_crews`). Delay is in days of the axis over
the finish without crew limits. The result is judged by `verify` and `verify_crews`.

Beside it stands a lower bound that no schedule can beat (`bound_delay`): each trade alone, its work cut as
small as one likes and done in the order of latest finishes by all its people at once. What is overdue even so
delays houses. Trades that wait for each other cost more; how much more it does not know. At full load, not
beyond it, it may be 0: no trade by itself makes anybody wait, all delay comes from how they play together.
"""

import argparse
import heapq
import statistics

import numpy as np

from coordination.engine import levelling
from coordination.engine.crew_generation import FAR
from coordination.engine.levelling import level_network
from coordination.engine.verify import find_faults
from coordination.engine.verify_crews import find_crew_faults
from tests.benchmarks.measuring import say_machine
from tests.benchmarks.networks import MONDAY, houses_with_crews


def delay_of_rule(bench, key):
    bench.best = float("inf")
    bench.make(np.asarray(key, dtype=np.float64))
    late = np.maximum(0, bench.ends(bench.finish) - bench.wanted)
    return float(late[bench.free_finish > -FAR].mean()) / 2


def bound_delay(bench):
    """Days of delay of the mean house that are certain: the most that one trade alone makes necessary.

    A house is at least as late as each piece of its work is beyond its latest finish, so also as the mean of
    the trade's pieces there, weighed by their length; summed over the houses that is the overdue work of the
    trade, summed over time, by the trade's work in a house. Earliest latest finish first leaves the least
    overdue at every moment. Counted in working half-days, of which the axis has more.
    """
    c, d = bench.compiled, bench.demand
    (calendar,) = set(c.calendar.tolist())
    before = bench.tables.before[calendar]
    opens, due = (before[(row - bench.tables.first)] for row in (bench.es, bench.lf))
    houses = len(set(bench.house.tolist()))
    asked = np.repeat(np.arange(len(c.order)), np.diff(d.rows))
    most = 0.0
    for r in range(len(bench.network.crews)):
        mine = asked[(d.crews == r) & (d.units == 1)]
        mine = mine[np.argsort(opens[mine], kind="stable")]
        overdue, k = 0.0, 0
        waiting: list[list[int]] = []
        now = int(opens[mine[0]])
        while k < len(mine) or waiting:
            while k < len(mine) and opens[mine[k]] <= now:
                heapq.heappush(waiting, [int(due[mine[k]]), k, int(c.work[mine[k]])])
                k += 1
            left = bench.network.crews[r].capacity
            while waiting and left:
                done = min(left, waiting[0][2])
                left -= done
                waiting[0][2] -= done
                if not waiting[0][2]:
                    heapq.heappop(waiting)
            now += 1
            overdue += sum(rest for when, _, rest in waiting if when <= now)
        most = max(most, overdue / (c.work[mine].sum() / houses) / houses)
    return most / 2


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--houses", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=10.0)
    given = parser.parse_args()
    say_machine()
    level_network(houses_with_crews(2), data_date=MONDAY, schedules=5)
    network = houses_with_crews(given.houses)
    bench = levelling.Bench(network, MONDAY)
    rules = {"LFT": bench.lf, "slack (latest start)": bench.ls, "EST": bench.es}
    delays = {name: delay_of_rule(bench, key) for name, key in rules.items()}
    levelled = level_network(network, data_date=MONDAY, seconds=given.seconds, seed=1)
    mean = statistics.mean(house.late for house in levelled.houses.values()) / 2
    dates = {name: (levelled.start[name], levelled.finish[name]) for name in levelled.start}
    faults = find_faults(network, dates, data_date=MONDAY) + find_crew_faults(
        network, dates, data_date=MONDAY
    )
    assert not faults, faults[:3]
    print(f"{given.houses} houses, {len(network.activities)} activities, {len(network.crews)} trades")
    for name, delay in delays.items():
        print(f"one pass, {name}: mean delay {delay:.2f} days")
    print(f"search, {levelled.seconds:.1f} s, {levelled.schedules} schedules: mean delay {mean:.2f} days")
    for name, against in (("LFT", delays["LFT"]), ("the best rule", min(delays.values()))):
        print(f"{100 * (mean / against - 1):+.0f} % against {name}")
    print(f"lower bound {bound_delay(bench):.3f} days (each trade alone); the judges find no fault")


if __name__ == "__main__":
    main()
