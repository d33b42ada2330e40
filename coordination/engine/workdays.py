"""The half-day axis and working calendars.

Time is a whole number of *half-days* since Monday 1970-01-05: even numbers are mornings, odd ones afternoons.
An instant is the **start** of a half-day and every interval is half-open, ``[start, finish)``; work on Monday
morning alone is ``[0, 1)``. There are no hours, time zones or daylight saving here: those belong to the edge.

A calendar is a set of working half-days. Two questions answer everything else, each in one look-up:

``before(t)``
    how many working half-days lie before instant t;
``kth(k)``
    which half-day is the k-th working one.

They are each other's inverse (``before(kth(k)) == k``), and their origin is the calendar's own: only
differences of ``before`` have a meaning, as the reading of a milometer has.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Half = Literal["am", "pm"]
Instants = NDArray[np.int64]

EPOCH = dt.date(1970, 1, 5)
"""A Monday; half-day 0 is its morning."""

HALF_DAYS_PER_WEEK = 14
FIRST_INSTANT = (dt.date(1, 1, 1) - EPOCH).days * 2
"""The morning of 0001-01-01, the first date that Python can write."""
END_OF_TIME = (dt.date(9999, 12, 31) - EPOCH).days * 2 + 2
"""The instant after the last half-day that can be written."""

_LOOK_BACK, _LOOK_AHEAD = 26 * HALF_DAYS_PER_WEEK, 130 * HALF_DAYS_PER_WEEK
"""First horizon around the instant that a calendar is first asked about: half a year and 2½ years."""


class Refused(ValueError):
    """Input that makes no sense. The message names the culprit and the remedy."""


class BeyondTime(Refused):
    """A date that cannot be written (outside the years 1 to 9999), or whose holidays are not known."""


def as_half_day(day: dt.date, half: Half = "am") -> int:
    """The number of a date's morning or afternoon.

    >>> as_half_day(dt.date(1970, 1, 6), "pm")
    3
    """
    return (day - EPOCH).days * 2 + (half == "pm")


def as_date(half_day: int) -> tuple[dt.date, Half]:
    """The date and the half of a half-day number; raises `BeyondTime` outside the years 1 to 9999.

    >>> as_date(-1)
    (datetime.date(1970, 1, 4), 'pm')
    """
    if not FIRST_INSTANT <= half_day < END_OF_TIME:
        raise BeyondTime(
            f"half-day {half_day} lies outside the years 1 to 9999 and cannot be written as a date"
        )
    return EPOCH + dt.timedelta(days=half_day // 2), "pm" if half_day % 2 else "am"


def write_half_day(half_day: int) -> str:
    """A half-day as text.

    >>> write_half_day(as_half_day(dt.date(2026, 2, 2)))
    '2026-02-02 am'
    """
    day, half = as_date(half_day)
    return f"{day.isoformat()} {half}"


@dataclass(frozen=True)
class Holidays:
    """Public holidays of one place, year by year.

    Years that are known stay as they are, so that an upgrade of the library that knows holidays moves no date
    already told; a year not yet known is looked up once and then remembered. Without `look_up` such a year is
    refused: silently having no holidays would be wrong.
    """

    place: str
    years: dict[int, frozenset[dt.date]] = field(default_factory=dict)
    look_up: Callable[[int], Collection[dt.date]] | None = None

    def of_year(self, year: int) -> frozenset[dt.date]:
        """The holidays whose date lies in the year."""
        if year not in self.years:
            if self.look_up is None:
                raise BeyondTime(
                    f"the holidays of {self.place!r} are not known for {year}: resolve that year too"
                )
            self.years[year] = frozenset(self.look_up(year))
        return self.years[year]


@dataclass(frozen=True)
class _Horizon:
    """The two arrays over ``[first, end)``, counted so that ``before(origin) == 0``."""

    first: int
    end: int
    before: list[int]  # before[t - first] for first <= t <= end
    kth: list[int]  # kth[k - before[0]]
    before_array: Instants  # the same as arrays: lists are quicker one by one, arrays for many at once
    kth_array: Instants


@dataclass(frozen=True, eq=False)
class WorkingCalendar:
    """A weekly pattern, less public holidays, less half-days off, plus half-days on (in that order).

    Parameters
    ----------
    week
        working half-days of Monday to Sunday: 0 none, 1 the morning only, 2 both.
    off, on
        half-day numbers (see `as_half_day`) that are not worked, or worked all the same. A half-day in both
        is worked: it is the exception within a shutdown.
    holidays
        dates on which nothing is worked: either a plain collection, taken as complete for all time, or
        `Holidays`, asked year by year as the horizon grows.
    name
        used in messages only.

    Raises
    ------
    Refused
        for a week that is not seven counts of 0, 1 or 2, and for a calendar without working time.

    >>> calendar = WorkingCalendar(week=(2, 2, 2, 2, 2, 0, 0))
    >>> calendar.finish_of(start=8, n=4)  # from Friday morning over the weekend to Monday's end
    16
    """

    week: Collection[int] = (2, 2, 2, 2, 2, 0, 0)
    off: Collection[int] = ()
    on: Collection[int] = ()
    holidays: Collection[dt.date] | Holidays = ()
    name: str = ""
    _horizon: _Horizon | None = field(default=None, init=False, repr=False)

    def __post_init__(self) -> None:
        called = f"calendar {self.name!r}" if self.name else "the calendar"
        week = tuple(self.week)
        if len(week) != 7 or any(type(count) is not int or count not in (0, 1, 2) for count in week):
            raise Refused(f"{called}: 'week' must be seven counts, Monday to Sunday, each 0, 1 or 2")
        if not any(week) and not self.on:
            raise Refused(f"{called} has no working time: give 'week' at least one working half-day")
        object.__setattr__(self, "week", week)
        object.__setattr__(self, "off", frozenset(self.off))
        object.__setattr__(self, "on", frozenset(self.on))
        if not isinstance(self.holidays, Holidays):
            object.__setattr__(self, "holidays", frozenset(self.holidays))

    # --- the rule -------------------------------------------------------------------------------------------

    def works(self, half_day: int) -> bool:
        """Whether the half-day is worked: the rule itself, one half-day at a time.

        The arrays below are built from the same rule in bulk; the judge of plans uses this one.
        """
        if half_day in self.on:
            return True
        if half_day in self.off:
            return False
        day, half = as_date(half_day)
        known = self.holidays.of_year(day.year) if isinstance(self.holidays, Holidays) else self.holidays
        return day not in known and tuple(self.week)[day.weekday()] > (half == "pm")

    def same_as(self, other: WorkingCalendar) -> bool:
        """Whether both calendars follow the same rule, as far as their holidays are known."""
        mine, theirs = self.holidays, other.holidays
        if isinstance(mine, Holidays) and isinstance(theirs, Holidays):
            both = mine.years.keys() & theirs.years.keys()
            kept = mine.place == theirs.place and all(mine.years[y] == theirs.years[y] for y in both)
        else:
            kept = mine == theirs
        return kept and (self.week, self.off, self.on) == (other.week, other.off, other.on)

    # --- the two arrays -------------------------------------------------------------------------------------

    def before(self, t: int) -> int:
        """Working half-days before instant t, counted from the calendar's own origin."""
        horizon = self._horizon
        if horizon is None or not horizon.first <= t <= horizon.end:
            horizon = self._reach(t)
        return horizon.before[t - horizon.first]

    def kth(self, k: int) -> int:
        """The k-th working half-day: the t that is worked and has ``before(t) == k``."""
        horizon = self._horizon or self._reach(0)
        while not 0 <= k - horizon.before[0] < len(horizon.kth):
            missing = max(k - horizon.before[-1] + 1, horizon.before[0] - k)
            ahead = k >= horizon.before[-1]
            left = END_OF_TIME - horizon.end if ahead else horizon.first - FIRST_INSTANT
            if missing > left:
                called = f"calendar {self.name!r}" if self.name else "the calendar"
                limit = "up to the year 9999" if ahead else "since the year 1"
                raise BeyondTime(f"{called} has no such working half-day {limit}")
            span = self._growth(horizon)
            horizon = self._reach(
                min(horizon.end + span, END_OF_TIME) if ahead else max(horizon.first - span, FIRST_INSTANT)
            )
        return horizon.kth[k - horizon.before[0]]

    def before_each(self, instants: Instants) -> Instants:
        """`before` of a whole array at once."""
        if not instants.size:
            return instants.astype(np.int64)
        self._reach(int(instants.min()))
        horizon = self._reach(int(instants.max()))
        return horizon.before_array[instants - horizon.first]

    def kth_each(self, counts: Instants) -> Instants:
        """`kth` of a whole array at once."""
        if not counts.size:
            return counts.astype(np.int64)
        self.kth(int(counts.min()))
        horizon = self._reach(self.kth(int(counts.max())))
        return horizon.kth_array[counts - horizon.before[0]]

    def _reach(self, t: int) -> _Horizon:
        """Extend the horizon until it holds instant t. Counts already given keep their value."""
        if not FIRST_INSTANT <= t <= END_OF_TIME:
            raise BeyondTime("a date outside the years 1 to 9999 cannot be written")
        old = self._horizon
        if old is None:
            first, end, origin = t - _LOOK_BACK, t + _LOOK_AHEAD, t
        elif old.first <= t <= old.end:
            return old
        else:
            span = self._growth(old)
            first = old.first if t > old.end else min(t - _LOOK_BACK, old.first - span)
            end = old.end if t < old.first else max(t + _LOOK_AHEAD, old.end + span)
            origin = old.first
        first, end = max(first, FIRST_INSTANT), min(end, END_OF_TIME)
        working = self._working(first, end)
        counts = np.concatenate(([0], np.cumsum(working)))
        counts += (0 if old is None else old.before[0]) - int(counts[origin - first])
        worked = np.flatnonzero(working) + first
        horizon = _Horizon(first, end, counts.tolist(), worked.tolist(), counts, worked)
        object.__setattr__(self, "_horizon", horizon)
        return horizon

    def _growth(self, horizon: _Horizon) -> int:
        """By how much to extend: doubling, so that many small steps stay cheap; but holidays year by year.

        Whoever knows holidays knows them for so many years only, and to ask for more than is needed could be
        refused.
        """
        span = horizon.end - horizon.first
        return min(span, _LOOK_AHEAD) if isinstance(self.holidays, Holidays) else span

    def _working(self, first: int, end: int) -> NDArray[np.bool_]:
        """Which half-days of ``[first, end)`` are worked."""
        axis = np.arange(first, end)
        working = np.array(tuple(self.week))[axis // 2 % 7] > axis % 2
        if isinstance(self.holidays, Holidays):
            years = range(as_date(first)[0].year, as_date(end - 1)[0].year + 1)
            days = [day for year in years for day in self.holidays.of_year(year)]
        else:
            days = list(self.holidays)
        mornings = [as_half_day(day) for day in days]
        for half_days, worked in (
            ([t + half for t in mornings for half in (0, 1)], False),
            (self.off, False),
            (self.on, True),
        ):
            inside = [t - first for t in half_days if first <= t < end]
            working[inside] = worked
        return working

    # --- what the passes ask: n = 0 is a milestone, which may lie on any instant ----------------------------

    def next_start(self, t: int, n: int) -> int:
        """The least start at or after instant t of n half-days of work."""
        return self.kth(self.before(t)) if n else t

    def last_start(self, t: int, n: int) -> int:
        """The greatest start at or before instant t of n half-days of work."""
        return self.kth(self.before(t + 1) - 1) if n else t

    def finish_of(self, start: int, n: int) -> int:
        """The finish of n half-days of unbroken work begun at a working half-day."""
        return self.kth(self.before(start) + n - 1) + 1 if n else start

    def start_to_finish_from(self, t: int, n: int) -> int:
        """The least start whose n half-days finish at or after instant t."""
        return self.kth(self.before(t - 1) - n + 1) if n else t

    def start_to_finish_by(self, t: int, n: int) -> int:
        """The greatest start whose n half-days finish at or before instant t."""
        return self.kth(self.before(t) - n) if n else t

    def add(self, t: int, n: int) -> int:
        """The instant n working half-days after t (before it, for negative n): a lag counts as if it were
        work.

        It is the least u with ``before(u) >= before(t) + n``. A lag of 0 leaves the instant where it is.

        >>> WorkingCalendar().add(10, 10)  # from Friday's end: to the end of next Friday
        24
        """
        return self.kth(self.before(t) + n - 1) + 1 if n else t

    def take(self, u: int, n: int) -> int:
        """The mirror of `add`: the greatest t with ``add(t, n) <= u``."""
        return self.kth(self.before(u) - n) if n else u

    def count(self, start: int, finish: int) -> int:
        """Working half-days in ``[start, finish)``; negative when finish lies before start."""
        return self.before(finish) - self.before(start)


class _EveryHalfDay(WorkingCalendar):
    """The calendar that needs no arrays: before(t) = t and kth(k) = k."""

    def before(self, t: int) -> int:
        if not FIRST_INSTANT <= t <= END_OF_TIME:
            raise BeyondTime("a date outside the years 1 to 9999 cannot be written")
        return t

    def kth(self, k: int) -> int:
        if not FIRST_INSTANT <= k < END_OF_TIME:
            raise BeyondTime("a date outside the years 1 to 9999 cannot be written")
        return k

    def before_each(self, instants: Instants) -> Instants:
        return instants.astype(np.int64)

    def kth_each(self, counts: Instants) -> Instants:
        return counts.astype(np.int64)

    def __reduce__(self) -> str:
        """Pickled by its name: there is one only."""
        return "EVERY"


EVERY = _EveryHalfDay(week=(2,) * 7, name="every")
"""The calendar in which each half-day is worked."""


def add_lag(t: int, lag: int, calendar: WorkingCalendar | None) -> int:
    """Instant t later by a lag: in working half-days of a calendar, or in elapsed ones (None)."""
    return t + lag if calendar is None else calendar.add(t, lag)


def take_lag(u: int, lag: int, calendar: WorkingCalendar | None) -> int:
    """The greatest instant whose `add_lag` is not after u."""
    return u - lag if calendar is None else calendar.take(u, lag)


Calendars = Mapping[str, WorkingCalendar]
