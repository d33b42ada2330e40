"""A plan that is kept up to date: a change recomputes what it can reach, and says what moved.

The dates are those of `critical_path.compute_dates` over the facts as they stand, always. Forward from what
was changed an activity is looked at only when something that it waits for moved, back likewise; houses that
nothing ties to the change are not touched. Incremental longest paths: L. Michel, P. Van Hentenryck,
"Maintaining longest paths incrementally", Constraints 10 (2005) 157-183 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from coordination.engine.changes import (
    Cause,
    Move,
    PlanDifference,
    VisitKey,
    crews_of,
    find_cause,
    find_visit_moves,
    visit_keys,
)
from coordination.engine.compiled import say_once_if_slow
from coordination.engine.cone_kernels import FAR, FINISHED, NO_FLOAT, UNSTARTED, date_cone
from coordination.engine.critical_path import compute_dates
from coordination.engine.live_changes import Change
from coordination.engine.live_layout import (
    CalendarTables,
    DateRows,
    lay_out_facts,
    lay_out_links,
    lay_out_tables,
    write_facts,
)
from coordination.engine.live_sides import LiveDates, LiveSide, name_only_change
from coordination.engine.network import Activity, Network, Relationship
from coordination.engine.parts import find_parts
from coordination.engine.plan import Plan
from coordination.engine.progress import refuse_future_facts
from coordination.engine.workdays import (
    END_OF_TIME,
    FIRST_INSTANT,
    HALF_DAYS_PER_WEEK,
    BeyondTime,
    Refused,
    WorkingCalendar,
)

Whole = NDArray[np.int32]


@dataclass
class _Undo:
    """What a change has overwritten, from place `begin` to `end`."""

    begin: int
    end: int
    block: Whole
    shown: Whole
    ends: Whole
    activities: dict[int, Activity]
    calendars: dict[str, WorkingCalendar]
    tables: CalendarTables
    data_date: int


class LivePlan:
    """The dates of a network over any number of houses, kept up to date.

    >>> from coordination.engine import Relationship, slip
    >>> wait = Network((Activity("frame", 12), Activity("wrap", 3)), (Relationship("frame", "wrap"),))
    >>> live = LivePlan(wait)
    >>> found = live.replan(slip(live["frame"], 2))
    >>> [(move.activity_id, move.finish_moved, move.cause.activity_id) for move in found.moves]
    [('frame', 2, 'frame'), ('wrap', 2, 'frame')]
    """

    def __init__(self, network: Network, data_date: int = 0) -> None:
        """Compute all dates once. Raises `Refused` as `compute_dates` does."""
        say_once_if_slow()
        for activity in network.activities:
            refuse_future_facts(activity, data_date)
        self._network = network
        self._parts = parts = find_parts(network)
        self._place = {network.activities[i].id: p for p, i in enumerate(parts.order.tolist())}
        self._activities = [network.activities[i] for i in parts.order.tolist()]
        self._calendars = dict(network.calendars)
        self._numbers = {name: c for c, name in enumerate(self._calendars)}
        self._links, self._rows = lay_out_links(network, parts)
        self._facts = lay_out_facts(network, parts)
        self.data_date = data_date
        for p in range(len(self._activities)):
            self._write(p)
        count = len(self._activities)
        self._block = np.full((8, count), -FAR, dtype=np.int32)
        self._dates = DateRows(*self._block)
        self._ends = np.full(len(parts.houses), -FAR, dtype=np.int32)
        self._forward, self._backward = np.zeros(count, np.uint8), np.zeros(count, np.uint8)
        begun = [a.actual_start for a in self._activities if a.actual_start is not None]
        reach = 104 * HALF_DAYS_PER_WEEK
        self._tables = self._make_tables(min([data_date, *begun]) - reach // 2, data_date + reach)
        self._keys: list[tuple[VisitKey, ...]] = [visit_keys(a) for a in self._activities]
        self._visits: dict[VisitKey, list[str]] = {}
        for a, keys in zip(self._activities, self._keys, strict=True):
            for key in keys:
                self._visits.setdefault(key, []).append(a.id)
        self._compute(np.arange(count, dtype=np.int32), 0, count)

    # --- as it stands ---------------------------------------------------------------------------------------

    def __getitem__(self, activity_id: str) -> Activity:
        """The facts of an activity as they stand; raises `Refused` when there is none of that id."""
        standing: Activity = self._activities[self._find(activity_id)]
        return standing

    def dates(self, activity_id: str) -> LiveDates:
        """The dates of an activity as they stand."""
        p = self._find(activity_id)
        es, ef, ls, lf, total, free = self._block[:6, p].tolist()
        started = self._facts.state[p] != UNSTARTED
        if started:
            es = ls = int(self._facts.actual_start[p])
        floats = (None if total == NO_FLOAT else total, None if free == NO_FLOAT else free)
        return LiveDates(es, ef, ls, lf, *floats, self._now().reason_of(activity_id))

    @property
    def houses(self) -> dict[str, int]:
        """The finish of each house."""
        named = zip(self._parts.houses, self._ends.tolist(), strict=True)
        return {name: finish for name, finish in named if name is not None}

    @property
    def finish(self) -> int:
        """The finish of all."""
        return int(self._dates.ef.max())

    def calendar(self, name: str) -> WorkingCalendar:
        """A calendar as it stands; raises `Refused` for an unknown name."""
        if name not in self._calendars:
            raise Refused(f"unknown calendar {name!r}: correct the name")
        return self._calendars[name]

    def driving_links(self, to: str) -> tuple[Relationship, ...]:
        """The relationships that drive an activity, first cause first."""
        self._find(to)
        return self._now().driving_links(to)

    def network(self) -> Network:
        """The network with the facts as they stand (built anew each time)."""
        return replace(
            self._network,
            activities=tuple(self._activities[p] for p in self._parts.place.tolist()),
            calendars=self._calendars,
        )

    def plan(self) -> Plan:
        """The whole plan with reasons, windows and warnings, computed in full."""
        return compute_dates(self.network(), data_date=self.data_date)

    # --- changes --------------------------------------------------------------------------------------------

    def replan(self, change: Change) -> PlanDifference:
        """Take a change in and say what moved.

        Raises:
            Refused: for an unknown activity or calendar, an activity changing its house, actual dates after
                the data date, a date that cannot be written. Then nothing has changed.
        """
        undo = self._apply(change)
        return self._compare(change, undo)

    def preview(self, change: Change) -> PlanDifference:
        """Say what a change would move, and leave everything as it is."""
        undo = self._apply(change)
        try:
            return self._compare(change, undo)
        finally:
            self._take_back(undo)

    def _apply(self, change: Change) -> _Undo:
        places = [self._find(a.id) for a in change.activities]
        data_date = self.data_date if change.data_date is None else change.data_date
        self._refuse(change, places, data_date)
        seeds = np.array(places, dtype=np.int32)
        if change.calendars or data_date != self.data_date:
            seeds = np.union1d(seeds, self._reached(change, data_date)).astype(np.int32)
        begin, end = 0, len(self._activities)
        if len(seeds):
            begin, _ = self._parts.part_of(int(seeds.min()))
            _, end = self._parts.part_of(int(seeds.max()))
        undo = _Undo(
            begin,
            end,
            self._block[:, begin:end].copy(),
            self._shown(begin, end),
            self._ends.copy(),
            {p: self._activities[p] for p in places},
            {name: self._calendars[name] for name in change.calendars},
            self._tables,
            self.data_date,
        )
        try:
            self._write_change(change, places, seeds, data_date)
            if len(seeds):
                self._compute(seeds, begin, end)
        except BeyondTime:
            self._take_back(undo)
            raise
        return undo

    def _refuse(self, change: Change, places: list[int], data_date: int) -> None:
        for p, activity in zip(places, change.activities, strict=True):
            if activity.house != self._activities[p].house:
                raise Refused(f"activity {activity.id!r} cannot change its house: build the plan anew")
            if activity.calendar not in self._calendars:
                raise Refused(
                    f"activity {activity.id!r} names the unknown calendar {activity.calendar!r}: "
                    "add it or correct the name"
                )
            refuse_future_facts(activity, data_date)
        for name in change.calendars:
            self.calendar(name)
        if data_date < self.data_date:
            changed = set(places)
            for p in np.flatnonzero(self._facts.state != UNSTARTED).tolist():
                if p not in changed:
                    refuse_future_facts(self._activities[p], data_date)

    def _reached(self, change: Change, data_date: int) -> NDArray[np.int64]:
        """Places whose dates or floats another calendar or data date can change by itself."""
        open_work = self._facts.state != FINISHED
        if data_date != self.data_date:
            return np.flatnonzero(open_work)
        numbers = [self._numbers[name] for name in change.calendars]
        touched = np.isin(self._facts.calendar, numbers)
        counted = np.isin(self._links.lag_calendar, numbers)
        touched[self._links.source[counted]] = True
        touched[self._links.target[counted]] = True
        return np.flatnonzero(touched & open_work)

    def _write_change(self, change: Change, places: list[int], seeds: Whole, data_date: int) -> None:
        for p, activity in zip(places, change.activities, strict=True):
            self._activities[p] = activity
        self._calendars.update(change.calendars)
        self.data_date = data_date
        if change.calendars:
            first, last = self._tables.first, self._tables.first + self._tables.before.shape[1] - 1
            self._tables = self._make_tables(first, last)
        for p in seeds.tolist() if change.calendars or change.data_date is not None else places:
            self._write(p)

    def _take_back(self, undo: _Undo) -> None:
        """Put everything back as it was before a change."""
        written = list(undo.activities)
        if undo.calendars or self.data_date != undo.data_date:
            written = list(range(undo.begin, undo.end))
        for p, activity in undo.activities.items():
            self._activities[p] = activity
        self._calendars.update(undo.calendars)
        self.data_date, self._tables = undo.data_date, undo.tables
        self._block[:, undo.begin : undo.end] = undo.block
        self._ends[:] = undo.ends
        for p in written:
            self._write(p)

    # --- the computation ------------------------------------------------------------------------------------

    def _find(self, activity_id: str) -> int:
        if activity_id not in self._place:
            raise Refused(f"unknown activity {activity_id!r}: correct the name")
        return self._place[activity_id]

    def _write(self, p: int) -> None:
        a = self._activities[p]
        write_facts(self._facts, p, a, self._numbers[a.calendar], self._calendars[a.calendar], self.data_date)

    def _make_tables(self, first: int, end: int) -> CalendarTables:
        return lay_out_tables(list(self._calendars.values()), first, end)

    def _compute(self, seeds: Whole, begin: int, end: int) -> None:
        block, ends = self._block[:, begin:end].copy(), self._ends.copy()
        while not date_cone(
            self._facts,
            self._links,
            self._tables,
            self._dates,
            self.data_date,
            seeds,
            begin,
            end,
            self._ends,
            self._forward,
            self._backward,
        ):
            self._forward[:], self._backward[:] = 0, 0
            self._block[:, begin:end], self._ends[:] = block, ends
            first, length = self._tables.first, self._tables.before.shape[1]
            if first == FIRST_INSTANT and first + length - 1 == END_OF_TIME:
                raise BeyondTime("a date outside the years 1 to 9999 cannot be written")
            self._tables = self._make_tables(first - length, first + 2 * length)

    def _shown(self, begin: int, end: int) -> Whole:
        """Starts as they are shown: of begun work the actual ones."""
        state, actual = self._facts.state[begin:end], self._facts.actual_start[begin:end]
        return np.where(state != UNSTARTED, actual, self._dates.es[begin:end])

    # --- the comparison -------------------------------------------------------------------------------------

    def _now(self) -> LiveSide:
        return LiveSide(
            self._network,
            self._place,
            self._activities,
            self._calendars,
            self.data_date,
            self._block,
            self._rows,
        )

    def _before(self, undo: _Undo) -> LiveSide:
        block = self._block.copy()
        block[:, undo.begin : undo.end] = undo.block
        return LiveSide(
            self._network,
            self._place,
            self._activities,
            {**self._calendars, **undo.calendars},
            undo.data_date,
            block,
            self._rows,
            undo.activities,
        )

    def _compare(self, change: Change, undo: _Undo) -> PlanDifference:
        begin, end = undo.begin, undo.end
        es, ef = self._shown(begin, end), self._dates.ef[begin:end]
        was_es, was_ef = undo.shown, undo.block[1]
        moved = np.flatnonzero((es != was_es) | (ef != was_ef))
        moved = moved[np.argsort(self._parts.order[moved + begin])]
        calendars, before = self._facts.calendar[moved + begin], self._tables.before
        first = self._tables.first
        counted = before[calendars, ef[moved] - first] - before[calendars, was_ef[moved] - first]
        only = self._only_cause(change, undo)
        sides = None if only else (self._before(undo), self._now())
        moves = []
        for p, s0, f0, s1, f1, n in zip(
            (moved + begin).tolist(),
            was_es[moved].tolist(),
            was_ef[moved].tolist(),
            es[moved].tolist(),
            ef[moved].tolist(),
            counted.tolist(),
            strict=True,
        ):
            a = self._activities[p]
            cause = only if sides is None else find_cause(*sides, a.id)
            moves.append(Move(a.id, a.house, crews_of(a), s0, f0, s1, f1, n, cause))
        names = self._parts.houses
        shifted = np.flatnonzero(self._ends != undo.ends).tolist()
        return PlanDifference(
            moves=tuple(moves),
            added=(),
            removed=(),
            houses={str(names[h]): int(self._ends[h] - undo.ends[h]) for h in shifted if h},
            tell=find_visit_moves(
                moves,
                {move.activity_id: self._keys[self._place[move.activity_id]] for move in moves},
                self._visits,
                self._spell,
                self._network.confirmed,
            ),
        )

    def _spell(self, name: str) -> tuple[int, int]:
        """Start and finish of an activity as they are shown."""
        p = self._place[name]
        started = self._facts.state[p] != UNSTARTED
        start = self._facts.actual_start[p] if started else self._dates.es[p]
        return int(start), int(self._dates.ef[p])

    def _only_cause(self, change: Change, undo: _Undo) -> Cause | None:
        """The cause of every move, where only one fact of one activity has changed."""
        if len(change.activities) != 1 or change.calendars or self.data_date != undo.data_date:
            return None
        p, was = next(iter(undo.activities.items()))
        kind = name_only_change(was, change.activities[0])
        if kind is None:
            return None
        row = p - undo.begin
        by_finish = int(self._dates.ef[p] - undo.block[1, row])
        return Cause(kind, was.id, by_finish or int(self._dates.es[p] - undo.block[0, row]))
