"""The critical path method over working calendars: forward pass, backward pass, floats, reasons.

**Earliest dates** are the least solution of all constraints, found in one sweep in topological order;
**latest dates** are the greatest solution of the very same constraints with every finish held to its house's
own, found in one sweep against it. Work is contiguous: once started it runs through its calendar without a
break, so a start fixes the finish and the other way round, and a bound on a finish is a bound on the start.

The four relationship types differ only in which end of the predecessor they look at and which end of the
successor they hold:

====  ==============================  =============================
type  forward, successor              backward, predecessor
====  ==============================  =============================
FS    start >= finish + lag           finish <= start - lag
SS    start >= start + lag            start <= start - lag
FF    finish >= finish + lag          finish <= finish - lag
SF    finish >= start + lag           start <= finish - lag
====  ==============================  =============================

References: J. E. Kelley and M. R. Walker, "Critical-path planning and scheduling", 1959 (the two passes);
S. E. Elmaghraby and J. Kamburowski, "The analysis of activity networks under generalized precedence
relations", Management Science 38 (1992) 1245-1263 (the four types as difference constraints).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import MappingProxyType

from coordination.engine.concealment import find_windows
from coordination.engine.network import Activity, Network, Relationship
from coordination.engine.order import order_activities
from coordination.engine.plan import Plan, PlannedActivity, Reason, explain_demand, find_warnings
from coordination.engine.progress import count_work_left, refuse_future_facts, still_holds
from coordination.engine.workdays import (
    END_OF_TIME,
    BeyondTime,
    Refused,
    WorkingCalendar,
    add_lag,
    take_lag,
    write_half_day,
)


@dataclass(frozen=True)
class _Link:
    """A relationship with positions for ids and the calendar of its lag (None: elapsed)."""

    source: int
    target: int
    from_finish: bool
    to_finish: bool
    lag: int
    lag_calendar: WorkingCalendar | None
    relationship: Relationship


UNBOUNDED = 2 * END_OF_TIME
"""In a backward pass: nothing behind the activity bounds it."""


@dataclass(frozen=True)
class _Pass:
    """Start and finish of every activity, by position.

    For work under way `start` is where its remaining part starts, not the actual start.
    """

    start: list[int]
    finish: list[int]

    @classmethod
    def unbounded(cls, count: int) -> _Pass:
        return cls([UNBOUNDED] * count, [UNBOUNDED] * count)

    def at(self, i: int) -> tuple[int, int]:
        return self.start[i], self.finish[i]


NONE_PINNED: Mapping[int, tuple[int, int]] = MappingProxyType({})


class _Sweep:
    """A network laid out for the two sweeps: positions, order, links into and out of each activity."""

    def __init__(self, network: Network, data_date: int) -> None:
        self.network, self.data_date = network, data_date
        self.activities = network.activities
        self.order = order_activities(network)
        self.calendars = [network.calendars[activity.calendar] for activity in network.activities]
        self.into: list[list[_Link]] = [[] for _ in network.activities]
        self.out: list[list[_Link]] = [[] for _ in network.activities]
        for relationship in network.relationships:
            link = _Link(
                network.position[relationship.from_id],
                network.position[relationship.to_id],
                relationship.type[0] == "F",
                relationship.type[1] == "F",
                relationship.lag,
                network.lag_calendar_of(relationship),
                relationship,
            )
            self.into[link.target].append(link)
            self.out[link.source].append(link)
        self.work = [
            count_work_left(activity, calendar, data_date)
            for activity, calendar in zip(self.activities, self.calendars, strict=True)
        ]

    def holds(self, link: _Link) -> bool:
        """Whether a relationship still asks anything of its successor."""
        return still_holds(link.relationship, self.activities[link.source], self.activities[link.target])

    # --- earliest dates -------------------------------------------------------------------------------------

    def earliest(self) -> tuple[_Pass, list[Reason]]:
        """The least solution, and for each activity the demand that fixed it."""
        count = len(self.activities)
        dates = _Pass.unbounded(count)
        reasons = [Reason("actual")] * count
        for i in self.order:
            activity = self.activities[i]
            if activity.actual_start is not None and activity.actual_finish is not None:
                dates.start[i], dates.finish[i] = activity.actual_start, activity.actual_finish
                continue
            with _naming(activity):
                dates.start[i], dates.finish[i], reasons[i] = self._place_early(i, dates)
        return dates, reasons

    def _place_early(self, i: int, dates: _Pass) -> tuple[int, int, Reason]:
        """The least start that meets every demand, its finish, and the demand that is met last."""
        activity, calendar, n = self.activities[i], self.calendars[i], self.work[i]
        demand, reason = self.data_date, Reason("data_date")
        if activity.not_before is not None and not activity.under_way and activity.not_before >= demand:
            demand, reason = activity.not_before, Reason("not_before")
        driven = False
        for link in self.into[i]:
            if not self.holds(link):
                continue
            bound = add_lag(self._seen(link, dates), link.lag, link.lag_calendar)
            if link.to_finish:
                bound = calendar.start_to_finish_from(bound, n)
            # Of equal demands a relationship is the reason before a date, the first given before the others.
            if bound > demand or (bound == demand and not driven):
                demand, reason, driven = bound, Reason("relationship", link.relationship), True
        start = calendar.next_start(demand, n)
        finish = calendar.finish_of(start, n)
        write_half_day(max(start, finish - 1))
        return start, finish, explain_demand(reason, start - demand)

    def _seen(self, link: _Link, dates: _Pass) -> int:
        """The end of the predecessor that a relationship looks at: its successors see an actual start."""
        source = self.activities[link.source]
        if not link.from_finish and source.actual_start is not None:
            return source.actual_start
        return (dates.finish if link.from_finish else dates.start)[link.source]

    # --- latest dates ---------------------------------------------------------------------------------------

    def place_late(self, i: int, finish_by: int, later: _Pass) -> tuple[int, int]:
        """The greatest start and finish that keep every successor at the dates of `later`.

        `finish_by` is a bound on the finish from elsewhere. Both may be `UNBOUNDED`.
        """
        calendar, n = self.calendars[i], self.work[i]
        start_by = UNBOUNDED
        for link in self.out[i]:
            kept = (later.finish if link.to_finish else later.start)[link.target]
            if kept == UNBOUNDED or not self.holds(link):
                continue
            if not link.from_finish and self.activities[i].actual_start is not None:
                continue  # a start that has happened holds nobody back
            bound = take_lag(kept, link.lag, link.lag_calendar)
            if link.from_finish:
                finish_by = min(finish_by, bound)
            else:
                start_by = min(start_by, bound)
        if finish_by < UNBOUNDED:
            start_by = min(start_by, calendar.start_to_finish_by(finish_by, n))
        if start_by == UNBOUNDED:
            return UNBOUNDED, UNBOUNDED
        start = calendar.last_start(start_by, n)
        return start, calendar.finish_of(start, n)

    def latest(self, finish_by: Sequence[int], pinned: Mapping[int, tuple[int, int]] = NONE_PINNED) -> _Pass:
        """The greatest solution with each finish at most `finish_by`; `pinned` activities stay."""
        dates = _Pass.unbounded(len(self.activities))
        for i in reversed(self.order):
            activity = self.activities[i]
            if i in pinned:
                dates.start[i], dates.finish[i] = pinned[i]
            elif not activity.finished:
                with _naming(activity):
                    dates.start[i], dates.finish[i] = self.place_late(i, finish_by[i], dates)
        return dates

    # --- floats ---------------------------------------------------------------------------------------------

    def float_between(self, i: int, early: tuple[int, int], late: tuple[int, int]) -> int:
        """Working half-days from early to late start (of work under way: of what remains of it).

        Work is unbroken, so that it is as many from finish to finish.
        """
        return self.calendars[i].count(early[0], late[0])

    def ancestors(self, i: int) -> set[int]:
        """Positions of all activities that i waits for, at any distance, and i itself."""
        found, stack = {i}, [i]
        while stack:
            for link in self.into[stack.pop()]:
                if link.source not in found:
                    found.add(link.source)
                    stack.append(link.source)
        return found

    def floats_to(self, target: int, early: _Pass) -> list[int | None]:
        """Float of every activity to the early dates of one: how far it may slip before that one moves."""
        late = self.latest([UNBOUNDED] * len(self.activities), {target: early.at(target)})
        before = self.ancestors(target)
        floats: list[int | None] = []
        for i, activity in enumerate(self.activities):
            if i in before and activity.finished:
                floats.append(0)
            elif i in before and late.start[i] != UNBOUNDED:
                floats.append(self.float_between(i, early.at(i), late.at(i)))
            else:
                floats.append(None)
        return floats


@contextmanager
def _naming(activity: Activity) -> Iterator[None]:
    """Name the activity in the refusal of a date that cannot be written."""
    try:
        yield
    except BeyondTime as error:
        raise BeyondTime(f"activity {activity.id!r} cannot be dated: {error}") from None


def compute_dates(network: Network, *, data_date: int = 0, float_to: str | Collection[str] = ()) -> Plan:
    """Compute the dates, floats and windows of a network.

    Parameters
    ----------
    network
        activities, relationships, calendars and details.
    data_date
        the instant up to which work is recorded; nothing that is not recorded lies before it.
    float_to
        id or ids of activities to which every activity's float is wanted besides.

    Returns
    -------
    Plan
        the same for the same input, always.

    Raises
    ------
    Refused
        naming the activity: a circle, an unknown id in `float_to`, actual dates after the data date, a date
        that cannot be written.

    >>> from coordination.engine import Activity, Network, Relationship
    >>> wait = Network((Activity("frame", 12), Activity("wrap", 3)), (Relationship("frame", "wrap", lag=2),))
    >>> plan = compute_dates(wait)
    >>> plan["wrap"].es, plan.finish, plan.driving_chain()
    (14, 17, ('frame', 'wrap'))
    """
    wanted = (float_to,) if isinstance(float_to, str) else tuple(float_to)
    for name in wanted:
        if name not in network.position:
            raise Refused(f"the float to the unknown activity {name!r} was asked for: correct the name")
    for activity in network.activities:
        refuse_future_facts(activity, data_date)
    sweep = _Sweep(network, data_date)
    early, reasons = sweep.earliest()

    finish = max(early.at(i)[1] for i in sweep.order)
    houses: dict[str, int] = {}
    for i, activity in enumerate(network.activities):
        if activity.house is not None:
            houses[activity.house] = max(houses.get(activity.house, early.at(i)[1]), early.at(i)[1])
    house_finish = [finish if a.house is None else houses[a.house] for a in network.activities]
    wanted_by = [
        end if a.not_after is None else min(end, a.not_after)
        for a, end in zip(network.activities, house_finish, strict=True)
    ]
    late = sweep.latest(wanted_by)
    floats_to = {name: sweep.floats_to(network.position[name], early) for name in wanted}

    activities: dict[str, PlannedActivity] = {}
    for i in range(len(network.activities)):
        to_named = {name: floats[i] for name, floats in floats_to.items()}
        with _naming(network.activities[i]):
            planned = _describe(sweep, i, early, late, house_finish[i], reasons[i], to_named)
        activities[planned.id] = planned
    return Plan(
        network=network,
        data_date=data_date,
        activities=activities,
        details=find_windows(network, data_date, activities),
        houses=houses,
        finish=finish,
        warnings=tuple(find_warnings(network, activities)),
        order=tuple(network.activities[i].id for i in sweep.order),
    )


def _describe(
    sweep: _Sweep,
    i: int,
    early: _Pass,
    late: _Pass,
    house_finish: int,
    reason: Reason,
    float_to: dict[str, int | None],
) -> PlannedActivity:
    """The dates of one activity as the plan shows them."""
    activity, calendar = sweep.activities[i], sweep.calendars[i]
    es, ef = early.at(i)
    total: int | None
    free: int | None
    if activity.finished:
        ls, lf, total, free = es, ef, 0, 0
    else:
        ls, lf = late.at(i)
        total = sweep.float_between(i, (es, ef), (ls, lf))
        # Free float is the same question with the successors at their early dates, to the house's end.
        kept = sweep.place_late(i, house_finish, early)
        free = sweep.float_between(i, (es, ef), kept)
        if activity.duration == 0 and not sweep.out[i]:
            total = free = None
    if activity.actual_start is not None:
        es = activity.actual_start
        ls = activity.actual_start
    milestone = es == ef
    first = calendar.next_start(es, 1) if milestone else es
    return PlannedActivity(
        id=activity.id,
        house=activity.house,
        es=es,
        ef=ef,
        ls=ls,
        lf=lf,
        total_float=total,
        free_float=free,
        critical=not activity.finished and total is not None and total <= 0,
        reason=reason,
        first_half_day=first,
        last_half_day=first if milestone else ef - 1,
        float_to=float_to,
    )
