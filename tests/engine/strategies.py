"""Random networks for property tests: calendars, relationships of all types, wishes, progress, houses."""

import dataclasses

from hypothesis import strategies as st

from coordination.engine import Activity, Network, Relationship, WorkingCalendar
from coordination.engine.network import EVERY_NAME
from tests.engine.networks import MONDAY
from tests.engine.oracle import Axis

SPAN = range(MONDAY - 800, MONDAY + 4000)


@st.composite
def calendars(draw, name):
    """A working calendar and the plain set of its half-days."""
    week = draw(st.lists(st.sampled_from((0, 1, 2, 2)), min_size=7, max_size=7).filter(any))
    near = st.sets(st.integers(MONDAY - 40, MONDAY + 80), max_size=12)
    off, on = draw(near), draw(near)
    calendar = WorkingCalendar(week, frozenset(off), frozenset(on), name=name)
    plain = {t for t in SPAN if week[t // 2 % 7] > t % 2}
    return calendar, Axis(frozenset((plain - off) | on))


@st.composite
def problems(draw, deadlines=True, progress=True, most=6):
    """A network, its calendars as plain sets, and a data date."""
    data_date = MONDAY + draw(st.integers(0, 13))
    made = {name: draw(calendars(name)) for name in ("a", "b")}
    axes = {name: axis for name, (_, axis) in made.items()} | {EVERY_NAME: Axis(frozenset(SPAN))}
    names = "pqrstuvw"[: draw(st.integers(1, most))]
    houses = st.sampled_from((None, "north", "south"))
    activities = []
    for name in names:
        activity = Activity(
            name,
            draw(st.integers(0, 5)),
            calendar=draw(st.sampled_from(("a", "b", EVERY_NAME))),
            house=draw(houses),
            not_before=draw(st.none() | st.integers(data_date - 5, data_date + 20)),
        )
        if deadlines:
            wanted = draw(st.none() | st.integers((activity.not_before or data_date) + 1, data_date + 40))
            activity = dataclasses.replace(activity, not_after=wanted)
        if progress:
            activity = draw(worked_on(activity, data_date))
        activities.append(activity)
    links = []
    for j, target in enumerate(names):
        for source in names[:j]:
            for kind in draw(st.lists(st.sampled_from(("FS", "SS", "FF", "SF")), max_size=2)):
                lag = draw(st.integers(-4, 6))
                counted = draw(st.sampled_from((None, "elapsed", "a", EVERY_NAME)))
                links.append(Relationship(source, target, kind, lag, counted))
    order = draw(st.permutations(activities))
    network = Network(tuple(order), tuple(links), {name: c for name, (c, _) in made.items()})
    return network, axes, data_date


@st.composite
def worked_on(draw, activity, data_date):
    """The activity unstarted, under way or finished."""
    state = draw(st.sampled_from(("unstarted", "unstarted", "under way", "finished")))
    if state == "unstarted":
        return activity
    start = data_date - draw(st.integers(0, 20))
    if state == "finished":
        return dataclasses.replace(
            activity, actual_start=start, actual_finish=draw(st.integers(start, data_date))
        )
    remaining = draw(st.none() | st.integers(0, 4))
    return dataclasses.replace(activity, actual_start=start, remaining=remaining)
