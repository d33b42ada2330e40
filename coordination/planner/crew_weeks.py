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
        first, last = say_day(self.start), say_day(max(self.finish - 1, self.start))
        return first if first == last else f"{first} – {last}"

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
    """The first half-day on which the crew is booked beyond its capacity, in words; empty when it is not."""


@dataclass(frozen=True)
class CrewWeeks:
    """One crew over the weeks shown."""

    cells: tuple[WeekCell, ...]

    @property
    def double_booked(self) -> str:
        """The first half-day with more houses than the crew takes at once."""
        return next((cell.double for cell in self.cells if cell.double), "")

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


def spread(stays: Iterable[Stay], capacity: int, mondays: Sequence[int]) -> CrewWeeks:
    """One crew's stays over the weeks.

    Double booked is a half-day with more houses than the crew takes at once; stays that are only asked for
    count, so that a clash is seen before it is told.
    """
    ordered = sorted(stays, key=lambda stay: (stay.start, stay.finish))
    load: Counter[int] = Counter()
    for stay in ordered:
        # Weekends are no work; a stay over one must not clash with another there.
        load.update(half_day for half_day in range(stay.start, stay.finish) if half_day % WEEK < 10)
    cells = []
    for monday in mondays:
        inside = tuple(stay for stay in ordered if stay.start < monday + WEEK and stay.finish > monday)
        over = [half_day for half_day in range(monday, monday + WEEK) if load[half_day] > capacity]
        cells.append(WeekCell(monday, inside, say_half_day(over[0]) if over else ""))
    return CrewWeeks(tuple(cells))
