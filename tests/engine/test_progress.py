"""Recorded work: what is finished, what is under way, what they still hold."""

import pytest

from coordination.engine import Activity, Network, Refused, Relationship, WorkingCalendar, compute_dates
from tests.engine.networks import MONDAY

FIVE = {"site": WorkingCalendar()}
TUESDAY = MONDAY + 2


def plan_of(*activities, links=(), data_date=TUESDAY, **options):
    return compute_dates(Network(activities, tuple(links), FIVE), data_date=data_date, **options)


def done(name, start, finish, length=2):
    return Activity(name, length, "site", actual_start=start, actual_finish=finish)


def test_finished_work_stands_where_it_happened_even_on_a_sunday():
    sunday = MONDAY - 2
    plan = plan_of(
        done("a", sunday, sunday + 1, length=9), Activity("b", 2, "site"), links=[Relationship("a", "b")]
    )
    a = plan["a"]
    assert (a.es, a.ef, a.ls, a.lf) == (sunday, sunday + 1, sunday, sunday + 1)
    assert (a.total_float, a.free_float, a.critical, a.reason.kind) == (0, 0, False, "actual")
    assert plan["b"].es == TUESDAY


def test_work_not_begun_is_never_before_the_data_date():
    assert plan_of(done("a", MONDAY, MONDAY + 1), Activity("b", 1, "site"))["b"].es == TUESDAY


def test_a_lag_out_of_finished_work_still_holds_what_has_not_begun():
    plan = plan_of(
        done("pour", MONDAY, TUESDAY),
        Activity("frames", 2, "site"),
        links=[Relationship("pour", "frames", lag=3)],
    )
    assert plan["frames"].es == TUESDAY + 3


def test_work_under_way_runs_what_remains_from_the_data_date():
    plan = plan_of(Activity("a", 8, "site", actual_start=MONDAY, remaining=3))
    assert (plan["a"].es, plan["a"].ef, plan["a"].ls) == (MONDAY, TUESDAY + 3, MONDAY)


@pytest.mark.parametrize(("duration", "left"), [(8, 6), (3, 1), (2, 1), (1, 1)])
def test_missing_remaining_is_what_the_duration_leaves_and_at_least_one(duration, left):
    plan = plan_of(Activity("a", duration, "site", actual_start=MONDAY))
    assert plan["a"].ef == TUESDAY + left


def test_unfinished_predecessors_still_hold_what_remains_but_start_links_no_more():
    slow = Activity("slow", 4, "site")
    begun = Activity("begun", 6, "site", actual_start=MONDAY, remaining=2)
    held = plan_of(slow, begun, links=[Relationship("slow", "begun")])
    assert held["begun"].ef == TUESDAY + 4 + 2
    finish_held = plan_of(slow, begun, links=[Relationship("slow", "begun", "FF", 1)])
    assert finish_held["begun"].ef == TUESDAY + 5
    free = plan_of(slow, begun, links=[Relationship("slow", "begun", "SS", 4)])
    assert free["begun"].ef == TUESDAY + 2
    start_to_finish = plan_of(slow, begun, links=[Relationship("slow", "begun", "SF", 4)])
    assert start_to_finish["begun"].ef == TUESDAY + 4


def test_finished_predecessors_hold_work_under_way_no_more():
    begun = Activity("begun", 6, "site", actual_start=TUESDAY, remaining=2)
    plan = plan_of(done("pour", MONDAY, TUESDAY), begun, links=[Relationship("pour", "begun", lag=10)])
    assert plan["begun"].ef == TUESDAY + 2


def test_successors_see_the_actual_start():
    begun = Activity("begun", 6, "site", actual_start=MONDAY)
    plan = plan_of(begun, Activity("next", 1, "site"), links=[Relationship("begun", "next", "SS", 3)])
    assert plan["next"].es == MONDAY + 3
    assert plan.driving_chain("next") == ("begun", "next")
    assert plan.first_cause("next").kind == "actual"


def test_the_chain_ends_at_a_start_that_has_happened_whatever_holds_its_finish():
    begun = Activity("begun", 6, "site", actual_start=MONDAY)
    links = [
        Relationship("slow", "begun"),
        Relationship("begun", "next", "SS", 3),
        Relationship("begun", "last"),
    ]
    plan = plan_of(
        Activity("slow", 4, "site"),
        begun,
        Activity("next", 1, "site"),
        Activity("last", 1, "site"),
        links=links,
    )
    assert plan.driving_chain("next") == ("begun", "next")
    assert plan.driving_chain("last") == ("slow", "begun", "last")


def test_float_of_work_under_way_is_counted_at_its_finish():
    begun = Activity("begun", 6, "site", actual_start=MONDAY, remaining=2)
    plan = plan_of(begun, Activity("long", 7, "site"))
    assert (plan["begun"].total_float, plan["begun"].free_float) == (5, 5)
    assert (plan["begun"].ls, plan["begun"].lf) == (MONDAY, TUESDAY + 7)


def test_finished_work_holds_nobody_back_in_the_backward_pass():
    early = Activity("early", 1, "site")
    plan = plan_of(
        early,
        done("out of order", MONDAY, TUESDAY),
        Activity("long", 6, "site"),
        links=[Relationship("early", "out of order")],
    )
    assert plan["early"].total_float == 5


def test_float_to_an_activity_of_what_is_finished_is_none_left():
    plan = plan_of(
        done("a", MONDAY, TUESDAY),
        Activity("b", 1, "site"),
        Activity("c", 3, "site"),
        links=[Relationship("a", "b")],
        float_to=("b", "c"),
    )
    assert dict(plan["a"].float_to) == {"b": 0, "c": None}


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"actual_finish": MONDAY}, "'a' has 'actual_finish' without 'actual_start'"),
        ({"remaining": 2}, "'a' has 'remaining' without 'actual_start'"),
        ({"actual_start": MONDAY, "actual_finish": MONDAY - 1}, "'actual_finish' lies before 'actual_start'"),
        ({"actual_start": MONDAY, "actual_finish": MONDAY, "remaining": 1}, "'a' is finished"),
        ({"actual_start": TUESDAY + 1}, "'a': 'actual_start' lies after the data date"),
        (
            {"actual_start": MONDAY, "actual_finish": TUESDAY + 1},
            "'a': 'actual_finish' lies after the data date",
        ),
    ],
)
def test_impossible_progress_is_refused_by_name(facts, words):
    with pytest.raises(Refused, match=words):
        plan_of(Activity("a", 3, "site", **facts))


def test_facts_up_to_the_data_date_are_accepted():
    plan_of(Activity("a", 3, "site", actual_start=TUESDAY))
    plan_of(Activity("a", 3, "site", actual_start=MONDAY, actual_finish=TUESDAY))
