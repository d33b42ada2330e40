"""1,000 houses whose busiest trade is fully loaded: mean delay of a house, search against one pass of rules.

    python -m tests.benchmarks.levelling [--houses 1000] [--seconds 10]

The network is generated with a fixed seed (`networks.houses_with_crews`). Delay is in days of the axis over
the finish without crew limits, so that the lower bound printed is 0, each house for itself. The result is
judged by `verify` and `verify_crews`.
"""

import argparse
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
    print("lower bound 0 (each house alone); the judges find no fault")


if __name__ == "__main__":
    main()
