"""A network of 43 tasks in working days (common-practice durations), with every date and slip.

`working_day_network.csv` is this project's own example; its dates were worked out apart from this engine.
"""

import csv
import re
from pathlib import Path

import pytest

from coordination.engine import Activity, Network, Relationship, compute_dates

with (Path(__file__).parent / "working_day_network.csv").open(newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def build(longer=()):
    added = dict(longer)
    links = []
    for name, row in ROWS.items():
        for source, kind, lag in re.findall(r"(\w+) (FS|SS)\+(\d+)", row["predecessors"]):
            links.append(Relationship(source, name, kind, int(lag)))
    return Network(
        tuple(Activity(name, int(row["days"]) + added.get(name, 0)) for name, row in ROWS.items()),
        tuple(links),
    )


def test_every_date_and_float_is_as_worked_out():
    plan = compute_dates(build())
    assert len(plan.activities) == 43
    assert {n: (a.es, a.ef, a.total_float) for n, a in plan.activities.items()} == {
        n: (int(r["es"]), int(r["ef"]), int(r["float"])) for n, r in ROWS.items()
    }
    assert (plan.finish, plan["A22"].es) == (81, 45)


@pytest.mark.parametrize(
    ("longer", "end", "board"),
    [
        ({"A19": 3}, 81, 45),
        ({"A19": 5}, 82, 46),
        ({"H06": 2}, 83, 47),
        ({"A15": 4}, 81, 45),
        ({"A12": 5}, 86, 50),
        ({"A12": 5, "A19": 3}, 86, 50),
    ],
)
def test_slips_move_the_end_as_worked_out(longer, end, board):
    plan = compute_dates(build(longer))
    assert (plan.finish, plan["A22"].es) == (end, board)


def test_a_long_air_seal_moves_the_driving_chain_to_roof_and_services():
    assert "A12" in compute_dates(build()).driving_chain()
    chain = compute_dates(build({"A19": 5})).driving_chain()
    assert "A12" not in chain
    assert {"A07", "A08", "A17", "A19"} <= set(chain)
