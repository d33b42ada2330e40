"""1,000 houses of 60 activities drawn 1,000 times on one core: seconds, memory, and a plain draw beside it.

    python -m tests.benchmarks.forecast [--houses 1000] [--draws 1000]

Every activity has a range; crews come late, regions share weather, crews share luck, a walk of each house may
fail. The draws run in a process of their own, so that its peak memory (VmHWM of the kernel) is its own. The
reference, in the same run, draws a few houses one draw at a time in plain Python (`random.betavariate`, both
passes) and is scaled to the same number of draws.
"""

import argparse
import json
import os
import random
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from coordination.engine import SharedFactors
from coordination.engine.sampling_layout import lay_out
from tests.benchmarks.measuring import say_machine
from tests.benchmarks.networks import MONDAY, many_houses, with_crews
from tests.benchmarks.plain_passes import PlainPasses

SHARES = (0.1, 0.5, 0.8, 0.9)


def peak_megabytes():
    """The greatest resident memory that this process has had."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024


def draw_alone(houses, draws, times):
    """Measure in this process; prints JSON."""
    from coordination.engine.sampling import sample_network

    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {sorted(os.sched_getaffinity(0))[0]})  # one core
    network = with_crews(many_houses(houses))
    small = with_crews(many_houses(2))
    sample_network(lay_out_network(small), 10, SHARES)  # read the compiled kernels from disk
    begun = time.perf_counter()
    laid = lay_out_network(network)
    layout = time.perf_counter() - begun
    walls, cores = [], []
    for _ in range(times):
        wall, core = time.perf_counter(), time.process_time()
        found = sample_network(laid, draws, SHARES)
        walls.append(time.perf_counter() - wall)
        cores.append(time.process_time() - core)
    print(
        json.dumps(
            {
                "layout": layout,
                "wall": sorted(walls)[times // 2],
                "core": sorted(cores)[times // 2],
                "megabytes": peak_megabytes(),
                "mean": float(np.mean(found.ends)) - MONDAY,
            }
        )
    )


def lay_out_network(network):
    return lay_out(network, data_date=MONDAY, seed=1, shape="pert", factors=SharedFactors())


def draw_plainly(houses, draws):
    """Seconds of one draw of one house: lengths by `random.betavariate`, both passes."""
    network = with_crews(many_houses(houses))
    plain = PlainPasses(network, MONDAY)
    source = random.Random(3)
    ranges = [a.range for a in network.activities]
    begun = time.perf_counter()
    for _ in range(draws):
        for i, (low, likely, high) in enumerate(ranges):
            if high > low:
                rise = 4 * (likely - low) / (high - low)
                drawn = low + (high - low) * source.betavariate(1 + rise, 5 - rise)
                plain.work[i] = int(drawn + source.random())
        plain.run()
    return (time.perf_counter() - begun) / (houses * draws)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--houses", type=int, default=1000)
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--alone", action="store_true", help="measure in this process and print JSON")
    given = parser.parse_args()
    if given.alone:
        draw_alone(given.houses, given.draws, given.times)
        return
    say_machine()
    run = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.forecast", "--alone", *sys.argv[1:]],
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(run.stdout)
    plain = draw_plainly(20, 30) * given.houses * given.draws
    print(f"{given.houses} houses, {given.houses * 60} activities, {given.draws} draws, one core")
    print(
        f"draws, percentiles and criticality: {found['wall']:.2f} s ({found['core']:.2f} s of the core); "
        f"laying the network out before: {found['layout']:.2f} s; peak {found['megabytes']:.0f} MB"
    )
    print(f"plain Python, one draw at a time: {plain:.0f} s; {plain / found['wall']:.0f} times as fast")


if __name__ == "__main__":
    main()
