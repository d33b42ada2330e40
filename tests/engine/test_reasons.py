"""Every date carries its reason, and the driving chain follows the reasons back to the first cause."""

from coordination.engine import Activity, Network, Reason, Relationship, WorkingCalendar, compute_dates
from tests.engine.networks import MONDAY

FIVE = {"site": WorkingCalendar()}
AFTER = Relationship("a", "b")


def plan_of(*links, a=4, data_date=MONDAY, **facts):
    network = Network((Activity("a", a, "site"), Activity("b", 2, "site", **facts)), links, FIVE)
    return compute_dates(network, data_date=data_date)


def test_nothing_else_leaves_the_data_date():
    assert plan_of()["b"].reason == Reason("data_date")


def test_a_not_before_is_a_reason_from_the_data_date_on():
    assert plan_of(not_before=MONDAY - 1)["b"].reason == Reason("data_date")
    assert plan_of(not_before=MONDAY)["b"].reason == Reason("not_before")
    assert plan_of(not_before=MONDAY + 1)["b"].reason == Reason("not_before")


def test_a_date_on_a_weekend_gives_way_to_the_calendar():
    saturday = MONDAY + 10
    assert plan_of(not_before=saturday + 1)["b"].reason == Reason("calendar", after="not_before", waits=3)
    assert plan_of(data_date=saturday)["b"].reason == Reason("calendar", after="data_date", waits=4)


def test_a_relationship_is_the_reason_though_the_calendar_adds_to_it():
    assert plan_of(AFTER)["b"].reason == Reason("relationship", AFTER)
    assert plan_of(AFTER, a=10)["b"].reason == Reason("relationship", AFTER, waits=4)


def test_of_equal_demands_a_relationship_comes_before_a_date_and_the_first_given_before_the_others():
    assert plan_of(AFTER, not_before=MONDAY + 4)["b"].reason == Reason("relationship", AFTER)
    assert plan_of(AFTER, a=0)["b"].reason == Reason("relationship", AFTER)
    same = Relationship("a", "b", "SS", 4)
    assert plan_of(AFTER, same)["b"].reason == Reason("relationship", AFTER)
    assert plan_of(same, AFTER)["b"].reason == Reason("relationship", same)


def test_a_later_not_before_takes_over_and_ends_the_chain():
    plan = plan_of(AFTER, not_before=MONDAY + 5)
    assert plan["b"].reason == Reason("not_before")
    assert plan.driving_chain("b") == ("b",)
    assert plan.first_cause("b") == Reason("not_before")
    assert plan_of(AFTER).driving_chain("b") == ("a", "b")
    assert plan_of(AFTER).first_cause("b") == Reason("data_date")


def test_the_chain_goes_to_the_last_that_finishes_and_the_milestone_behind_it():
    activities = (Activity("end", 0), Activity("short", 1), Activity("long", 3))
    links = (Relationship("long", "end"), Relationship("short", "end"))
    assert compute_dates(Network(activities, links)).driving_chain() == ("long", "end")
