"""Which houses of the board are asked for: by words, supervisor, region, or only those that are stuck."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from coordination.sequence.queries import BoardRow

STUCK = ("re-opened", "held")
"""States of a hold point that stops a house now: all work before it is done, or it was opened again."""


@dataclass(frozen=True)
class Asked:
    """What the board is asked for.

    Attributes:
        words: every one of them stands in the house's name, key or address, or in what it waits for.
        supervisor, region: ids; None for any.
        stuck: only houses that a hold point stops now.
        finished: also houses that were handed over.
    """

    words: str = ""
    supervisor: int | None = None
    region: int | None = None
    stuck: bool = False
    finished: bool = False

    @property
    def narrows(self) -> bool:
        """Whether houses may be left out."""
        return bool(self.words or self.supervisor or self.region or self.stuck)


def read_asked(query: Mapping[str, str]) -> Asked:
    """What an address asks for; an id that is no number asks for any."""
    return Asked(
        words=query.get("words", "").strip()[:80],
        supervisor=_read_id(query.get("supervisor", "")),
        region=_read_id(query.get("region", "")),
        stuck=query.get("stuck") == "1",
        finished=query.get("finished") == "1",
    )


def _read_id(value: str) -> int | None:
    return int(value) if value.isascii() and value.isdigit() and len(value) < 18 else None


def choose_rows(rows: Sequence[BoardRow], asked: Asked) -> list[BoardRow]:
    """The rows asked for, in the order given."""
    return [row for row in rows if _fits(row, asked)]


def _fits(row: BoardRow, asked: Asked) -> bool:
    house = row.house
    said = [house.name, house.key, house.address, row.supervisor]
    if row.waits is not None:
        said += [row.waits.words, row.waits.who]
    text = " ".join(said).casefold()
    return (
        (asked.supervisor is None or house.supervisor_id == asked.supervisor)
        and (asked.region is None or house.region_id == asked.region)
        and (not asked.stuck or is_stuck(row))
        and all(word in text for word in asked.words.casefold().split())
    )


def is_stuck(row: BoardRow) -> bool:
    """Whether a hold point stops the house now."""
    return any(hold.state in STUCK for hold in row.holds)


def sum_up(rows: Sequence[BoardRow]) -> str:
    """'8 houses: 3 held, 1 re-opened, 2 linings told and not confirmed'."""
    held = sum(any(hold.state == "held" for hold in row.holds) for row in rows)
    again = sum(any(hold.state == "re-opened" for hold in row.holds) for row in rows)
    silent = sum(
        row.stake_booking is not None
        and row.stake_booking.state in ("pencilled", "firm")
        and row.stake_booking.confirmed_at is None
        for row in rows
    )
    parts = [_("%(count)d held") % {"count": held}, _("%(count)d re-opened") % {"count": again}]
    if silent:
        parts.append(_("%(count)d linings told and not confirmed") % {"count": silent})
    return _("Houses: %(count)d. %(parts)s.") % {"count": len(rows), "parts": ", ".join(parts)}
