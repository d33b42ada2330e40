"""The effect of a change before it is made: what moves, and who must be told. Nothing of it is saved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from coordination import clock
from coordination.planner.moves_told import MoveTold, say_moves
from coordination.sequence.house_network import NOTHING, WhatIf
from coordination.sequence.models import Activity, Booking, Change, Hold, House, Plan
from coordination.sequence.moves import read_moves
from coordination.sequence.replanning import ToldMove, current_plan, preview


@dataclass(frozen=True)
class ToldLine:
    """A crew whose told date moves, or would have to.

    Attributes:
        frozen: the told date is so near that it stays until the planner decides.
    """

    crew: str
    visit: str
    contact: str
    phone: str
    was: str
    now: str
    frozen: bool


@dataclass(frozen=True)
class PastLine:
    """Work that is reported although hold points before it are not released."""

    words: str
    holds: str
    contact: str
    phone: str


@dataclass(frozen=True)
class Effect:
    """Old and new dates of a house, what moves, who is told, and what went past a hold point."""

    linings_before: str
    linings_after: str
    finish_before: str
    finish_after: str
    moved: tuple[MoveTold, ...]
    told: tuple[ToldLine, ...]
    past: tuple[PastLine, ...] = ()

    @property
    def nothing(self) -> bool:
        """Whether no date moves, nobody is told and nothing went past a hold point."""
        return not self.moved and not self.told and not self.past


def foresee(house: House, change: WhatIf) -> Effect:
    """What an imagined change would move.

    Raises:
        BadInput: the change names what the house has not, or cannot be planned.
    """
    seen = preview(house, change)
    return Effect(
        linings_before=_say_start(seen.stake_before),
        linings_after=_say_start(seen.stake_after),
        finish_before=clock.say_half_day(seen.finish_before - 1),
        finish_after=clock.say_half_day(seen.finish_after - 1),
        moved=tuple(say_moves(seen.moved, seen.solved.rows.names)),
        told=tuple(_tell(seen.told)),
    )


def rehearse(house: House, act: Callable[[], Plan]) -> Effect:
    """What an act would move: it is done in a transaction that is rolled back, messages and all.

    Reports of fact are judged against much that a mere computation does not know, so they are tried out
    instead of imagined; on SQLite others wait for the moment that it takes.

    Raises:
        BadInput, WrongState, NotAllowed: as the act itself.
    """
    with transaction.atomic():
        before = current_plan(house)
        told_before = _read_told(house)
        lines_before = newest_line(house)
        after = act()
        told = [
            *_compare_told(told_before, _read_told(house)),
            *_tell(preview(House.objects.get(pk=house.pk), NOTHING).told),
        ]
        names = dict(Activity.objects.filter(house=house).values_list("key", "name"))
        effect = Effect(
            linings_before=_say_start(before.stake_start if before else None),
            linings_after=_say_start(after.stake_start),
            finish_before=clock.say_half_day(before.finish - 1 if before else None),
            finish_after=clock.say_half_day(after.finish - 1),
            moved=tuple(say_moves(read_moves(after.moved), names)),
            told=tuple(told),
            past=tuple(read_gone_past(house, lines_before)),
        )
        transaction.set_rollback(True)
    return effect


def newest_line(house: House) -> int:
    """The id of the last line of a house's diary; 0 while it is empty."""
    return Change.objects.filter(house=house).aggregate(last=Max("pk"))["last"] or 0


def read_gone_past(house: House, since: int) -> list[PastLine]:
    """What the diary's lines after the one given say of work that went past hold points."""
    lines = [
        line
        for line in Change.objects.filter(house=house, pk__gt=since).order_by("pk")
        if line.facts.get("went_past")
    ]
    if not lines:
        return []
    labels = dict(Hold.objects.filter(house=house).values_list("pk", "label"))
    rows = Booking.objects.filter(house=house).select_related("crew__company", "crew__contact")
    bookings = {f"booking:{one.pk}": one for one in rows}
    found = []
    for line in lines:
        crew = bookings[line.about].crew if line.about in bookings else None
        contact = crew.contact.name if crew and crew.contact else ""
        holds = ", ".join(labels[pk] for pk in line.facts["went_past"])
        found.append(PastLine(line.words, holds, contact, crew.phone if crew else ""))
    return found


def _say_start(half_day: int | None) -> str:
    return _("no linings") if half_day is None else clock.say_half_day(half_day)


def _read_told(house: House) -> dict[int, Booking]:
    rows = Booking.objects.filter(house=house, state__in=Booking.LIVE, told_start__isnull=False)
    return {row.pk: row for row in rows.select_related("crew__company", "crew__contact", "visit")}


def _compare_told(before: Mapping[int, Booking], after: Mapping[int, Booking]) -> list[ToldLine]:
    return [
        _line(after[pk], was.told_start, after[pk].told_start, frozen=False)
        for pk, was in before.items()
        if pk in after and (was.told_start, was.told_finish) != (after[pk].told_start, after[pk].told_finish)
    ]


def _tell(told: Sequence[ToldMove]) -> list[ToldLine]:
    return [_line(one.booking, one.booking.told_start, one.start, frozen=one.frozen) for one in told]


def _line(booking: Booking, was: int | None, now: int | None, *, frozen: bool) -> ToldLine:
    crew = booking.crew
    return ToldLine(
        crew=crew.name,
        visit=booking.visit.name,
        contact=crew.contact.name if crew.contact else "",
        phone=crew.phone,
        was=clock.say_half_day(was),
        now=clock.say_half_day(now),
        frozen=frozen,
    )
