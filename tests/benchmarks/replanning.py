"""One house re-planned after a slip, comparison included, against a plain pass over all houses.

    python -m tests.benchmarks.replanning [--houses 1000] [--slips 300]

The re-planning side takes a slip of four half-days at a random activity in, and says what moved, by how much,
the cause, and which crews must be told (`LivePlan.replan`). The other side is `plain_passes`: both passes and
the floats in plain Python with the same calendars, over lists built beforehand. The dates of both are
compared after the slips.
"""

import argparse
import random
import statistics
import time

from coordination.engine import compute_dates
from coordination.engine.live_changes import slip
from coordination.engine.live_plan import LivePlan
from tests.benchmarks.measuring import median_seconds, say_machine
from tests.benchmarks.networks import MONDAY, many_houses, with_crews
from tests.benchmarks.plain_passes import PlainPasses


def slip_often(live, names, times):
    """Seconds and numbers of moved activities of many slips at random."""
    source = random.Random(5)
    took, moved = [], []
    for _ in range(times):
        change = slip(live[source.choice(names)], 4)
        begun = time.perf_counter()
        found = live.replan(change)
        took.append(time.perf_counter() - begun)
        moved.append(len(found.moves))
    return took, moved


def compare_dates(live):
    """The live plan against both other ways."""
    network = live.network()
    plain = PlainPasses(network, MONDAY)
    rows = plain.run()
    for place, a in enumerate(network.activities):
        d = live.dates(a.id)
        dates = [t + plain.first for t in (rows[k][place] for k in range(4))]
        assert (d.es, d.ef, d.ls, d.lf) == tuple(dates), a.id
        assert (d.total_float, d.free_float) == (rows[4][place], rows[5][place]), a.id


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--houses", type=int, default=1000)
    parser.add_argument("--slips", type=int, default=300)
    given = parser.parse_args()
    say_machine()
    network = with_crews(many_houses(given.houses))
    live = LivePlan(network, MONDAY)
    names = [a.id for a in network.activities]
    slip_often(live, names, 20)
    plain = PlainPasses(network, MONDAY)
    took, moved = slip_often(live, names, given.slips)
    full = median_seconds(plain.run, 7)
    again, more = slip_often(live, names, given.slips)
    engine = median_seconds(lambda: compute_dates(network, data_date=MONDAY), 1)
    compare_dates(live)
    one = statistics.median(took + again)
    print(f"{given.houses} houses, {len(names)} activities, {len(network.relationships)} relationships")
    print(f"plain passes over all: {full * 1e3:.0f} ms; `compute_dates`, reasons included: {engine:.1f} s")
    tenths = statistics.quantiles(took + again, n=10)
    print(
        f"one slip: median {one * 1e6:.0f} us, 9 of 10 within {tenths[-1] * 1e6:.0f} us; "
        f"{statistics.mean(moved + more):.0f} activities moved on average, {max(moved + more)} at most"
    )
    print(f"re-planning is 1/{full / one:.0f} of the plain passes, 1/{engine / one:.0f} of `compute_dates`")


if __name__ == "__main__":
    main()
