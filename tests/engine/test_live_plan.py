"""A plan kept up to date equals a plan computed anew, after every change, date by date and reason by reason.

The plan computed anew is `compute_dates`, which `test_against_oracle.py` judges by a slow second opinion.
"""

import dataclasses
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination.engine import (
    Activity,
    BeyondTime,
    Change,
    Crew,
    Network,
    Refused,
    Relationship,
    WorkingCalendar,
    compare_plans,
    compute_dates,
    live_plan,
    rain,
    record,
    reopen,
    replan_house,
    slip,
)
from coordination.engine import cone_kernels as kernels
from coordination.engine.compiled import plain_twin
from coordination.engine.live_plan import LivePlan
from tests.engine.networks import MONDAY, single_storey
from tests.engine.strategies import problems

SITE = {"site": WorkingCalendar(name="site")}


def dates_of(live):
    return {name: dataclasses.astuple(live.dates(name)) for name in live.network().position}


def dates_of_plan(plan):
    return {
        a.id: (a.es, a.ef, a.ls, a.lf, a.total_float, a.free_float, dataclasses.astuple(a.reason))
        for a in plan.activities.values()
    }


def causes(difference):
    return {(m.cause.kind, m.cause.activity_id) for m in difference.moves if m.cause}


def check(live):
    """The live plan is the plan computed anew; returns that."""
    plan = live.plan()
    assert dates_of(live) == dates_of_plan(plan)
    assert live.houses == plan.houses
    assert live.finish == plan.finish
    return plan


@st.composite
def changes(draw, live):
    """A slip, a confirmation, rain in a calendar, a re-opened point, a later data date, or several."""
    network, data_date = live.network(), live.data_date
    names = sorted(network.position)
    kind = draw(st.sampled_from(("slip", "slip", "record", "rain", "reopen", "later", "several")))
    activity = network[draw(st.sampled_from(names))]
    started = [name for name in names if network[name].actual_start is not None]
    if kind == "rain":
        chosen = {name: network.calendars[name] for name in draw(st.sampled_from((["a"], ["b"], ["a", "b"])))}
        return rain(chosen, draw(st.sets(st.integers(data_date - 4, data_date + 30), min_size=1, max_size=3)))
    if kind == "later":
        return Change(data_date=data_date + draw(st.integers(0, 6)))
    if kind == "reopen" and started:
        return reopen(network[draw(st.sampled_from(started))], draw(st.none() | st.integers(0, 4)))
    if kind == "record":
        start = data_date - draw(st.integers(0, 20))
        finish = draw(st.none() | st.integers(start, data_date))
        left = None if finish is not None else draw(st.none() | st.integers(0, 4))
        return record(activity, actual_start=start, actual_finish=finish, remaining=left)
    if kind == "several":
        chosen = draw(st.lists(st.sampled_from(names), unique=True, min_size=1, max_size=3))
        return Change(
            tuple(dataclasses.replace(network[n], duration=draw(st.integers(0, 7))) for n in chosen)
        )
    if activity.finished:
        return reopen(activity)
    left = activity.duration if activity.remaining is None else activity.remaining
    return slip(activity, draw(st.integers(-left, 6)))


@settings(max_examples=200, derandomize=True)
@given(problems(most=8), st.data())
def test_after_every_change_all_is_as_computed_anew(problem, data):
    network, _, data_date = problem
    live = LivePlan(network, data_date)
    check(live)
    for _ in range(data.draw(st.integers(1, 4))):
        live.replan(data.draw(changes(live)))
        check(live)


@settings(max_examples=120, derandomize=True)
@given(problems(most=8), st.data())
def test_what_it_says_has_moved_is_what_a_comparison_of_both_plans_says(problem, data):
    network, _, data_date = problem
    visits = (None, "first", "second")
    network = dataclasses.replace(
        network,
        activities=tuple(
            dataclasses.replace(a, crew={"x": 1} if i % 3 else {"x": 1, "y": 2}, visit=visits[i % 3])
            for i, a in enumerate(network.activities)
        ),
        crews=(Crew("x", 9), Crew("y", 9)),
    )
    live = LivePlan(network, data_date)
    old = check(live)
    change = data.draw(changes(live))
    said = live.replan(change)
    expected = compare_plans(old, check(live))
    assert [dataclasses.replace(m, cause=None) for m in said.moves] == [
        dataclasses.replace(m, cause=None) for m in expected.moves
    ]
    assert (said.houses, said.tell) == (expected.houses, expected.tell)
    if len(change.activities) != 1:
        assert [m.cause for m in said.moves] == [m.cause for m in expected.moves]
    for mine, other in zip(said.moves, expected.moves, strict=True):
        if mine.cause and other.cause:
            assert (mine.cause.kind, mine.cause.activity_id) == (other.cause.kind, other.cause.activity_id)


@settings(max_examples=60, derandomize=True)
@given(problems(most=8), st.data())
def test_a_preview_says_the_same_and_leaves_everything_as_it_was(problem, data):
    network, _, data_date = problem
    live = LivePlan(network, data_date)
    before = dates_of(live)
    change = data.draw(changes(live))
    seen = live.preview(change)
    assert dates_of(live) == before
    assert live.network() == network
    check(live)
    assert live.replan(change) == seen


@settings(max_examples=60, derandomize=True)
@given(problems(most=6), st.data())
def test_the_plain_twin_gives_what_the_compiled_kernel_gives(problem, data):
    network, _, data_date = problem
    with pytest.MonkeyPatch.context() as patched:
        for name in ("_before", "_kth", "_holds", "_place_early", "_place_late", "date_cone"):
            patched.setattr(kernels, name, plain_twin(getattr(kernels, name)))
        patched.setattr(live_plan, "date_cone", kernels.date_cone)
        live = LivePlan(network, data_date)
        live.replan(data.draw(changes(live)))
        check(live)


# --- by hand ------------------------------------------------------------------------------------------------


def two_houses():
    """Two houses of the default sequence, side by side in one network; ids are prefixed by the house."""
    base = single_storey()
    activities = tuple(
        dataclasses.replace(a, id=f"{house} {a.id}", house=house, crew={a.id[:4]: 1})
        for house in ("14", "16")
        for a in base.activities
    )
    links = tuple(
        dataclasses.replace(x, from_id=f"{house} {x.from_id}", to_id=f"{house} {x.to_id}")
        for house in ("14", "16")
        for x in base.relationships
    )
    crews = tuple(Crew(name, 2) for name in sorted({name for a in activities for name in a.crew}))
    return Network(activities, links, base.calendars, crews=crews, confirmed=frozenset())


def test_a_slip_of_brick_moves_the_linings_by_as_much_and_names_it():
    live = LivePlan(two_houses(), MONDAY)
    said = live.replan(slip(live["14 brick"], 6))
    moves = {m.activity_id: m for m in said.moves}
    assert moves["14 linings"].half_days == 6
    assert all(m.cause for m in said.moves)
    assert causes(said) == {("duration", "14 brick")}
    assert {m.house for m in said.moves} == {"14"}
    assert said.houses.keys() == {"14"}
    linings = next(one for one in said.tell if one.activities == ("14 linings",))
    assert (linings.crew, linings.house, linings.start) == ("lini", "14", live.dates("14 linings").es)
    assert linings.start_before == moves["14 linings"].start_before
    assert said.tell == tuple(sorted(said.tell, key=lambda one: (one.start, one.crew)))
    check(live)


def test_the_other_house_is_not_looked_at(monkeypatch):
    live = LivePlan(two_houses(), MONDAY)
    seen = []

    def watched(facts, links, tables, dates, data_date, seeds, begin, end, *rest):
        seen.append((begin, end))
        return kernels.date_cone(facts, links, tables, dates, data_date, seeds, begin, end, *rest)

    monkeypatch.setattr(live_plan, "date_cone", watched)
    live.replan(slip(live["16 brick"], 6))
    live.replan(slip(live["14 brick"], 6))
    assert seen == [(61, 122), (0, 61)]


def test_a_relationship_between_houses_carries_a_slip_over():
    network = two_houses()
    tie = Relationship("14 brick", "16 brick")
    live = LivePlan(dataclasses.replace(network, relationships=(*network.relationships, tie)), MONDAY)
    said = live.replan(slip(live["14 brick"], 6))
    assert {"14 linings", "16 linings"} <= {m.activity_id for m in said.moves}
    check(live)


def test_a_visit_is_told_once_with_its_first_and_last_half_day():
    network = Network(
        tuple(
            Activity(name, 4, "site", "14", crew={"carpenters": 1}, visit="frame")
            for name in ("plates", "walls", "trusses")
        ),
        (Relationship("plates", "walls"), Relationship("walls", "trusses")),
        SITE,
        crews=(Crew("carpenters", 1),),
        confirmed=frozenset({"frame"}),
    )
    live = LivePlan(network, MONDAY)
    (told,) = live.replan(slip(live["walls"], 2)).tell
    assert (told.visit, told.activities, told.confirmed) == ("frame", ("walls", "trusses"), True)
    # Twelve half-days from a Monday end with the next Monday, fourteen with the Tuesday.
    assert (told.start_before, told.start) == (MONDAY, MONDAY)
    assert (told.finish_before, told.finish) == (MONDAY + 16, MONDAY + 18)


def test_rain_moves_only_what_was_to_be_worked_in_it():
    network = Network(
        (
            Activity("brick", 4, "out", "14"),
            Activity("wire", 4, "site", "14"),
            Activity("next", 2, "site", "14"),
        ),
        (Relationship("brick", "next"), Relationship("wire", "next")),
        {**SITE, "out": WorkingCalendar(name="out")},
    )
    live = LivePlan(network, MONDAY)
    said = live.replan(rain({"out": live.calendar("out")}, [MONDAY + 2]))
    assert [(m.activity_id, m.finish_moved) for m in said.moves] == [("brick", 1), ("next", 1)]
    assert causes(said) == {("calendar", "brick")}
    assert live.replan(rain({"out": live.calendar("out")}, [MONDAY + 20])).moves == ()
    check(live)


def test_a_reopened_hold_holds_again():
    network = Network(
        (
            Activity("walk", 1, "site", "14", actual_start=MONDAY, actual_finish=MONDAY + 1),
            Activity("linings", 6, "site", "14"),
        ),
        (Relationship("walk", "linings", lag=3),),
        SITE,
    )
    live = LivePlan(network, MONDAY + 2)
    assert live.dates("linings").es == MONDAY + 4
    said = live.replan(reopen(live["walk"], 2))
    assert live.dates("linings").es == MONDAY + 2 + 2 + 3
    assert causes(said) == {("progress", "walk")}
    check(live)


def test_a_change_that_makes_no_sense_is_refused_and_nothing_is_changed():
    live = LivePlan(two_houses(), MONDAY)
    before, network = dates_of(live), live.network()
    brick = live["14 brick"]
    for change, words in (
        (Change((dataclasses.replace(brick, id="attic"),)), "unknown activity 'attic'"),
        (Change((dataclasses.replace(brick, house="16"),)), "cannot change its house"),
        (Change((dataclasses.replace(brick, calendar="moon"),)), "unknown calendar 'moon'"),
        (Change(calendars={"moon": WorkingCalendar()}), "unknown calendar 'moon'"),
        (record(brick, actual_start=MONDAY + 2), "'actual_start' lies after the data date"),
    ):
        for attempt in (live.replan, live.preview):
            with pytest.raises(Refused, match=words):
                attempt(change)
        assert (dates_of(live), live.network()) == (before, network)
    for wrong in ("dates", "driving_links"):
        with pytest.raises(Refused, match="unknown activity 'attic'"):
            getattr(live, wrong)("attic")
    check(live)


def test_a_date_that_cannot_be_written_is_refused_and_nothing_is_changed():
    live = LivePlan(two_houses(), MONDAY)
    before = dates_of(live)
    with pytest.raises(BeyondTime, match="outside the years 1 to 9999"):
        live.replan(slip(live["14 brick"], 10**7))
    assert dates_of(live) == before
    live.replan(slip(live["14 brick"], 2))
    check(live)


def test_a_data_date_cannot_go_back_before_what_has_happened():
    live = LivePlan(two_houses(), MONDAY)
    first = next(a.id for a in live.network().activities if a.house == "14")
    live.replan(record(live[first], actual_start=MONDAY + 3, data_date=MONDAY + 4))
    with pytest.raises(Refused, match="'actual_start' lies after the data date"):
        live.replan(Change(data_date=MONDAY))
    assert live.data_date == MONDAY + 4
    check(live)


def test_dates_far_away_are_reached_and_taken_back():
    live = LivePlan(two_houses(), MONDAY)
    live.replan(slip(live["14 brick"], 9000))
    check(live)
    live.replan(slip(live["14 brick"], -9000))
    check(live)


def test_slips_that_cannot_be_are_refused_by_name():
    work = Activity("a", 3)
    wrongs: list[tuple[Any, str]] = [
        (-4, "'a' has fewer than 4 half-days"),
        (1.5, "whole number of half-days"),
    ]
    for wrong, words in wrongs:
        with pytest.raises(Refused, match=words):
            slip(work, wrong)
    done = Activity("a", 3, actual_start=0, actual_finish=3)
    with pytest.raises(Refused, match="'a' is finished and cannot slip"):
        slip(done, 1)
    with pytest.raises(Refused, match="nothing to re-open"):
        reopen(work)
    with pytest.raises(Refused, match="rain needs at least one calendar"):
        rain({}, [3])
    with pytest.raises(Refused, match="'a' is changed twice"):
        Change((work, work))
    with pytest.raises(Refused, match="'every' always is as it is"):
        Change(calendars={"every": WorkingCalendar()})


def test_one_house_may_be_replanned_as_a_whole():
    plan = compute_dates(two_houses(), data_date=MONDAY)
    live = LivePlan(plan.network, MONDAY)
    change = slip(plan.network["14 brick"], 6)
    after, said = replan_house(plan, change)
    assert said == live.replan(change)
    assert after.activities == live.plan().activities
    with pytest.raises(Refused, match="unknown calendar 'moon'"):
        replan_house(plan, Change(calendars={"moon": WorkingCalendar()}))
