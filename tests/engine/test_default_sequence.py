"""The default sequence of one storey, against the tables that were computed for it (data/SOURCE.md)."""

import datetime as dt

import pytest

from coordination.engine import (
    CircularNetwork,
    Relationship,
    WorkingCalendar,
    as_half_day,
    compute_dates,
    find_detail_faults,
    order_activities,
    verify_plan,
    write_half_day,
)
from coordination.engine.exchange import public_holidays
from tests.engine.networks import DATA, FIVE_DAYS, MONDAY, number, read_rows, single_storey, worked

DATES = read_rows(DATA / "single_storey_dates.csv")
WINDOWS = read_rows(DATA / "single_storey_windows.csv")


@pytest.fixture(scope="module")
def plan():
    return compute_dates(single_storey(), data_date=MONDAY, float_to="linings")


def test_the_network_has_61_nodes_104_relationships_and_26_details():
    network = single_storey()
    assert (len(network.activities), len(network.relationships), len(network.details)) == (61, 104, 26)


def test_every_activity_has_its_date_and_both_floats(plan):
    computed = {
        name: (worked(plan, a.es), worked(plan, a.ef), a.float_to["linings"], a.total_float)
        for name, a in plan.activities.items()
    }
    assert computed == {
        name: (int(row["es"]), int(row["ef"]), number(row["float_to_linings"]), number(row["float_to_end"]))
        for name, row in DATES.items()
    }


def test_every_detail_has_its_window(plan):
    computed = {
        name: (
            *(worked(plan, t) for t in (w.opens, w.due, w.buried)),
            w.slack_due,
            w.slack_buried,
            w.inverted,
        )
        for name, w in plan.details.items()
    }
    columns = ("opens", "due", "buried", "slack_due", "slack_buried")
    assert computed == {name: (*(int(row[c]) for c in columns), False) for name, row in WINDOWS.items()}


def test_the_house_ends_after_139_working_half_days_and_191_on_the_axis(plan):
    assert worked(plan, plan.finish) == 139
    assert plan.finish - MONDAY == 191
    assert (worked(plan, plan["H4"].ef), worked(plan, plan["H5"].ef)) == (65, 73)
    assert [plan[name].ef - MONDAY for name in ("H4", "H5")] == [89, 101]
    assert (worked(plan, plan["linings"].es), plan["linings"].es - MONDAY) == (76, 104)


def test_the_driving_chain_runs_through_the_brickwork_to_the_linings(plan):
    assert " ".join(plan.driving_chain()) == (
        "set-out drains slab-prep H1 pour frame-del frames trusses frame-end H2 frame-fix H3 wrap "
        "windows brick eaves lock-up wall-batts H5 linings setting waterproof H6 tiling paint plumb-fit "
        "floors audit H7 defects"
    )
    assert plan.first_cause().kind == "data_date"


def test_driving_chain_is_not_the_set_of_zero_floats(plan):
    critical = {a.id for a in plan.activities.values() if a.critical}
    assert not critical & {
        "set-out",
        "brick",
        "H5",
        "linings",
        "waterproof",
    }  # the cure before H6 has 3 half-days
    assert critical == {*plan.driving_chain()[22:], "elec-fit"}  # from H6 on; and what runs beside plumb-fit


@pytest.mark.parametrize(
    ("longer", "linings", "end"),
    [
        ({}, 76, 139),
        ({"H5": 2}, 78, 139),
        ({"caps": 2}, 76, 139),
        ({"caps": 6}, 79, 139),
        ({"caps": 8}, 81, 144),
        ({"brick": 6}, 82, 145),
        ({"H2": 2}, 78, 139),
        ({"plumb": 4}, 76, 139),
        ({"roof": 4}, 77, 139),
        ({"brick": 6, "caps": 6}, 82, 145),
    ],
)
def test_slips_move_linings_and_end_by_what_the_floats_leave(longer, linings, end):
    plan = compute_dates(single_storey(longer=longer), data_date=MONDAY)
    assert (worked(plan, plan["linings"].es), worked(plan, plan.finish)) == (linings, end)


@pytest.mark.parametrize(
    ("weekday", "linings", "end"), [(0, 76, 139), (1, 76, 137), (2, 76, 136), (3, 78, 141), (4, 76, 139)]
)
def test_the_weekday_of_the_start_matters_since_cures_meet_weekends(weekday, linings, end):
    plan = compute_dates(single_storey(), data_date=MONDAY + 2 * weekday)
    assert (worked(plan, plan["linings"].es), worked(plan, plan.finish)) == (linings, end)


def test_dates_in_a_week_without_holidays(plan):
    assert write_half_day(plan["linings"].first_half_day) == "2026-03-26 am"
    assert write_half_day(plan["defects"].last_half_day) == "2026-05-08 am"


def test_dates_with_tasmanian_holidays():
    calendar = WorkingCalendar(FIVE_DAYS, holidays=public_holidays("AU-TAS"))
    plan = compute_dates(single_storey(calendar), data_date=MONDAY)
    assert [write_half_day(plan[name].last_half_day)[:10] for name in ("H4", "H5")] == [
        "2026-03-19",
        "2026-03-25",
    ]
    assert write_half_day(plan["board-del"].first_half_day)[:10] == "2026-03-26"
    assert write_half_day(plan["linings"].first_half_day)[:10] == "2026-03-27"
    assert write_half_day(plan["defects"].last_half_day)[:10] == "2026-05-13"


def test_dates_over_the_christmas_shutdown():
    shut = range(as_half_day(dt.date(2026, 12, 21)), as_half_day(dt.date(2027, 1, 8), "pm") + 1)
    calendar = WorkingCalendar(FIVE_DAYS, off=frozenset(shut), holidays=public_holidays("AU-TAS"))
    plan = compute_dates(single_storey(calendar), data_date=as_half_day(dt.date(2026, 10, 5)))
    assert write_half_day(plan["linings"].first_half_day)[:10] == "2026-11-26"
    assert write_half_day(plan["defects"].last_half_day)[:10] == "2027-02-01"


def test_every_detail_is_protected_by_the_relationships():
    assert find_detail_faults(single_storey()) == []


def test_a_planted_circle_is_named():
    with pytest.raises(CircularNetwork) as caught:
        order_activities(single_storey(extra=[Relationship("H4", "H2")]))
    assert caught.value.cycle == ("H2", "plumb", "H4")
    assert "H2 > plumb > H4 > H2 (H2 waits for H4, H4 waits for plumb, plumb waits for H2)" in str(
        caught.value
    )


def test_without_two_points_and_their_word_time_the_linings_come_four_half_days_earlier():
    """The price of the idea: each hold costs its half-day and the word time."""
    network = single_storey(longer={"H3": -1, "H5": -1})
    quick = [
        link if (link.from_id, link.to_id) != ("H5", "linings") else Relationship("H5", "linings", lag=1)
        for link in network.relationships
    ]
    quick = [link if link.to_id != "board-del" else Relationship("H5", "board-del") for link in quick]
    plan = compute_dates(type(network)(network.activities, tuple(quick), network.calendars), data_date=MONDAY)
    assert (worked(plan, plan["linings"].es), worked(plan, plan.finish)) == (72, 135)


def test_the_independent_judge_finds_no_fault(plan):
    assert verify_plan(plan) == []
