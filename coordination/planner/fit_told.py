"""A fit to the crews in words: which visits move, what each crew costs, how each house ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination import clock
from coordination.people.models import Crew
from coordination.planner.moves_told import say_shift
from coordination.sequence.models import Activity, Fit, FittedHouse, House
from coordination.sequence.reasons import say_reason


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
    visits: tuple[VisitTold, ...]


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

    @property
    def moving(self) -> tuple[HouseTold, ...]:
        """Houses in which something moves."""
        return tuple(one for one in self.houses if one.visits)


def tell_fit(fit: Fit) -> FitTold:
    """A computed fit in words."""
    rows = list(fit.houses.select_related("house"))
    names = {
        house: dict(Activity.objects.filter(house=house).values_list("key", "name"))
        for house in {row.house_id for row in rows if row.result.get("visits")}
    }
    waits = {int(pk) for row in rows for pk in row.result.get("waits", {})}
    crews = dict(Crew.objects.filter(pk__in=waits).values_list("pk", "name"))
    whole = fit.result
    count = whole.get("without_crew", 0)
    return FitTold(
        houses=tuple(_tell_house(row, names.get(row.house_id, {}), crews) for row in rows if row.result),
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


def _tell_house(row: FittedHouse, names: Mapping[str, str], crews: Mapping[int, str]) -> HouseTold:
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
        visits=tuple(_tell_visit(one, names) for one in result["visits"]),
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
    )


def _say_told(one: Mapping[str, Any]) -> str:
    if one["tells"]:
        return _("told another date, once")
    if one["told"]:
        return _("the date told stands")
    return _("was told nothing yet")
