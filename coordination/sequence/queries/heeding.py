"""What a crew has to mind of other trades' details: those that its work covers, and those it could spoil."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from coordination.sequence.models import Covering, Detail, Installer
from coordination.sequence.queries.visits_of_crew import CrewVisit

VISITS = ("detail", "activity__visit", "activity__visit__trade__key")


@dataclass(frozen=True)
class Heed:
    """A detail that others make, in the words for this trade; `covers`: this visit hides it."""

    detail_id: int
    name: str
    words: str
    covers: bool


def read_heeds(visits: Sequence[CrewVisit]) -> Mapping[int, tuple[Heed, ...]]:
    """By visit's id, in three queries: the details whose sequence has a word for its trade.

    A word belongs to the visits of the trade that install the detail (they read it with the instruction) or
    cover it. Where none of the trade does either (whoever drills a plate later), each of its visits has it.
    """
    wanted = {(visit.house.pk, visit.trade_key) for visit in visits}
    details = [
        one
        for one in Detail.objects.filter(house__in={house for house, _trade in wanted}).order_by("order")
        if any((one.house_id, trade) in wanted for trade in one.tells)
    ]
    covering = _by_detail(Covering.objects.filter(detail__in=details).values_list(*VISITS))
    making = _by_detail(Installer.objects.filter(detail__in=details).values_list(*VISITS))
    of_trade = _trades_of(covering, making)
    found: dict[int, tuple[Heed, ...]] = {}
    for visit in visits:
        heeds = []
        for one in details:
            words = one.tells.get(visit.trade_key)
            if one.house_id != visit.house.pk or not words or visit.visit_id in making[one.pk]:
                continue
            covers = visit.visit_id in covering[one.pk]
            if covers or visit.trade_key not in of_trade[one.pk]:
                heeds.append(Heed(one.pk, one.name, words, covers))
        found[visit.visit_id] = tuple(heeds)
    return found


def _by_detail(rows: Iterable[tuple[int, int | None, str]]) -> dict[int, dict[int, str]]:
    """By detail: the visits that rows lead to, each with its trade's key."""
    found: dict[int, dict[int, str]] = defaultdict(dict)
    for detail, visit, trade in rows:
        if visit is not None:
            found[detail][visit] = trade
    return found


def _trades_of(*several: Mapping[int, Mapping[int, str]]) -> dict[int, set[str]]:
    found: dict[int, set[str]] = defaultdict(set)
    for one in several:
        for detail, visits in one.items():
            found[detail].update(visits.values())
    return found
