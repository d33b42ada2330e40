"""The judge finds every planted violation and nothing else."""

import pytest

from coordination.engine import (
    Activity,
    Network,
    Relationship,
    WorkingCalendar,
    compute_dates,
    find_faults,
    verify_plan,
)
from tests.engine.networks import MONDAY, single_storey

FIVE = {"site": WorkingCalendar()}


def judged(network, moved=(), data_date=MONDAY, removed=()):
    plan = compute_dates(network, data_date=data_date)
    dates = {a.id: (a.es, a.ef) for a in plan.activities.values()} | dict(moved)
    for name in removed:
        del dates[name]
    return [(fault.rule, fault.activity_id) for fault in find_faults(network, dates, data_date=data_date)]


def pair(kind="FS", lag=0, calendar=None, **facts):
    return Network(
        (Activity("a", 4, "site"), Activity("b", 4, "site", **facts)),
        (Relationship("a", "b", kind, lag, calendar),),
        FIVE,
    )


def test_sound_dates_have_no_fault():
    assert judged(pair()) == []


@pytest.mark.parametrize(
    ("kind", "lag", "calendar", "planned"),
    [
        ("FS", 0, None, 4),
        ("FS", 3, None, 7),
        ("FS", -2, None, 2),
        ("FS", 5, "elapsed", 9),
        ("SS", 2, None, 2),
        ("FF", 1, None, 1),
        ("SF", 6, None, 2),
        ("SF", 6, "every", 2),
    ],
)
def test_a_start_one_half_day_too_early_breaks_precedence(kind, lag, calendar, planned):
    network = pair(kind, lag, calendar)
    assert compute_dates(network, data_date=MONDAY)["b"].es == MONDAY + planned
    finish = WorkingCalendar().finish_of(MONDAY + planned - 1, 4)
    assert judged(network, {"b": (MONDAY + planned - 1, finish)}) == [("precedence", "b")]


def test_the_broken_relationship_is_named():
    network = pair()
    (fault,) = find_faults(network, {"a": (MONDAY, MONDAY + 4), "b": (MONDAY, MONDAY + 4)}, data_date=MONDAY)
    assert fault.link == network.relationships[0]
    assert str(fault) == "b: starts before 'a' allows (FS+0: 2026-02-04 am)"


@pytest.mark.parametrize(
    ("dates", "rules"),
    [
        ((MONDAY + 4, MONDAY + 7), ["duration"]),
        ((MONDAY + 4, MONDAY + 9), ["duration"]),
        ((MONDAY + 9, MONDAY + 13), ["calendar", "duration"]),  # ends on Sunday with one worked half-day
        ((MONDAY + 10, MONDAY + 18), ["calendar"]),  # starts on Saturday
        ((MONDAY + 8, MONDAY + 16), []),  # over the weekend
        ((MONDAY + 8, MONDAY + 8), ["duration"]),
    ],
)
def test_calendar_and_duration_are_judged(dates, rules):
    assert judged(pair(), {"b": dates}) == [(rule, "b") for rule in rules]


def test_a_milestone_that_lasts_is_found():
    network = Network((Activity("m", 0, "site"),), (), FIVE)
    assert judged(network, {"m": (MONDAY, MONDAY + 1)}) == [("duration", "m")]


def test_not_before_and_data_date_are_judged():
    network = Network((Activity("a", 1, "site", not_before=MONDAY + 3),), (), FIVE)
    assert judged(network, {"a": (MONDAY + 2, MONDAY + 3)}) == [("not before", "a")]
    assert judged(network, {"a": (MONDAY - 5, MONDAY - 4)}) == [("data date", "a"), ("not before", "a")]


def test_missing_and_unknown_activities_are_found():
    assert judged(pair(), {"x": (MONDAY, MONDAY + 1)}, removed=["a"]) == [("unknown", "x"), ("missing", "a")]


def test_recorded_facts_must_stand():
    network = Network((Activity("a", 4, "site", actual_start=MONDAY, actual_finish=MONDAY + 3),), (), FIVE)
    at = MONDAY + 4
    assert judged(network, data_date=at) == []
    assert judged(network, {"a": (MONDAY + 1, MONDAY + 3)}, at) == [("actual", "a")]
    assert judged(network, {"a": (MONDAY, MONDAY + 4)}, at) == [("actual", "a")]


def test_work_under_way_must_have_room_for_what_remains():
    network = Network((Activity("a", 6, "site", actual_start=MONDAY, remaining=3),), (), FIVE)
    at = MONDAY + 2
    assert judged(network, data_date=at) == []
    assert judged(network, {"a": (MONDAY, MONDAY + 4)}, at) == [("duration", "a")]
    assert judged(network, {"a": (MONDAY, MONDAY + 1)}, at) == [("data date", "a")]
    assert judged(network, {"a": (MONDAY, MONDAY + 11)}, at) == [("calendar", "a")]
    assert judged(network, {"a": (MONDAY + 1, MONDAY + 5)}, at) == [("actual", "a")]


def test_what_remains_is_still_held_by_unfinished_predecessors():
    network = pair(actual_start=MONDAY, remaining=2)
    assert judged(network) == []
    assert judged(network, {"b": (MONDAY, MONDAY + 5)}) == [("precedence", "b")]


def test_moving_any_critical_activity_of_the_default_house_one_half_day_forward_is_found():
    plan = compute_dates(single_storey(), data_date=MONDAY)
    assert verify_plan(plan) == []
    calendar = plan.network.calendars["site"]
    for link in plan.driving_links():
        moved = plan[link.to_id]
        start = calendar.kth(calendar.before(moved.es) - 1)
        dates = {a.id: (a.es, a.ef) for a in plan.activities.values()}
        dates[moved.id] = (start, calendar.finish_of(start, plan.network[moved.id].duration))
        found = find_faults(plan.network, dates, data_date=MONDAY)
        # A cure that ends on a weekend leaves room before the first half-day worked; work does not.
        assert link in [fault.link for fault in found], link
