"""A fit to the crews in words: which visits move, what each crew costs, how each house ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination import clock
from coordination.people.models import Crew
from coordination.planner.moves_told import say_shift
from coordination.sequence.models import Activity, Fit, FittedHouse, House
from coordination.sequence.reasons import say_reason

FEW = 3
"""Houses whose visits are told on the page itself; of more, each is asked for when it is opened."""


@dataclass(frozen=True)
class VisitTold:
    """One visit that moves; `told` says whether, and how, its crew hears of it."""

    id: int
    name: str
    crew: str
    was: str
    now: str
    by: str
    later: bool
    why: str
    told: str
    tells: bool
    proposed: bool


@dataclass(frozen=True)
class HouseTold:
    """One house of a fit: its end as planned, without and with the limits of the crews; its moves."""

    house: House
    planned: str
    free: str
    fitted: str
    shift: str
    later: bool
    costs: tuple[str, ...]
    moving: int
    visits: tuple[VisitTold, ...]
    """In the whole only where few houses move; else told one house at a time."""


@dataclass(frozen=True)
class ClashTold:
    """A crew that is booked twice by dates that stay."""

    crew: str
    half_day: str
    visits: str


@dataclass(frozen=True)
class FitTold:
    """The whole of a fit."""

    houses: tuple[HouseTold, ...]
    crews: tuple[tuple[str, str, str], ...]
    """Crew, what it costs, in how many houses."""
    clashes: tuple[ClashTold, ...]
    moved: int
    told: int
    later: int
    without_crew: str
    proposed: int
    """Visits that would get a crew."""
    tried: int
    """Schedules that were made."""
    unreported: tuple[tuple[House, str], ...]
    """Houses whose work is overdue and not reported, and since when nothing is recorded."""

    @property
    def moving(self) -> tuple[HouseTold, ...]:
        """Houses in which a visit moves or gets a crew."""
        return tuple(one for one in self.houses if one.moving)


def tell_fit(fit: Fit) -> FitTold:
    """A computed fit in words."""
    rows = list(fit.houses.select_related("house"))
    waits = {int(pk) for row in rows for pk in row.result.get("waits", {})}
    crews = dict(Crew.objects.filter(pk__in=waits).values_list("pk", "name"))
    whole, by_id = fit.result, {row.house_id: row.house for row in rows}
    count = whole.get("without_crew", 0)
    few = sum(bool(row.result.get("visits")) for row in rows) <= FEW
    return FitTold(
        houses=tuple(
            tell_house(row) if few and row.result["visits"] else _tell_house(row, crews)
            for row in rows
            if row.result
        ),
        crews=tuple(
            (
                one["name"],
                clock.say_length(one["half_days"]),
                ngettext("%(count)d house", "%(count)d houses", one["houses"]) % {"count": one["houses"]},
            )
            for one in whole.get("crews", ())
        ),
        clashes=tuple(
            ClashTold(
                one["crew"],
                clock.say_half_day(one["half_day"]),
                ", ".join(f"{visit}, {house}" for visit, house in one["visits"]),
            )
            for one in whole.get("overbooked", ())
        ),
        proposed=whole.get("proposed", 0),
        tried=whole.get("schedules", 0),
        unreported=tuple(
            (by_id[pk], clock.say_day(since - 1)) for pk, since in whole.get("unreported", ()) if pk in by_id
        ),
        moved=whole.get("moved", 0),
        told=whole.get("told", 0),
        later=whole.get("later", 0),
        without_crew=ngettext(
            "%(count)d visit has no crew yet: nobody's time is kept for it.",
            "%(count)d visits have no crew yet: nobody's time is kept for them.",
            count,
        )
        % {"count": count}
        if count
        else "",
    )


def tell_house(row: FittedHouse) -> HouseTold:
    """One house of a computed fit with its visits that move or get a crew."""
    names = dict(Activity.objects.filter(house=row.house_id).values_list("key", "name"))
    crews = dict(Crew.objects.filter(pk__in=map(int, row.result["waits"])).values_list("pk", "name"))
    visits = tuple(_tell_visit(one, names) for one in row.result["visits"])
    return replace(_tell_house(row, crews), visits=visits)


def _tell_house(row: FittedHouse, crews: Mapping[int, str]) -> HouseTold:
    result = row.result
    planned, fitted = result["finish_planned"], result["finish_fitted"]
    return HouseTold(
        house=row.house,
        planned=clock.say_day(planned - 1),
        free=clock.say_day(result["finish_free"] - 1),
        fitted=clock.say_day(fitted - 1),
        shift="" if fitted == planned else _("earlier") if fitted < planned else _("later"),
        later=fitted > planned,
        costs=tuple(
            f"{crews.get(int(crew), '')} {clock.say_length(half_days)}"
            for crew, half_days in sorted(result["waits"].items(), key=lambda one: -one[1])
        ),
        moving=len(result["visits"]),
        visits=(),
    )


def _tell_visit(one: Mapping[str, Any], names: Mapping[str, str]) -> VisitTold:
    starts = one["was"][0] != one["now"][0]
    form = "%(half_day)s" if starts else _("until %(half_day)s")
    was, now = (one["was"][0], one["now"][0]) if starts else (one["was"][1] - 1, one["now"][1] - 1)
    return VisitTold(
        id=one["visit"],
        name=one["name"],
        crew=one["crew"],
        was=form % {"half_day": clock.say_half_day(was)},
        now=form % {"half_day": clock.say_half_day(now)},
        by=say_shift(one["by"]),
        later=one["by"] > 0,
        why=say_reason(one["reason"], names),
        told=_say_told(one),
        tells=bool(one["tells"]),
        proposed=bool(one.get("proposed")),
    )


def _say_told(one: Mapping[str, Any]) -> str:
    if one["tells"]:
        return _("told another date, once")
    if one.get("proposed"):
        return _("is asked; nothing is told yet")
    if one.get("passed"):
        return _("the date told has passed: ring, then pencil a new one")
    if one["told"]:
        return _("the date told stands")
    return _("was told nothing yet")
