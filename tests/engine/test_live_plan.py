"""A plan kept up to date equals a plan computed anew, after every change, date by date and reason by reason.

The plan computed anew is `compute_dates`, which `test_against_oracle.py` judges by a slow second opinion.
"""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination.engine import (
    Crew,
    WorkingCalendar,
    compare_plans,
)
from coordination.engine import cone_kernels as kernels
from coordination.engine.compiled import plain_twin
from coordination.engine.live_changes import Change, rain, record, reopen, slip
from coordination.engine.live_plan import LivePlan
from tests.engine.strategies import problems

SITE = {"site": WorkingCalendar(name="site")}


def dates_of(live):
    return {name: dataclasses.astuple(live.dates(name)) for name in live.network().position}


def dates_of_plan(plan):
    return {
        a.id: dataclasses.astuple(a.__class__(**vars(a)))[2:8]
        and (a.es, a.ef, a.ls, a.lf, a.total_float, a.free_float, dataclasses.astuple(a.reason))
        for a in plan.activities.values()
    }


def check(live):
    """The live plan is the plan computed anew; returns that."""
    plan = live.plan()
    assert dates_of(live) == dates_of_plan(plan)
    assert live.houses == plan.houses
    assert live.finish == plan.finish
    return plan


@st.composite
def changes(draw, live):
    """A slip, a confirmation, rain in a calendar, a re-opened point, a later data date, or several at once."""
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


@settings(max_examples=300, deadline=None, derandomize=True)
@given(problems(most=8), st.data())
def test_after_every_change_all_is_as_computed_anew(problem, data):
    network, _, data_date = problem
    live = LivePlan(network, data_date)
    check(live)
    for _ in range(data.draw(st.integers(1, 4))):
        live.replan(data.draw(changes(live)))
        check(live)


@settings(max_examples=200, deadline=None, derandomize=True)
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


@settings(max_examples=100, deadline=None, derandomize=True)
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


@settings(max_examples=60, deadline=None, derandomize=True)
@given(problems(most=6), st.data())
def test_the_plain_twin_gives_what_the_compiled_kernel_gives(problem, data):
    network, _, data_date = problem
    with pytest.MonkeyPatch.context() as patched:
        import coordination.engine.live_plan as live_plan

        for name in ("_before", "_kth", "_holds", "_place_early", "_place_late", "date_cone"):
            patched.setattr(kernels, name, plain_twin(getattr(kernels, name)))
        patched.setattr(live_plan, "date_cone", kernels.date_cone)
        live = LivePlan(network, data_date)
        live.replan(data.draw(changes(live)))
        check(live)
