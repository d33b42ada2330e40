"""The input: activities, relationships, crews and concealed details of a network, which refuse nonsense when
built.

Everything here is frozen, counts in half-days (see `workdays`) and knows no dates yet; `critical_path`
computes them. The network form is the precedence diagram: activities on nodes, four types of relationships
with lags.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Literal, get_args

from coordination.engine.workdays import EVERY, Calendars, Refused, WorkingCalendar, write_half_day

RelationshipType = Literal["FS", "SS", "FF", "SF"]
ELAPSED, EVERY_NAME = "elapsed", "every"
RESERVED_NAMES = (ELAPSED, EVERY_NAME)


def _whole(value: object, least: int, what: str) -> None:
    """Refuse what is not a whole number of at least `least`."""
    if type(value) is not int or value < least:
        raise Refused(f"{what} must be a whole number of at least {least}, not {value!r}")


def _chance(value: object, what: str) -> None:
    """Refuse what is not a probability."""
    if type(value) not in (int, float) or not 0 <= value <= 1:  # type: ignore[operator]
        raise Refused(f"{what} must be a number from 0 to 1, not {value!r}")


@dataclass(frozen=True)
class Fails:
    """A walk that may fail: with which chance, and how many half-days of rework that costs."""

    chance: float
    half_days: int

    def __post_init__(self) -> None:
        _chance(self.chance, "the chance of failing")
        _whole(self.half_days, 0, "the half-days of rework")


@dataclass(frozen=True)
class Activity:
    """A piece of work by one trade, or a point (often of 0 half-days: a milestone).

    Parameters
    ----------
    id
        unique within the network.
    duration
        working half-days of the activity's calendar.
    calendar
        name of a calendar of the network, or ``"every"``.
    house
        the house whose end it may not delay; None belongs to no house and is measured against the last end of
        all.
    not_before
        instant before which it does not start (early dates only).
    not_after
        instant by which it is wanted finished. Missing it shows as negative float; it is never infeasible.
    actual_start, actual_finish
        instants at which it really started and finished (the end of the last half-day worked).
    remaining
        half-days left of a started activity; None: what the duration leaves, at least 1.
    crew
        units of each crew that it needs; a trade's name stands for any one crew of that trade.
    range
        shortest, likeliest and longest duration, for forecasts.
    visit, region, fails
        the visit it belongs to, the region whose weather it shares, its chance of failing.
    """

    id: str
    duration: int
    calendar: str = EVERY_NAME
    house: str | None = None
    not_before: int | None = None
    not_after: int | None = None
    actual_start: int | None = None
    actual_finish: int | None = None
    remaining: int | None = None
    crew: Mapping[str, int] = field(default_factory=dict)
    range: tuple[int, int, int] | None = None
    visit: str | None = None
    region: str | None = None
    fails: Fails | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.id, str) or not self.id:
            raise Refused(f"an activity's id must be a text that is not empty, not {self.id!r}")
        me = f"activity {self.id!r}"
        _whole(self.duration, 0, f"{me}: the duration")
        if self.remaining is not None:
            _whole(self.remaining, 0, f"{me}: 'remaining'")
        for name, units in self.crew.items():
            _whole(units, 0, f"{me}: the units of crew {name!r}")
        object.__setattr__(self, "crew", MappingProxyType(dict(self.crew)))
        if self.not_before is not None and self.not_after is not None and self.not_after <= self.not_before:
            raise Refused(
                f"{me}: 'not_after' ({write_half_day(self.not_after - 1)}) lies before "
                f"'not_before' ({write_half_day(self.not_before)}); swap or correct them"
            )
        if self.range is not None:
            for length in self.range:
                _whole(length, 0, f"{me}: each length of 'range'")
            if len(self.range) != 3 or list(self.range) != sorted(self.range):
                raise Refused(f"{me}: 'range' must be three lengths, shortest first, not {list(self.range)}")
        self._refuse_impossible_progress(me)

    def _refuse_impossible_progress(self, me: str) -> None:
        if self.actual_start is None:
            if self.actual_finish is not None:
                raise Refused(f"{me} has 'actual_finish' without 'actual_start': give the start too")
            if self.remaining is not None:
                raise Refused(f"{me} has 'remaining' without 'actual_start': give the start too")
        elif self.actual_finish is not None:
            if self.actual_finish < self.actual_start:
                raise Refused(f"{me}: 'actual_finish' lies before 'actual_start'; swap or correct them")
            if self.remaining:
                raise Refused(f"{me} is finished and cannot have 'remaining' work; take one of the two away")

    def __reduce__(self) -> tuple[object, ...]:
        """Pickled by what it was made of: read-only mappings cannot be."""
        return type(self), tuple(_plain(getattr(self, f.name)) for f in fields(self))

    @property
    def finished(self) -> bool:
        """Whether it has an actual finish."""
        return self.actual_finish is not None

    @property
    def under_way(self) -> bool:
        """Whether it has started and not finished."""
        return self.actual_start is not None and self.actual_finish is None


@dataclass(frozen=True)
class Relationship:
    """A least distance between two activities.

    The type names the ends: FS is from the predecessor's finish to the successor's start. The lag is in
    working half-days of `lag_calendar` (None: the successor's calendar), or in elapsed ones (``"elapsed"``).
    """

    from_id: str
    to_id: str
    type: RelationshipType = "FS"
    lag: int = 0
    lag_calendar: str | None = None

    def __post_init__(self) -> None:
        if self.from_id == self.to_id:
            raise Refused(f"activity {self.from_id!r} cannot wait for itself: {self.from_id} > {self.to_id}")
        if self.type not in get_args(RelationshipType):
            raise Refused(f"{self}: the type must be FS, SS, FF or SF, not {self.type!r}")
        if type(self.lag) is not int:
            raise Refused(f"{self}: the lag must be a whole number, not {self.lag!r}")

    def __str__(self) -> str:
        return f"relationship {self.from_id!r} to {self.to_id!r}"


@dataclass(frozen=True)
class LongestGap:
    """The longest time that should pass from one activity's finish to another's start.

    No relationship (those give least distances only): missing it is a warning on the plan. Counted in working
    half-days of the later activity, or in elapsed ones.
    """

    from_id: str
    to_id: str
    half_days: int
    elapsed: bool = False

    def __post_init__(self) -> None:
        _whole(self.half_days, 0, f"the longest gap from {self.from_id!r} to {self.to_id!r}")


@dataclass(frozen=True)
class Late:
    """How a crew is late: with which chance, and by how many half-days (least and most)."""

    chance: float
    half_days: tuple[int, int]

    def __post_init__(self) -> None:
        _chance(self.chance, "the chance of being late")
        if len(self.half_days) != 2:
            raise Refused("the half-days of lateness must be two numbers, least and most")
        for length in self.half_days:
            _whole(length, 0, "the half-days of lateness")
        if self.half_days[0] > self.half_days[1]:
            raise Refused("the half-days of lateness must be least first, most second")


@dataclass(frozen=True)
class ReservedTime:
    """Units of a crew that are agreed for somebody, over ``[start, finish)``."""

    start: int
    finish: int
    units: int

    def __post_init__(self) -> None:
        if self.finish <= self.start:
            raise Refused("reserved time must end after it starts")
        _whole(self.units, 1, "the units of reserved time")


@dataclass(frozen=True)
class Crew:
    """A team: how many houses it takes at once, on which calendar, how it is late, what is reserved of it.

    Crews that name the same `trade` can be exchanged: work that asks for the trade is done by one of them.
    """

    name: str
    capacity: int
    calendar: str = EVERY_NAME
    late: Late | None = None
    reserved: tuple[ReservedTime, ...] = ()
    trade: str | None = None

    def __post_init__(self) -> None:
        _whole(self.capacity, 0, f"crew {self.name!r}: the capacity")


@dataclass(frozen=True)
class Detail:
    """Something that is buried: by whom it is installed, who covers it, at which point it is judged before.

    `alongside` names the coverers that close it only when they finish (they work together with the
    installers).
    """

    id: str
    installed_by: tuple[str, ...]
    covered_by: tuple[str, ...]
    point: str | None = None
    alongside: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        object.__setattr__(self, "installed_by", tuple(self.installed_by))
        object.__setattr__(self, "covered_by", tuple(self.covered_by))
        object.__setattr__(self, "alongside", frozenset(self.alongside))
        if not self.installed_by:
            raise Refused(f"detail {self.id!r} has no installer: name the activities in 'installed_by'")
        if not self.covered_by:
            raise Refused(f"detail {self.id!r} has no coverer: name the activities in 'covered_by'")
        for name in sorted(self.alongside - set(self.covered_by)):
            raise Refused(f"detail {self.id!r}: {name!r} is in 'with' but not in 'covered_by'")


@dataclass(frozen=True)
class Network:
    """Activities and what lies between them, over one house or many.

    Parameters
    ----------
    calendars
        by name; ``"every"`` always exists, it and ``"elapsed"`` are reserved.
    confirmed
        names of the visits that a crew has confirmed.
    freeze_until
        instant before which told dates stay.
    weights
        of the levelling objective, by name.

    Raises
    ------
    Refused
        naming the duplicate or unknown id, calendar or crew. A circular network is refused by `order`.
    """

    activities: tuple[Activity, ...]
    relationships: tuple[Relationship, ...] = ()
    calendars: Calendars = field(default_factory=dict)
    details: tuple[Detail, ...] = ()
    longest_gaps: tuple[LongestGap, ...] = ()
    crews: tuple[Crew, ...] = ()
    confirmed: frozenset[str] = frozenset()
    freeze_until: int | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    position: Mapping[str, int] = field(init=False, repr=False, compare=False)
    """Place of each activity in `activities`, by id."""

    def __post_init__(self) -> None:
        for name in ("activities", "relationships", "details", "longest_gaps", "crews"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        if not self.activities:
            raise Refused("the network has no activities: give at least one in 'activities'")
        for name in RESERVED_NAMES:
            if self.calendars.get(name, EVERY) is not EVERY:
                raise Refused(f"the calendar name {name!r} is reserved: choose another")
        calendars = MappingProxyType({**self.calendars, EVERY_NAME: EVERY})
        object.__setattr__(self, "calendars", calendars)
        _refuse_duplicates((a.id for a in self.activities), "activity")
        _refuse_duplicates((d.id for d in self.details), "detail")
        _refuse_duplicates((c.name for c in self.crews), "crew")
        position = MappingProxyType({activity.id: i for i, activity in enumerate(self.activities)})
        object.__setattr__(self, "position", position)
        self._refuse_unknown_names()
        for name, weight in self.weights.items():
            if type(weight) not in (int, float) or not math.isfinite(weight) or weight < 0:
                raise Refused(f"weight {name!r} must be a number of at least 0, not {weight!r}")

    def _refuse_unknown_names(self) -> None:
        crews = {crew.name for crew in self.crews}
        trades = {crew.trade for crew in self.crews if crew.trade is not None}
        for name in sorted(crews & trades):
            raise Refused(f"{name!r} is the name of a crew and of a trade: rename one of the two")
        for activity in self.activities:
            self._know((activity.calendar,), self.calendars, "calendar", f"activity {activity.id!r}")
            self._know(activity.crew, crews | trades, "crew", f"activity {activity.id!r}")
        for crew in self.crews:
            self._know((crew.calendar,), self.calendars, "calendar", f"crew {crew.name!r}")
        for link in self.relationships:
            self._know((link.from_id, link.to_id), self.position, "activity", str(link))
            if link.lag_calendar not in (None, ELAPSED):
                self._know((str(link.lag_calendar),), self.calendars, "calendar", str(link))
        for gap in self.longest_gaps:
            self._know((gap.from_id, gap.to_id), self.position, "activity", "a longest gap")
        for detail in self.details:
            names = (*detail.installed_by, *detail.covered_by, *((detail.point,) if detail.point else ()))
            self._know(names, self.position, "activity", f"detail {detail.id!r}")
        visits = {activity.visit for activity in self.activities}
        for visit in sorted(self.confirmed):
            self._know((visit,), visits, "visit", "'visits'")

    @staticmethod
    def _know(names: Iterable[str], known: Collection[str | None], kind: str, where: str) -> None:
        for name in names:
            if name not in known:
                raise Refused(f"{where} names the unknown {kind} {name!r}: add it or correct the name")

    def __reduce__(self) -> tuple[object, ...]:
        """Pickled by what it was made of: read-only mappings cannot be."""
        return type(self), tuple(_plain(getattr(self, f.name)) for f in fields(self) if f.init)

    def __getitem__(self, activity_id: str) -> Activity:
        """The activity of that id; raises `Refused` when there is none."""
        if activity_id not in self.position:
            raise Refused(f"unknown activity {activity_id!r}")
        return self.activities[self.position[activity_id]]

    def calendar_of(self, activity_id: str) -> WorkingCalendar:
        """The calendar in which the activity is worked."""
        return self.calendars[self[activity_id].calendar]

    def lag_calendar_of(self, link: Relationship) -> WorkingCalendar | None:
        """The calendar that a relationship's lag counts in; None for elapsed half-days."""
        if link.lag_calendar == ELAPSED:
            return None
        if link.lag_calendar is None:
            return self.calendar_of(link.to_id)
        return self.calendars[link.lag_calendar]

    @property
    def has_actuals(self) -> bool:
        """Whether any work has been recorded."""
        return any(activity.actual_start is not None for activity in self.activities)


def _plain(value: object) -> object:
    return dict(value) if isinstance(value, MappingProxyType) else value


def _refuse_duplicates(names: Iterable[str], kind: str) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise Refused(f"{kind} {name!r} is given twice: every id must be unique")
        seen.add(name)
