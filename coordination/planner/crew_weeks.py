"""Crews over weeks: which visits fall where, where a crew is booked twice, which weeks are empty. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coordination.clock import say_day, say_half_day

WEEK = 14
"""Half-days in a week."""


@dataclass(frozen=True)
class Stay:
    """A crew at one house over ``[start, finish)``.

    Attributes:
        state: of its booking.
        told: whether these are told dates; else they are planned and nobody was told.
        confirmed: whether the crew said yes to them.
        house, visit, link: empty for a house of another builder, of which only the time is known.
    """

    crew: int
    start: int
    finish: int
    state: str
    told: bool
    confirmed: bool
    house: str = ""
    visit: str = ""
    link: str = ""

    @property
    def own(self) -> bool:
        """Whether it is a house of the builder who looks."""
        return bool(self.house)

    @property
    def days(self) -> str:
        """'Tue 3 Mar to Thu 5 Mar', or one day."""
        first, last = say_day(self.start), self.last_day
        return first if first == last else f"{first} – {last}"

    @property
    def last_day(self) -> str:
        """'Thu 5 Mar'."""
        return say_day(max(self.finish - 1, self.start))

    @property
    def settled(self) -> bool:
        """Whether the crew counts on it: it was told, or is at work there."""
        return self.told or self.state == "under way"

    @property
    def unconfirmed(self) -> bool:
        """Whether the crew was told and has not answered."""
        return self.own and self.told and not self.confirmed and self.state in ("pencilled", "firm")


@dataclass(frozen=True)
class WeekCell:
    """One crew in one week."""

    monday: int
    stays: tuple[Stay, ...]
    double: str
    """The first half-day for which the crew was told more houses than it takes, in words; empty for none."""
    planned_double: str
    """The same with what is only planned and nobody was told; empty where `double` says more."""


@dataclass(frozen=True)
class CrewWeeks:
    """One crew over the weeks shown."""

    cells: tuple[WeekCell, ...]

    @property
    def double_booked(self) -> str:
        """The first half-day for which it was told more houses than it takes at once."""
        return next((cell.double for cell in self.cells if cell.double), "")

    @property
    def planned_double(self) -> str:
        """The first half-day with more houses than it takes as planned, where it was not told so many."""
        return next((cell.planned_double for cell in self.cells if cell.planned_double), "")

    @property
    def idle_weeks(self) -> int:
        """Weeks without any visit."""
        return sum(not cell.stays for cell in self.cells)

    @property
    def unconfirmed(self) -> int:
        """Visits that were told and not answered."""
        return len({stay for cell in self.cells for stay in cell.stays if stay.unconfirmed})


def list_mondays(today: int, weeks: int) -> list[int]:
    """The Monday of the present week and those after it, as half-days."""
    first = today // WEEK * WEEK
    return [first + WEEK * n for n in range(weeks)]


def count_houses(stays: Iterable[Stay]) -> Counter[int]:
    """Half-day → at how many houses the crew is. Weekends are no work: stays over one do not clash there."""
    load: Counter[int] = Counter()
    for stay in stays:
        load.update(half_day for half_day in range(stay.start, stay.finish) if half_day % WEEK < 10)
    return load


def find_over(stays: Iterable[Stay], capacity: int, start: int, finish: int) -> int | None:
    """The first half-day of ``[start, finish)`` with more houses than the crew takes at once."""
    load = count_houses(stays)
    return next((half_day for half_day in range(start, finish) if load[half_day] > capacity), None)


def spread(stays: Iterable[Stay], capacity: int, mondays: Sequence[int]) -> CrewWeeks:
    """One crew's stays over the weeks.

    Double-booked is a half-day for which it was told more houses than it takes at once. What is only planned
    counts apart, so that a clash is seen before it is told, and not taken for one that was.
    """
    ordered = sorted(stays, key=lambda stay: (stay.start, stay.finish))
    told = [stay for stay in ordered if stay.settled]
    cells = []
    for monday in mondays:
        inside = tuple(stay for stay in ordered if stay.start < monday + WEEK and stay.finish > monday)
        double = find_over(told, capacity, monday, monday + WEEK)
        planned = find_over(ordered, capacity, monday, monday + WEEK) if double is None else None
        cells.append(
            WeekCell(
                monday,
                inside,
                "" if double is None else say_half_day(double),
                "" if planned is None else say_half_day(planned),
            )
        )
    return CrewWeeks(tuple(cells))
