"""Input objects refuse nonsense when they are built, naming the culprit."""

from typing import Any

import numpy as np
import pytest

from coordination.engine import (
    Activity,
    Crew,
    Detail,
    Fails,
    Late,
    LongestGap,
    Network,
    Refused,
    Relationship,
    ReservedTime,
    WorkingCalendar,
    compute_dates,
)

A, B = Activity("a", 1), Activity("b", 1)
# Values of a wrong type, which the type checker would refuse before the test could.
WRONG_TYPE: Any = "XY"
SEVEN: Any = 7
HALF: Any = 0.5
TWO_LENGTHS: Any = (1, 2)
ONE_LENGTH: Any = (2,)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: Activity("", 1), "id must be a text"),
        (lambda: Activity(SEVEN, 1), "id must be a text"),
        (lambda: Activity("a", -1), "'a': the duration must be a whole number of at least 0, not -1"),
        (lambda: Activity("a", HALF), "'a': the duration"),
        (lambda: Activity("a", True), "'a': the duration"),
        (lambda: Activity("a", 1, actual_start=0, remaining=-1), "'a': 'remaining'"),
        (lambda: Activity("a", 1, crew={"c": -1}), "'a': the units of crew 'c'"),
        (
            lambda: Activity("a", 1, not_before=10, not_after=10),
            "'a': 'not_after' .1970-01-09 pm. lies before",
        ),
        (lambda: Activity("a", 1, range=(3, 2, 4)), "'a': 'range' must be three lengths, shortest first"),
        (lambda: Activity("a", 1, range=TWO_LENGTHS), "'a': 'range' must be three lengths"),
        (lambda: Activity("a", 1, range=(1, 2, HALF + 2)), "'a': each length of 'range'"),
        (lambda: Fails(1.1, 2), "chance of failing must be a number from 0 to 1"),
        (lambda: Fails(0.1, -2), "rework"),
        (lambda: Late(-0.1, (1, 2)), "chance of being late"),
        (lambda: Late(0.1, (2, 1)), "least first"),
        (lambda: Late(0.1, ONE_LENGTH), "two numbers"),
        (lambda: ReservedTime(4, 4, 1), "must end after it starts"),
        (lambda: ReservedTime(4, 6, 0), "units of reserved time"),
        (lambda: Crew("c", -1), "crew 'c': the capacity"),
        (lambda: LongestGap("a", "b", -1), "longest gap from 'a' to 'b'"),
        (lambda: Relationship("a", "a"), "'a' cannot wait for itself"),
        (lambda: Relationship("a", "b", WRONG_TYPE), "'a' to 'b': the type must be FS, SS, FF or SF"),
        (lambda: Relationship("a", "b", lag=HALF), "'a' to 'b': the lag must be a whole number"),
        (lambda: Detail("d", (), ("a",)), "detail 'd' has no installer"),
        (lambda: Detail("d", ("a",), ()), "detail 'd' has no coverer"),
        (
            lambda: Detail("d", ("a",), ("b",), None, frozenset("c")),
            "'c' is in 'with' but not in 'covered_by'",
        ),
        (lambda: Network(()), "no activities"),
        (lambda: Network((A, A)), "activity 'a' is given twice"),
        (lambda: Network((A,), (Relationship("a", "x"),)), "'a' to 'x' names the unknown activity 'x'"),
        (lambda: Network((A, B), (Relationship("a", "b", lag_calendar="x"),)), "unknown calendar 'x'"),
        (lambda: Network((Activity("a", 1, "x"),)), "activity 'a' names the unknown calendar 'x'"),
        (
            lambda: Network((Activity("a", 1, "elapsed"),)),
            "activity 'a' names the unknown calendar 'elapsed'",
        ),
        (lambda: Network((Activity("a", 1, crew={"x": 1}),)), "activity 'a' names the unknown crew 'x'"),
        (lambda: Network((A,), crews=(Crew("c", 1, "x"),)), "crew 'c' names the unknown calendar 'x'"),
        (lambda: Network((A,), crews=(Crew("c", 1), Crew("c", 1))), "crew 'c' is given twice"),
        (lambda: Network((A,), (), {"every": WorkingCalendar()}), "'every' is reserved"),
        (lambda: Network((A,), (), {"elapsed": WorkingCalendar()}), "'elapsed' is reserved"),
        (
            lambda: Network((A,), details=(Detail("d", ("a",), ("x",)),)),
            "detail 'd' names the unknown activity 'x'",
        ),
        (lambda: Network((A,), details=(Detail("d", ("a",), ("a",), "x"),)), "unknown activity 'x'"),
        (lambda: Network((A,), longest_gaps=(LongestGap("a", "x", 1),)), "unknown activity 'x'"),
        (lambda: Network((A,), confirmed=frozenset({"v"})), "unknown visit 'v'"),
        (lambda: Network((A,), weights={"idle": -1.0}), "weight 'idle'"),
        (lambda: Network((A,))["x"], "unknown activity 'x'"),
        (lambda: compute_dates(Network((A,)), float_to="x"), "unknown activity 'x'"),
        (lambda: compute_dates(Network((A,)))["x"], "unknown activity 'x'"),
        (lambda: compute_dates(Network((Activity("a", 10**7),))), "activity 'a' cannot be dated"),
        (
            lambda: compute_dates(Network((A, B), (Relationship("a", "b", lag=10**8),))),
            "activity 'b' cannot be",
        ),
    ],
)
def test_nonsense_is_refused_by_name(build, words):
    with pytest.raises(Refused, match=words):
        build()


def test_two_detail_rows_of_one_id_are_refused():
    detail = Detail("d", ("a",), ("b",))
    with pytest.raises(Refused, match="detail 'd' is given twice"):
        Network((A, B), details=(detail, detail))


def test_houses_end_for_themselves_and_links_between_them_count_in_both_passes():
    activities = (
        Activity("one", 4, house="north"),
        Activity("two", 2, house="north"),
        Activity("three", 9, house="south"),
        Activity("shared", 1),
    )
    plan = compute_dates(Network(activities, (Relationship("two", "three"),)))
    assert plan.houses == {"north": 4, "south": 11}
    assert plan.finish == 11
    assert {a.id: a.total_float for a in plan.activities.values()} == {
        "one": 0,
        "two": 0,
        "three": 0,
        "shared": 10,  # of no house: it is measured against the last end of all
    }


def test_the_every_calendar_always_exists():
    network = Network((Activity("a", 3, "every"),), (), {"site": WorkingCalendar()})
    assert compute_dates(network).finish == 3
    instants = np.array([-3, 0, 40_000])
    every = network.calendars["every"]
    assert every.before_each(instants).tolist() == every.kth_each(instants).tolist() == instants.tolist()
    assert [every.before(-3), every.kth(40_000), every.works(3)] == [-3, 40_000, True]


def test_a_milestone_names_the_next_working_half_day_and_without_successor_has_no_float():
    network = Network(
        (Activity("work", 10, "site"), Activity("point", 0, "site"), Activity("next", 1, "site")),
        (Relationship("work", "point"),),
        {"site": WorkingCalendar()},
    )
    point = compute_dates(network)["point"]
    assert (point.es, point.ef) == (10, 10)
    assert (point.first_half_day, point.last_half_day) == (14, 14)
    assert (point.total_float, point.free_float, point.critical) == (None, None, False)
    followed = Network(
        network.activities, (*network.relationships, Relationship("point", "next")), network.calendars
    )
    assert compute_dates(followed)["point"].total_float == 0
