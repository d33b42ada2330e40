"""The two-storey variant with a bedroom above the garage (data/SOURCE.md)."""

import pytest

from coordination.engine import compute_dates, find_detail_faults, verify_plan
from tests.engine.networks import DATA, MONDAY, read_rows, two_storeys, worked


@pytest.fixture(scope="module")
def plan():
    return compute_dates(two_storeys(), data_date=MONDAY, float_to="linings")


def test_it_has_73_nodes_and_133_relationships(plan):
    assert (len(plan.network.activities), len(plan.network.relationships)) == (73, 133)


def test_it_takes_187_half_days_and_the_linings_start_at_98(plan):
    assert worked(plan, plan.finish) == 187
    assert worked(plan, plan["linings"].es) == 98
    assert worked(plan, plan["H5"].ef) == 95


def test_each_activity_of_the_upper_storey_has_its_dates_and_float(plan):
    rows = read_rows(DATA / "two_storeys_dates.csv")
    computed = {
        name: (worked(plan, plan[name].es), worked(plan, plan[name].ef), plan[name].total_float)
        for name in rows
    }
    assert computed == {
        name: (int(r["es"]), int(r["ef"]), int(r["float_to_end"]) if r["float_to_end"] else None)
        for name, r in rows.items()
    }


def test_the_driving_chain_runs_over_the_floor_and_the_upper_frames(plan):
    chain = " ".join(plan.driving_chain())
    assert (
        "frames floor upper-frames trusses frame-end H2 frame-fix H3 wrap windows brick eaves lock-up"
        in chain
    )
    assert chain.endswith(
        "wall-batts H5 linings setting fixing tiling paint plumb-fit floors audit H7 defects"
    )


def test_services_run_one_half_day_behind_to_the_linings(plan):
    assert plan["caps"].float_to["linings"] == 1


def test_the_abutment_is_seen_four_half_days_before_the_lower_roof_buries_it(plan):
    assert plan.details["abutment"].slack_buried == 4


def test_one_installer_pair_in_series_costs_four_half_days():
    series = {
        "perimeter": [
            {"type": "FS", "id": name, "lag": 0} for name in ("H4", "lock-up", "eaves", "wall-batts")
        ],
        "floor-batts": [{"type": "FS", "id": name, "lag": 0} for name in ("H4", "lock-up", "ceil-batts")],
    }
    plan = compute_dates(two_storeys(after=series), data_date=MONDAY)
    assert (worked(plan, plan["linings"].es), worked(plan, plan.finish)) == (102, 191)


def test_details_are_protected_and_the_judge_agrees(plan):
    assert find_detail_faults(plan.network) == []
    assert verify_plan(plan) == []
