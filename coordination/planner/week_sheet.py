"""The week of all houses as a ruled sheet: its days, what stands on each, what is not told. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from coordination.clock import say_day, say_half
from coordination.planner.crew_weeks import WEEK
from coordination.sequence.calendars import ResolvedCalendar

DAY = 2
"""Half-days in a day."""
WORKING_DAYS = 10
"""Days Monday to Friday on one sheet."""


@dataclass(frozen=True)
class VisitFact:
    """One visit of a house, as the sheet needs it; half-days, finish exclusive.

    Attributes:
        planned: first half-day by the plan.
        start, finish: as told where a crew was told and has not begun, else as planned or worked.
        state: of its booking, 'done' or 'under way' where that was reported; empty: it has no crew.
        told: whether a crew was told these dates; `confirmed`: whether it said yes to them.
    """

    name: str
    who: str
    link: str
    planned: int
    start: int
    finish: int
    state: str
    told: bool
    confirmed: bool

    @property
    def begun(self) -> bool:
        """Whether work on it was reported."""
        return self.state in ("under way", "done")

    @property
    def silent(self) -> bool:
        """Whether its crew was told and has not answered."""
        return self.state in ("pencilled", "firm") and self.told and not self.confirmed


@dataclass(frozen=True)
class WalkFact:
    """A hold point's walk, or a witness point; `state` as a hold point's, 'witness' for the other."""

    label: str
    link: str
    start: int
    state: str
    note: str

    @property
    def to_come(self) -> bool:
        """Whether somebody still has to walk it."""
        return self.state not in ("released", "set aside")


@dataclass(frozen=True)
class VisitMark:
    """A visit on a day, in words.

    Attributes:
        half: 'afternoon', or empty.
        notes: since when, until when, what the plan says otherwise.
        alarms: what is still to be said, asked or reported.
        goes_on: it began before the sheet.
    """

    visit: VisitFact
    half: str
    notes: tuple[str, ...]
    alarms: tuple[str, ...]
    goes_on: bool


@dataclass(frozen=True)
class DayCell:
    """One house on one day; `closed` says why nobody works there, `works` whether anybody does."""

    day: int
    works: bool
    closed: str
    walks: tuple[WalkFact, ...]
    visits: tuple[VisitMark, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing stands there."""
        return not self.walks and not self.visits


@dataclass(frozen=True)
class HouseDays:
    """One house over the days; `behind`: visits that should have begun before, in words."""

    cells: tuple[DayCell, ...]
    behind: tuple[str, ...]

    @property
    def marks(self) -> list[VisitMark]:
        """All visits on the sheet."""
        return [mark for cell in self.cells for mark in cell.visits]

    @property
    def walks(self) -> list[WalkFact]:
        """All walks on the sheet."""
        return [walk for cell in self.cells for walk in cell.walks]


def begin_sheet(half_day: int) -> int:
    """The morning on which a sheet begins: of that day, after a weekend the Monday."""
    morning = half_day - half_day % DAY
    return morning if morning % WEEK < WORKING_DAYS else morning // WEEK * WEEK + WEEK


def end_sheet(first: int) -> int:
    """The half-day after the tenth day Monday to Friday."""
    day, left = first, WORKING_DAYS
    while left:
        left -= day % WEEK < WORKING_DAYS
        day += DAY
    return day


def choose_days(first: int, starts: Iterable[int]) -> tuple[int, ...]:
    """Mornings of the ten days, and of the weekend days between on which something begins."""
    busy = {start - start % DAY for start in starts}
    days = range(first, end_sheet(first), DAY)
    return tuple(day for day in days if day % WEEK < WORKING_DAYS or day in busy)


def lay_out(
    visits: Sequence[VisitFact],
    walks: Sequence[WalkFact],
    calendar: ResolvedCalendar | None,
    days: Sequence[int],
    today: int,
) -> HouseDays:
    """One house over the days: each visit on the day on which it begins, each walk on its own.

    A visit that began before stands on the first day for as long as it is not done; one that should have
    begun before and was not reported is named apart, on a sheet that shows the present.
    """
    first = days[0]
    marks: dict[int, list[VisitMark]] = {day: [] for day in days}
    behind = []
    for visit in sorted(visits, key=lambda one: (one.start, one.finish, one.name)):
        if visit.start >= first:
            day = visit.start - visit.start % DAY
            if day in marks:
                marks[day].append(_mark(visit, first, today))
        elif visit.state == "done":
            continue
        elif first <= today and not visit.begun:
            behind.append(_("%(visit)s, %(day)s") % {"visit": visit.name, "day": say_day(visit.start)})
        elif first <= today or visit.finish > first:
            marks[first].append(_mark(visit, first, today))
    cells = []
    for day in days:
        here = tuple(
            sorted((one for one in walks if one.start - one.start % DAY == day), key=lambda one: one.start)
        )
        works = calendar is None or calendar.works(day) or calendar.works(day + 1)
        closed = "" if works or calendar is None else calendar.why_not(day) or _("no work")
        cells.append(DayCell(day, works, closed, here, tuple(marks[day])))
    return HouseDays(tuple(cells), tuple(behind))


def _mark(visit: VisitFact, first: int, today: int) -> VisitMark:
    goes_on = visit.start < first
    last = max(visit.finish - 1, visit.start)
    notes = []
    if goes_on:
        notes.append(_("since %(day)s") % {"day": say_day(visit.start)})
    if visit.state != "done" and last // DAY != visit.start // DAY:
        notes.append(_("to %(day)s") % {"day": say_day(last)})
    if visit.told and not visit.begun and visit.planned != visit.start:
        notes.append(
            _("by the plan %(day)s") % {"day": say_day(visit.planned)}
            if visit.planned // DAY != visit.start // DAY
            else _("by the plan in the %(half)s") % {"half": say_half(visit.planned)}
        )
    half = say_half(visit.start) if visit.start % DAY and not goes_on else ""
    return VisitMark(visit, half, tuple(notes), _find_alarms(visit, today), goes_on)


def _find_alarms(visit: VisitFact, today: int) -> tuple[str, ...]:
    alarms = []
    if visit.state == "":
        alarms.append(_("no crew"))
    elif visit.state == "asked":
        alarms.append(_("not told"))
    elif visit.silent:
        alarms.append(_("not confirmed"))
    if not visit.begun and visit.start < today:
        alarms.append(_("not reported"))
    return tuple(alarms)


def sum_up(houses: Sequence[HouseDays]) -> str:
    """'14 visits begin: 2 have no crew, 3 were told nobody, 4 are not confirmed. Walks to come: 5.'"""
    begin = [
        mark.visit
        for house in houses
        for mark in house.marks
        if not mark.goes_on and mark.visit.state != "done"
    ]
    parts = [
        words % {"count": count}
        for words, count in (
            (_("%(count)d without a crew"), sum(one.state == "" for one in begin)),
            (_("%(count)d not told"), sum(one.state == "asked" for one in begin)),
            (_("%(count)d not confirmed"), sum(one.silent for one in begin)),
        )
        if count
    ]
    walks = sum(walk.to_come for house in houses for walk in house.walks)
    said = _("Visits that begin: %(count)d") % {"count": len(begin)}
    if parts:
        said = f"{said} ({', '.join(parts)})"
    return _("%(visits)s. Walks and witness points: %(walks)d.") % {"visits": said, "walks": walks}
