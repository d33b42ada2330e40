"""The rows that the programme of one house consists of; see `house_programme`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coordination.sequence.models import House, Plan
from coordination.sequence.moves import Move
from coordination.sequence.queries.facts import BookingFact, HoldFact, WindowFact


@dataclass(frozen=True)
class DelayFact:
    """Half-days that were added to an activity, and why."""

    half_days: int
    why: str
    by: str
    at: dt.datetime


@dataclass(frozen=True)
class ActivityRow:
    """One activity or point with its dates; half-days, finishes exclusive (see `PlannedDate`).

    Attributes:
        state: '', 'under way' or 'done'.
        by_end_of: for a point that takes no time, the last half-day worked before it; else None.
        reason, reason_words: why then, stored and said.
        drives_end, drives_stake: whether it stands in the driving chain of the end, of the linings.
        installs, hides: keys of the details that it makes, that it buries.
        waits_for: keys of its predecessors.
    """

    id: int
    key: str
    name: str
    trade_key: str
    trade: str
    stage: str
    order: int
    half_days: int
    is_point: bool
    point_kind: str
    walker: str
    notice: int | None
    is_stake: bool
    outdoor: bool
    visit_id: int | None
    es: int
    ef: int
    ls: int
    lf: int
    start: int
    last: int
    by_end_of: int | None
    total_float: int | None
    free_float: int | None
    float_to_stake: int | None
    critical: bool
    reason: Mapping[str, Any]
    reason_words: str
    actual_start: int | None
    actual_finish: int | None
    remaining: int | None
    delays: tuple[DelayFact, ...]
    drives_end: bool
    drives_stake: bool
    installs: tuple[str, ...]
    hides: tuple[str, ...]
    waits_for: tuple[str, ...]
    booking: BookingFact | None

    @property
    def state(self) -> str:
        """What was reported of it."""
        if self.actual_finish is not None:
            return "done"
        return "under way" if self.actual_start is not None else ""


@dataclass(frozen=True)
class VisitRow:
    """One visit with its planned dates (finish exclusive), its booking and the holds before it.

    Attributes:
        order_by: for a delivery, the last half-day on which it is to be ordered; `change_by` likewise.
        held_by: open holds before it, in the order of their walks.
    """

    id: int
    key: str
    name: str
    trade_key: str
    trade: str
    delivery: bool
    order_by: int | None
    change_by: int | None
    start: int
    finish: int
    activities: tuple[str, ...]
    holds: tuple[HoldFact, ...]
    held_by: tuple[HoldFact, ...]
    booking: BookingFact | None

    @property
    def can_be_firm(self) -> bool:
        """Whether no open hold stands before it."""
        return not self.held_by


@dataclass(frozen=True)
class Revision:
    """A plan of the house: its number, cause, and how much it moved."""

    number: int
    at: dt.datetime
    cause: str
    by: str
    finish: int
    stake_start: int | None
    moved: int


@dataclass(frozen=True)
class DiaryLine:
    """One act of the house's diary."""

    at: dt.datetime
    who: str
    what: str
    about: str
    words: str


@dataclass(frozen=True)
class Programme:
    """Everything that the screen of one house's programme shows.

    Attributes:
        stages: key and name, in the order of the sequence; only those that the house has.
        activities: in the order of the sequence.
        driving_chain, stake_chain: keys, the first cause first.
        non_working: half-days of the shown axis on which the house's calendar is not worked.
        first, finish: the shown axis; finish exclusive.
    """

    house: House
    plan: Plan
    stages: tuple[tuple[str, str], ...]
    activities: tuple[ActivityRow, ...]
    visits: tuple[VisitRow, ...]
    windows: tuple[WindowFact, ...]
    holds: tuple[HoldFact, ...]
    driving_chain: tuple[str, ...]
    stake_chain: tuple[str, ...]
    warnings: tuple[str, ...]
    moved: tuple[Move, ...]
    revisions: tuple[Revision, ...]
    diary: tuple[DiaryLine, ...]
    non_working: frozenset[int]
    first: int
    finish: int

    @property
    def names(self) -> dict[str, str]:
        """Activity key → name, as `say_reason` wants it."""
        return {row.key: row.name for row in self.activities}

    @property
    def stake(self) -> ActivityRow | None:
        """The linings."""
        return next((row for row in self.activities if row.is_stake), None)
