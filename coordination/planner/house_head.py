"""The title strip over every page of one house: what it waits for, its linings, what closes next, its end."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from coordination import clock
from coordination.planner.house_lines import HoldLine, HouseLine, write_hold, write_line
from coordination.sequence.inspection import Missing
from coordination.sequence.models import House
from coordination.sequence.queries import BoardRow, board


@dataclass(frozen=True)
class WhyNot:
    """What keeps one hold before the linings closed."""

    hold: HoldLine
    missing: tuple[Missing, ...]


@dataclass(frozen=True)
class HouseHead:
    """The head of a house's pages.

    Attributes:
        why_not: the closed holds before the linings with what is missing; empty once all are released.
        stake: name of the linings.
        tabs: key, words and link of the pages of the house.
    """

    house: House
    row: BoardRow
    line: HouseLine
    stake: str
    why_not: tuple[WhyNot, ...]
    tabs: tuple[tuple[str, str, str], ...]

    @property
    def crumbs(self) -> list[tuple[str, str]]:
        """All houses, then this one."""
        return [(_("Houses"), reverse("planner:houses")), (self.house.name, "")]

    def crumbs_to(self, words: str) -> list[tuple[str, str]]:
        """All houses, this one, the page itself."""
        link = reverse("planner:house", args=[self.house.pk])
        return [(_("Houses"), reverse("planner:houses")), (self.house.name, link), (words, "")]


def read_head(house: House) -> HouseHead:
    """Read the head of a house's pages, in a fixed number of queries."""
    row = board(house.builder, only=house)[0]
    return HouseHead(
        house=house,
        row=row,
        line=write_line(row, SafeString()),
        stake=row.stake_name or _("Linings"),
        why_not=tuple(
            WhyNot(write_hold(hold, dated=True), hold.inspection.missing) for hold in row.stake_held_by
        ),
        tabs=_list_tabs(house),
    )


def _list_tabs(house: House) -> tuple[tuple[str, str, str], ...]:
    return (
        ("programme", _("Programme"), reverse("planner:house", args=[house.pk])),
        ("visits", _("Visits and bookings"), reverse("planner:visits", args=[house.pk])),
        ("details", _("What gets buried"), reverse("planner:details", args=[house.pk])),
        ("moves", _("What moved"), reverse("planner:moves", args=[house.pk])),
        ("ordered", _("As set out"), reverse("planner:ordered", args=[house.pk])),
        ("record", _("Record"), reverse("planner:house_record", args=[house.pk])),
    )


def say_today(house: House) -> int:
    """The current half-day where the house stands."""
    return clock.current_half_day(house.builder.time_zone)
