"""Moves of a plan in words: what, from when to when, by how much, and what drove it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.sequence.moves import Move, read_moves


@dataclass(frozen=True)
class MoveTold:
    """One activity that moved."""

    name: str
    was: str
    now: str
    by: str
    later: bool
    driver: str


def tell_moves(stored: list[dict[str, Any]], names: Mapping[str, str]) -> list[MoveTold]:
    """The moves of a stored plan in words."""
    return say_moves(read_moves(stored), names)


def say_moves(moved: Iterable[Move], names: Mapping[str, str]) -> list[MoveTold]:
    """Moves in words, the earliest new date first.

    Args:
        names: activity key → name, for the activity that drove a move.
    """
    return [_say(move, names) for move in sorted(moved, key=lambda one: (one.start_after, one.key))]


def _say(move: Move, names: Mapping[str, str]) -> MoveTold:
    starts_moved = move.start_before != move.start_after
    was, now = (move.start_before, move.start_after) if starts_moved else (move.last_before, move.last_after)
    form = "%(half_day)s" if starts_moved else _("finish %(half_day)s")
    return MoveTold(
        name=move.name,
        was=form % {"half_day": clock.say_half_day(was)},
        now=form % {"half_day": clock.say_half_day(now)},
        by=say_shift(move.by),
        later=move.by > 0,
        driver="" if move.driver == move.key else names.get(move.driver, move.driver),
    )


def say_shift(half_days: int) -> str:
    """'3 days later', '1 half-day earlier'; of working half-days."""
    if half_days == 0:
        return _("no working time")
    form = _("%(length)s later") if half_days > 0 else _("%(length)s earlier")
    return form % {"length": clock.say_length(half_days)}
