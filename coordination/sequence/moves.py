"""The difference of two sets of dates: what moved, whose it is, and which change drove it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from coordination.sequence.calendars import ResolvedCalendar


class Dated(Protocol):
    """Dates of one activity: first and last half-day worked, and the reason as `reasons` describes it."""

    @property
    def start(self) -> int: ...
    @property
    def last(self) -> int: ...
    @property
    def reason(self) -> Mapping[str, Any]: ...


@dataclass(frozen=True)
class Was:
    """Dates as an earlier plan had them."""

    start: int
    last: int
    reason: Mapping[str, Any]


@dataclass(frozen=True)
class Move:
    """One activity whose dates differ.

    Attributes:
        key, name, trade: the activity and its trade's key ('' for a point).
        visit: key of its visit, '' for a point.
        start_before, start_after: first half-days worked.
        last_before, last_after: last half-days worked.
        by: working half-days later (negative: earlier) that it starts, or ends where it starts as before.
        driver: key of the activity whose change drove this one; its own key when nothing before it moved.
    """

    key: str
    name: str
    trade: str
    visit: str
    start_before: int
    start_after: int
    last_before: int
    last_after: int
    by: int
    driver: str

    def as_stored(self) -> dict[str, Any]:
        """As a plan keeps it (`Plan.moved`)."""
        return dict(vars(self))


def read_moves(stored: list[dict[str, Any]]) -> tuple[Move, ...]:
    """The moves of a stored plan."""
    return tuple(Move(**row) for row in stored)


def find_moves(
    before: Mapping[str, Dated],
    after: Mapping[str, Dated],
    described: Mapping[str, tuple[str, str, str]],
    calendars: Mapping[str, ResolvedCalendar],
) -> tuple[Move, ...]:
    """Activities whose first or last half-day differs, earliest new start first.

    Args:
        before, after: dates by activity key; keys that only one of them has are left out.
        described: activity key → name, trade, visit.
        calendars: activity key → the calendar in which its move is counted.
    """
    moved = {
        key
        for key, new in after.items()
        if key in before and (new.start, new.last) != (before[key].start, before[key].last)
    }
    moves = []
    for key in moved:
        old, new = before[key], after[key]
        name, trade, visit = described[key]
        by = count_working(calendars[key], old.start, new.start)
        moves.append(
            Move(
                key=key,
                name=name,
                trade=trade,
                visit=visit,
                start_before=old.start,
                start_after=new.start,
                last_before=old.last,
                last_after=new.last,
                by=by or count_working(calendars[key], old.last, new.last),
                driver=_find_driver(key, moved, before, after),
            )
        )
    return tuple(sorted(moves, key=lambda move: (move.start_after, move.last_after, move.key)))


def count_working(calendar: ResolvedCalendar, first: int, then: int) -> int:
    """Working half-days from one half-day to another, negative backwards."""
    if then < first:
        return -count_working(calendar, then, first)
    return sum(calendar.works(half_day) for half_day in range(first, then))


def _find_driver(key: str, moved: set[str], before: Mapping[str, Dated], after: Mapping[str, Dated]) -> str:
    """Follow the reasons back for as long as what they name has moved too.

    The new reason is asked first; the old one when the new one did not move, for what was held up before may
    now wait for something that stayed.
    """
    seen = {key}
    while True:
        causes = [after[key].reason.get("from"), before[key].reason.get("from")]
        cause = next((one for one in causes if one in moved and one not in seen), None)
        if cause is None:
            return key
        seen.add(cause)
        key = cause
