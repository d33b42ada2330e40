"""A network as arrays that a change is written into: facts, relationships, dates, calendars.

For `live_plan`; the kernel that reads them is `cone_kernels.date_cone`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coordination.engine.compiled_dates import lay_out_calendars
from coordination.engine.cone_kernels import FAR, FINISHED, FROM_FINISH, TO_FINISH, UNDER_WAY, UNSTARTED
from coordination.engine.network import EVERY_NAME, Activity, Network
from coordination.engine.parts import Parts
from coordination.engine.progress import count_work_left
from coordination.engine.workdays import END_OF_TIME, FIRST_INSTANT, WorkingCalendar

Whole = NDArray[np.int32]


class FactRows(NamedTuple):
    """What is given of each activity, by place. `bare`: planned with no half-days, a milestone."""

    state: Whole
    calendar: Whole
    work: Whole
    not_before: Whole
    not_after: Whole
    actual_start: Whole
    actual_finish: Whole
    bare: Whole
    house: Whole


class LinkRows(NamedTuple):
    """Relationships in rows: those into place i from `into[i]` on; `leaving` lists those out, from `out[i]`.

    `lag_calendar` is -1 where the lag is elapsed or 0.
    """

    into: Whole
    source: Whole
    target: Whole
    kind: Whole
    lag: Whole
    lag_calendar: Whole
    out: Whole
    leaving: Whole


class CalendarTables(NamedTuple):
    """`before` and `kth` of each calendar from instant `first` on, both counted from 0."""

    first: int
    before: Whole
    kth: Whole


class DateRows(NamedTuple):
    """Dates by place, and what drove them: a relationship's row, or one of `cone_kernels.BY_...`."""

    es: Whole
    ef: Whole
    ls: Whole
    lf: Whole
    total: Whole
    free: Whole
    driver: Whole
    waits: Whole


def lay_out_facts(network: Network, parts: Parts) -> FactRows:
    """Rows for all activities, still to be filled by `write_facts`."""
    rows = np.zeros((9, len(parts.order)), dtype=np.int32)
    rows[8] = parts.house
    return FactRows(*rows)


def write_facts(
    rows: FactRows, place: int, activity: Activity, number: int, calendar: WorkingCalendar, data_date: int
) -> None:
    """Write one activity's facts; `number` is that of its calendar."""
    started, ended = activity.actual_start, activity.actual_finish
    rows.state[place] = UNSTARTED if started is None else UNDER_WAY if ended is None else FINISHED
    rows.calendar[place] = number
    rows.work[place] = count_work_left(activity, calendar, data_date)
    rows.not_before[place] = (
        -FAR if activity.not_before is None else min(activity.not_before, END_OF_TIME + 1)
    )
    rows.not_after[place] = FAR if activity.not_after is None else min(activity.not_after, FAR)
    rows.actual_start[place] = 0 if started is None else started
    rows.actual_finish[place] = 0 if ended is None else ended
    rows.bare[place] = activity.duration == 0


def lay_out_links(network: Network, parts: Parts) -> tuple[LinkRows, NDArray[np.int64]]:
    """Relationships in rows, and for each row which relationship of the network it is."""
    numbers = {name: c for c, name in enumerate(network.calendars)}
    count = len(parts.order)
    rows = np.argsort(parts.target, kind="stable")
    links = [network.relationships[e] for e in rows.tolist()]
    source, target = parts.source[rows], parts.target[rows]
    counted = []
    for link in links:
        name = link.lag_calendar or network[link.to_id].calendar
        counted.append(-1 if link.lag == 0 or name == EVERY_NAME else numbers.get(name, -1))

    def ints(values: Sequence[int]) -> Whole:
        return np.array(values, dtype=np.int32)

    def rows_of(ends: Whole) -> Whole:
        return np.concatenate(([0], np.cumsum(np.bincount(ends, minlength=count)))).astype(np.int32)

    return LinkRows(
        rows_of(target),
        source,
        target,
        ints([FROM_FINISH * (x.type[0] == "F") + TO_FINISH * (x.type[1] == "F") for x in links]),
        ints([x.lag for x in links]),
        ints(counted),
        rows_of(source),
        np.argsort(source, kind="stable").astype(np.int32),
    ), rows


def lay_out_tables(calendars: Sequence[WorkingCalendar], first: int, end: int) -> CalendarTables:
    """Tables over a horizon, cut where dates can no longer be written."""
    found = lay_out_calendars(calendars, max(first, FIRST_INSTANT), min(end, END_OF_TIME))
    return CalendarTables(found.first, found.before, found.kth)
