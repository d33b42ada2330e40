"""The passes against an independent relaxation on random networks, to the half-day."""

import dataclasses

from hypothesis import HealthCheck, assume, given, settings

from coordination.engine import compute_dates, verify_plan
from tests.engine.oracle import Oracle
from tests.engine.strategies import problems

thorough = settings(
    max_examples=200,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


def placed(plan):
    """Start of what is left, and finish, as the oracle sees it."""
    network = plan.network
    return {
        a.id: (a.es if network[a.id].actual_start is None else network[a.id].actual_start, a.ef)
        for a in plan.activities.values()
    }


def expected(network, dates):
    return {
        a.id: (dates[a.id][0] if a.actual_start is None else a.actual_start, dates[a.id][1])
        for a in network.activities
    }


@thorough
@given(problems())
def test_earliest_dates_are_the_least_solution(problem):
    network, axes, data_date = problem
    plan = compute_dates(network, data_date=data_date)
    assert placed(plan) == expected(network, Oracle(network, axes, data_date).earliest())


@thorough
@given(problems())
def test_latest_dates_are_the_greatest_solution_and_float_is_between(problem):
    network, axes, data_date = problem
    oracle = Oracle(network, axes, data_date)
    early = oracle.earliest()
    ends = oracle.house_finishes(early)
    wanted = {
        a.id: min(ends[a.id], ends[a.id] if a.not_after is None else a.not_after) for a in network.activities
    }
    late = oracle.latest(wanted)
    plan = compute_dates(network, data_date=data_date)
    assert {a.id: (a.ls, a.lf) for a in plan.activities.values()} == expected(network, late)
    sources = {link.from_id for link in network.relationships}
    for a in network.activities:
        if a.finished:
            assert (plan[a.id].total_float, plan[a.id].critical) == (0, False)
        elif a.duration == 0 and a.id not in sources:
            assert (plan[a.id].total_float, plan[a.id].free_float, plan[a.id].critical) == (None, None, False)
        else:
            left = oracle.float_of(a.id, early, late)
            assert (plan[a.id].total_float, plan[a.id].critical) == (left, left <= 0)


@thorough
@given(problems())
def test_float_to_a_named_activity_is_the_slip_that_leaves_it_alone(problem):
    network, axes, data_date = problem
    oracle = Oracle(network, axes, data_date)
    target = network.activities[0].id
    plan = compute_dates(network, data_date=data_date, float_to=target)
    early = oracle.earliest()
    far = {a.id: data_date + 1500 for a in network.activities}
    late = oracle.latest(far, {target: early[target]})
    for a in network.activities:
        found = plan[a.id].float_to[target]
        if a.finished or found is None:
            continue
        assert found == oracle.float_of(a.id, early, late)
    for a in network.activities:
        if plan[a.id].float_to[target] is None:
            assert late[a.id][1] > data_date + 1400 or a.finished  # nothing bounded it


@settings(thorough, max_examples=120)
@given(problems(progress=False, most=5))
def test_free_float_is_found_by_trying(problem):
    network, axes, data_date = problem
    oracle = Oracle(network, axes, data_date)
    plan = compute_dates(network, data_date=data_date)
    early = oracle.earliest()
    for a in network.activities:
        if plan[a.id].free_float is not None and a.duration:
            assert plan[a.id].free_float == oracle.free_float(a.id, early)


@thorough
@given(problems(deadlines=False))
def test_without_deadlines_total_float_is_at_least_free_float_and_that_at_least_none(problem):
    network, _, data_date = problem
    for a in compute_dates(network, data_date=data_date).activities.values():
        if a.total_float is not None and a.free_float is not None:
            assert a.total_float >= a.free_float >= 0
        assert a.es <= a.ls or network[a.id].finished
        assert a.ef <= a.lf


def slipped(network, plan, name, k):
    """The network with one unstarted activity held k working half-days behind its early start."""
    calendar = network.calendar_of(name)
    later = calendar.kth(calendar.before(plan[name].es) + k)
    return dataclasses.replace(
        network,
        activities=tuple(
            dataclasses.replace(a, not_before=later, not_after=None) if a.id == name else a
            for a in network.activities
        ),
    )


@settings(thorough, max_examples=120)
@given(problems(deadlines=False))
def test_a_slip_within_total_float_moves_no_end_and_one_more_does(problem):
    network, _, data_date = problem
    plan = compute_dates(network, data_date=data_date)
    for a in network.activities:
        if a.actual_start is not None or a.duration == 0:
            continue
        total = plan[a.id].total_float or 0
        within = compute_dates(slipped(network, plan, a.id, total), data_date=data_date)
        assert (within.finish, within.houses) == (plan.finish, plan.houses)
        beyond = compute_dates(slipped(network, plan, a.id, total + 1), data_date=data_date)
        assert (beyond.finish, beyond.houses) != (plan.finish, plan.houses)


@settings(thorough, max_examples=120)
@given(problems(deadlines=False))
def test_a_slip_within_free_float_moves_no_successor(problem):
    network, _, data_date = problem
    plan = compute_dates(network, data_date=data_date)
    for a in network.activities:
        if a.actual_start is not None or a.duration == 0:
            continue
        within = compute_dates(slipped(network, plan, a.id, plan[a.id].free_float), data_date=data_date)
        moved = {b.id for b in within.activities.values() if (b.es, b.ef) != (plan[b.id].es, plan[b.id].ef)}
        assert moved <= {a.id}


@thorough
@given(problems())
def test_every_date_follows_from_its_reason(problem):
    network, axes, data_date = problem
    oracle = Oracle(network, axes, data_date)
    plan = compute_dates(network, data_date=data_date)
    for a in plan.activities.values():
        activity, reason = network[a.id], a.reason
        if activity.finished:
            assert reason.kind == "actual"
            continue
        if reason.relationship is not None:
            assert reason.relationship.to_id == a.id
            gone = tuple(link for link in network.relationships if link != reason.relationship)
            freed = compute_dates(dataclasses.replace(network, relationships=gone), data_date=data_date)
            assert freed[a.id].ef <= a.ef
            continue
        floor = {"data_date": data_date, "not_before": activity.not_before}
        bound = floor[reason.after or reason.kind]
        assert oracle.place(a.id, bound, 1)[1] == a.ef
        assert (reason.kind == "calendar") == (reason.waits > 0)


@thorough
@given(problems())
def test_the_independent_judge_accepts_every_plan(problem):
    network, _, data_date = problem
    assert verify_plan(compute_dates(network, data_date=data_date)) == []


@settings(thorough, max_examples=100)
@given(problems(most=5))
def test_the_same_input_gives_the_same_plan(problem):
    network, _, data_date = problem
    assume(len(network.relationships) > 1)
    first, second = (compute_dates(network, data_date=data_date) for _ in range(2))
    assert (first.activities, first.houses) == (second.activities, second.houses)
