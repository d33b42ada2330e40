"""Time in which work has its crew: the half-days of its own calendar that the crew works and keeps free."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coordination.engine.network import EVERY_NAME, Crew
from coordination.engine.workdays import Calendars, WorkingCalendar, _Horizon

Span = tuple[int, int]


@dataclass(frozen=True, eq=False)
class CrewTime(WorkingCalendar):
    """Half-days that all of several calendars work, less what is reserved over ``[start, finish)``."""

    parts: tuple[WorkingCalendar, ...] = ()
    taken: tuple[Span, ...] = ()

    def works(self, half_day: int) -> bool:
        """Whether every part works the half-day and nobody has it."""
        if any(start <= half_day < finish for start, finish in self.taken):
            return False
        return all(part.works(half_day) for part in self.parts)

    def same_as(self, other: WorkingCalendar) -> bool:
        """Whether the other is made of the same parts and reservations."""
        return (
            isinstance(other, CrewTime)
            and self.taken == other.taken
            and len(self.parts) == len(other.parts)
            and all(mine.same_as(theirs) for mine, theirs in zip(self.parts, other.parts, strict=True))
        )

    def _growth(self, horizon: _Horizon) -> int:
        """As far as the most careful of the parts: who knows holidays knows them for so many years only."""
        return min((part._growth(horizon) for part in self.parts), default=super()._growth(horizon))

    def _working(self, first: int, end: int) -> NDArray[np.bool_]:
        working = np.ones(end - first, dtype=np.bool_)
        for part in self.parts:
            working &= part._working(first, end)
        for start, finish in self.taken:
            working[max(0, start - first) : max(0, finish - first)] = False
        return working


def reserve_units(crew: Crew) -> list[tuple[Span, ...]]:
    """For each unit of a crew's capacity when it is reserved, the last units first.

    A reservation keeps its units throughout where it can; beyond the capacity there is nothing to reserve.
    """
    taken: list[list[Span]] = [[] for _unit in range(crew.capacity)]
    for one in sorted(crew.reserved, key=lambda r: (r.start, r.finish)):
        span = (one.start, one.finish)
        free = [k for k, spans in enumerate(taken) if all(_apart(span, known) for known in spans)]
        rest = [k for k in range(crew.capacity) if k not in free]
        # More is reserved than there is: then units that are taken in part already are taken for all of it.
        for k in [*reversed(free), *reversed(rest)][: one.units]:
            taken[k].append(span)
    return [tuple(spans) for spans in taken]


def _apart(a: Span, b: Span) -> bool:
    return a[1] <= b[0] or b[1] <= a[0]


class CrewTimes:
    """The calendars of tied work, each made once and named."""

    def __init__(self, calendars: Calendars) -> None:
        self.known = calendars
        self.made: dict[str, WorkingCalendar] = {}
        self._names: dict[tuple[str, tuple[str, ...], tuple[Span, ...]], str] = {}

    def name(self, own: str, crews: list[str], taken: tuple[Span, ...]) -> str:
        """The name of the time of work in the calendar `own` with crews of these calendars, less `taken`."""
        others = tuple(sorted({name for name in crews if name not in (EVERY_NAME, own)}))
        if not others and not taken:
            return own
        key = (own, others, tuple(sorted(set(taken))))
        if key not in self._names:
            name = f"{own} with its crew, {len(self._names) + 1}"
            while name in self.known:
                name += "'"
            parts = tuple(self.known[one] for one in (own, *others))
            self._names[key] = name
            self.made[name] = CrewTime(week=(2,) * 7, name=name, parts=parts, taken=key[2])
        return self._names[key]
