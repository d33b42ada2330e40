"""Forecasts of three worked PERT networks.

C. Hendrickson, Project Management for Construction, table 11-1 on the network of table 10-1 (inputs as
published; the Monte Carlo figures were computed apart with 1,000,000 draws, since the book's own 500 runs do
not follow from its stated assumptions). D. R. Anderson, D. J. Sweeney, T. A. Williams, An Introduction to
Management Science, the vacuum cleaner project (times and the 17 weeks as published, predecessors from
memory). A university lecture's arrow network of nine activities (times and event times as published).

The published expected times are those of one path. What paths do where they meet is compared with a second
opinion: draws by NumPy's own beta generator, longest path by recursion.

Tolerances are four standard errors of the number of draws, of both sides together.
"""

import math

import numpy as np
import pytest

from coordination.engine import Activity, Network, Relationship, forecast_network
from coordination.engine.forecast import PERCENTILES

DRAWS = 60_000

HENDRICKSON = (
    {
        "A": (3, 4, 5), "B": (2, 3, 5), "C": (6, 8, 10), "D": (5, 7, 8), "E": (6, 9, 14),
        "F": (10, 12, 14), "G": (2, 2, 4), "H": (4, 5, 8), "I": (4, 6, 8),
    },
    {"C": "A", "D": "A", "E": "BC", "F": "BC", "G": "DE", "H": "DE", "I": "FG"},
)  # fmt: skip
# In half-weeks, so that all are whole.
VACUUM_CLEANER = (
    {
        "A": (8, 10, 24), "B": (2, 3, 10), "C": (4, 6, 8), "D": (6, 8, 22), "E": (4, 6, 8),
        "F": (3, 4, 5), "G": (3, 6, 9), "H": (5, 7, 15), "I": (3, 4, 5), "J": (2, 4, 6),
    },
    {"C": "A", "D": "A", "E": "A", "F": "C", "G": "D", "H": "BE", "I": "H", "J": "FGI"},
)  # fmt: skip
# Arrows as activities: K is (1,2), L (1,3), M (2,4), N (2,6), P (3,4), Q (3,5), R (4,5), S (4,6), T (5,6).
# The dummy (2,3) makes what leaves 3 wait for K.
LECTURE = (
    {
        "K": (2, 5, 8), "L": (1, 4, 7), "M": (2, 4, 6), "N": (5, 7, 12), "P": (3, 5, 10),
        "Q": (3, 6, 9), "R": (4, 6, 10), "S": (2, 5, 8), "T": (2, 4, 6),
    },
    {"M": "K", "N": "K", "P": "KL", "Q": "KL", "R": "MP", "S": "MP", "T": "QR"},
)  # fmt: skip


def network_of(times, waits, only=None):
    names = [name for name in times if only is None or name in only]
    return Network(
        tuple(Activity(name, times[name][1], range=times[name]) for name in names),
        tuple(Relationship(b, a) for a in names for b in waits.get(a, "") if b in names),
    )


def second_opinion(times, waits):
    """Ends, finishes and shares of draws in which an activity lies on a longest path."""
    numbers = np.random.default_rng(20)
    finish: dict[str, np.ndarray] = {}
    for name, (low, likely, high) in times.items():
        rise = 4 * (likely - low) / (high - low)
        length = low + (high - low) * numbers.beta(1 + rise, 5 - rise, DRAWS)
        finish[name] = length + np.max([finish[b] for b in waits.get(name, "")] or [np.zeros(DRAWS)], axis=0)
    end = np.max(list(finish.values()), axis=0)
    drives = {name: finish[name] == end for name in times}
    for name in reversed(times):
        before = np.max([finish[b] for b in waits.get(name, "")] or [np.zeros(DRAWS)], axis=0)
        for b in waits.get(name, ""):
            drives[b] = drives[b] | (drives[name] & (finish[b] == before))
    return end, finish, {name: float(row.mean()) for name, row in drives.items()}


@pytest.mark.parametrize(
    ("shape", "mean", "deviation"), [("pert", 30.538, 1.480), ("triangular", 30.944, 1.736)]
)
def test_hendrickson_ends_as_a_million_draws_do(shape, mean, deviation):
    found = forecast_network(network_of(*HENDRICKSON), samples=DRAWS, seed=1, shape=shape)
    error = deviation / math.sqrt(DRAWS) + deviation / 1000
    assert found.mean == pytest.approx(mean, abs=4 * error)
    assert found.deviation == pytest.approx(deviation, abs=4 * error)  # sd / sqrt(2 n) and less
    assert found.mean > 30.0  # the expected length of the longest path alone


def test_percentiles_of_hendrickson_are_those_of_a_million_draws():
    last = forecast_network(network_of(*HENDRICKSON), samples=DRAWS, seed=2).houses
    assert last == {}  # the network belongs to no house
    found = forecast_network(
        Network(
            tuple(
                Activity(a.id, a.duration, house="the bridge", range=a.range)
                for a in network_of(*HENDRICKSON).activities
            ),
            network_of(*HENDRICKSON).relationships,
        ),
        samples=DRAWS,
        seed=2,
    ).houses["the bridge"]
    for share, value, read in ((0.5, found.p50, 30.51), (0.8, found.p80, 31.78)):
        density = 0.27 if share == 0.5 else 0.19  # of a normal with deviation 1.48
        error = math.sqrt(share * (1 - share) / DRAWS) / density
        assert value == pytest.approx(read, abs=4 * error + 0.005 + 1 / 256)  # figures given to 0.01


@pytest.mark.parametrize(
    ("network", "path", "expected"),
    [(HENDRICKSON, "ACFI", 30.0), (VACUUM_CLEANER, "AEHIJ", 2 * 17.0), (LECTURE, "KPRT", 20.83)],
    ids=["Hendrickson", "vacuum cleaner", "lecture"],
)
def test_the_published_path_has_its_expected_length_and_the_network_ends_later(network, path, expected):
    times, waits = network
    alone = forecast_network(network_of(times, waits, only=path), samples=DRAWS, seed=3)
    # A beta-PERT has the variance (mean - a)(b - mean) / 7; PERT's ((b - a) / 6) squared is a rule of thumb.
    means = {name: (times[name][0] + 4 * times[name][1] + times[name][2]) / 6 for name in path}
    variance = sum((means[n] - times[n][0]) * (times[n][2] - means[n]) / 7 for n in path)
    assert alone.mean == pytest.approx(expected, abs=4 * math.sqrt(variance / DRAWS) + 0.005)
    assert alone.deviation == pytest.approx(math.sqrt(variance), abs=4 * math.sqrt(variance / DRAWS))
    whole = forecast_network(network_of(times, waits), samples=DRAWS, seed=3)
    assert whole.mean > expected


@pytest.mark.parametrize(
    "network", [HENDRICKSON, VACUUM_CLEANER, LECTURE], ids=["Hendrickson", "vacuum cleaner", "lecture"]
)
def test_where_paths_meet_the_forecast_agrees_with_a_second_opinion(network):
    times, waits = network
    end, finish, drives = second_opinion(times, waits)
    found = forecast_network(network_of(times, waits), samples=DRAWS, seed=4)
    error = float(end.std()) * math.sqrt(2 / DRAWS)
    assert found.mean == pytest.approx(end.mean(), abs=4 * error)
    assert found.deviation == pytest.approx(end.std(), abs=4 * error)
    for name, one in found.activities.items():
        for share, value in zip(PERCENTILES, (one.p10, one.p50, one.p80, one.p90), strict=True):
            # The share of the other side's draws by then, since shares have known errors.
            by_then = float((finish[name] <= value).mean())
            assert by_then == pytest.approx(share, abs=4 * math.sqrt(2 * share * (1 - share) / DRAWS) + 0.003)
        p = drives[name]
        assert one.criticality == pytest.approx(p, abs=4 * math.sqrt(2 * p * (1 - p) / DRAWS) + 0.005)


def test_the_vacuum_cleaner_project_takes_at_most_20_weeks_as_often_as_a_second_opinion_says():
    end, _, _ = second_opinion(*VACUUM_CLEANER)
    times, waits = VACUUM_CLEANER
    found = forecast_network(network_of(times, waits), samples=DRAWS, seed=5)
    assert float((end <= 40).mean()) < 0.966  # the published figure looks at one path only
    assert found.activities["J"].p90 <= 40 + 1 / 256
