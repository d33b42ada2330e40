"""What the benchmarks share: medians of several runs, and the machine they ran on."""

import os
import platform
import statistics
import time


def median_seconds(work, times):
    """The median of several runs of `work()`, in seconds."""
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        took.append(time.perf_counter() - begun)
    return statistics.median(took)


def say_machine():
    """One line: timings depend on it, the ratios below hardly."""
    load = os.getloadavg()[0]
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load {load:.1f} when begun")
