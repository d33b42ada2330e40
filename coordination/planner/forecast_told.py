"""A house's forecast in words: from when its bookings can be promised, how sure, and why so late."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.sequence.forecasting import is_asked
from coordination.sequence.models import Activity, House, HouseForecast, Visit
from coordination.sequence.unreported import read_unreported


@dataclass(frozen=True)
class BehindHold:
    """A visit behind a closed hold point: planned, likely, and the day from which it can be promised.

    `tenth` and `ninth` are the days by which it can begin in one and in nine of ten draws, `critical` says in
    how many it decides the end, `waits` where its crew is before.
    """

    hold: str
    visit: int
    name: str
    planned: str
    likely: str
    promise: str
    tenth: str
    ninth: str
    critical: str
    waits: str


@dataclass(frozen=True)
class ForecastTold:
    """The forecast of one house.

    Attributes:
        known: whether there is one; `words` says why not, `asked` that one is being made.
        stale: it speaks of an older plan.
        promise: 'promise from Tue 14 Apr, morning at 80 %', of the linings; once they have begun, by when the
            house is finished as surely.
        unreported: nobody reported on the house for days, so that nothing is promised from it.
        why: what puts that date off, the largest part first.
    """

    known: bool
    asked: bool
    stale: bool
    words: str
    confidence: int
    revision: int | None
    computed: str
    draws: int
    finish_likely: str
    finish_sure: str
    promise: str
    planned: str
    why: tuple[str, ...]
    late_crews: tuple[str, ...]
    holds: tuple[BehindHold, ...]
    unreported: str = ""


def tell_forecast(house: House, latest: int | None) -> ForecastTold:
    """The forecast of a house; `latest` is the number of its latest plan."""
    row = HouseForecast.objects.filter(house=house).first()
    unreported = say_unreported(read_unreported([house]).get(house.pk))
    if row is None or row.revision is None:
        words = row.words if row else ""
        return ForecastTold(
            False, is_asked(row), False, words, 0, None, "", 0, "", "", "", "", (), (), (), unreported
        )
    result, target = row.result, row.result.get("target")
    return ForecastTold(
        known=True,
        asked=is_asked(row),
        stale=row.revision != latest,
        words=row.words,
        confidence=row.confidence,
        revision=row.revision,
        computed=clock.say_moment(row.computed_at, house.builder.time_zone),
        draws=row.draws,
        finish_likely=_say_last(row.finish_likely),
        finish_sure=_say_last(row.finish_sure),
        promise="" if unreported else say_promise(row) or _say_end(row),
        planned=clock.say_half_day(target["planned"]) if target else "",
        why=tuple(_say_cost(one["cause"], one["half_days"]) for one in result.get("costs", ())),
        late_crews=tuple(
            _("%(crew)s, late to %(per_cent)s %% of its visits")
            % {"crew": one["crew"], "per_cent": one["per_cent"]}
            for one in result.get("late_crews", ())
        ),
        holds=() if unreported else tuple(_tell_holds(row)),
        unreported=unreported,
    )


def say_unreported(since: int | None) -> str:
    """'nothing reported since Mon 14 Sep, morning: dates before today are not real'; empty for None."""
    if since is None:
        return ""
    return _("nothing reported since %(half_day)s: dates before today are not real") % {
        "half_day": clock.say_half_day(since)
    }


def _say_last(finish: int | None) -> str:
    return clock.say_half_day(None if finish is None else finish - 1)


def _say_end(row: HouseForecast) -> str:
    return _("finished by %(day)s at %(confidence)s %%") % {
        "day": _say_last(row.finish_sure),
        "confidence": row.confidence,
    }


def say_promise(row: HouseForecast) -> str:
    """'promise from Tue 14 Apr at 80 %'; empty when the linings have begun."""
    target = row.result.get("target")
    if not target:
        return ""
    return _("promise from %(day)s at %(confidence)s %%") % {
        "day": clock.say_half_day(target["start"]),
        "confidence": row.confidence,
    }


def _say_cost(cause: str, half_days: int) -> str:
    forms = {
        "late": _("crews that come late: %(length)s"),
        "fails": _("walks that fail: %(length)s"),
        "longer": _("work that takes longer: %(length)s"),
    }
    return forms[cause] % {"length": clock.say_length(half_days)}


def _tell_holds(row: HouseForecast) -> Iterable[BehindHold]:
    rows = row.result.get("holds", ())
    points = Activity.objects.in_bulk({one["point"] for one in rows})
    visits = Visit.objects.in_bulk({one["visit"] for one in rows})
    for one in sorted(rows, key=lambda one: (one["planned"], one["start"], one["visit"])):
        if one["point"] not in points or one["visit"] not in visits:
            continue  # the house was set out anew since
        yield BehindHold(
            hold=points[one["point"]].name,
            visit=one["visit"],
            name=visits[one["visit"]].name,
            planned=clock.say_half_day(one["planned"]),
            likely=clock.say_half_day(one["likely"]),
            promise=clock.say_half_day(one["start"]),
            # Kept by a version that knew less, a forecast has no such values until it is made anew.
            tenth=clock.say_half_day(one["tenth"]) if "tenth" in one else "",
            ninth=clock.say_half_day(one["ninth"]) if "ninth" in one else "",
            critical=_("in %(per_cent)s %% of draws") % {"per_cent": round(100 * one["critical"])}
            if "critical" in one
            else "",
            waits=_say_wait(one),
        )


def _say_wait(one: Mapping[str, Any]) -> str:
    if not one.get("waits"):
        return ""
    if one["elsewhere"]:
        return _("its crew is at %(house)s before") % {"house": one["elsewhere"]}
    return _("its crew has other work before")


def say_together(houses: Collection[int]) -> str:
    """How many of these houses may end late together, by the newest forecast; empty for fewer than two."""
    rows = HouseForecast.objects.filter(house__in=list(houses), revision__isnull=False)
    row = rows.order_by("-computed_at").first()
    together = row.result.get("together") if row is not None else None
    if not together or together["houses"] < 2:
        return ""
    if not together["late"]:
        return _("In 9 of 10 cases no house ends over a week later than planned.")
    if together["late"] >= together["houses"]:
        words = _("In at least 1 of 10 cases all %(houses)s houses end over a week later than planned.")
        return words % {"houses": together["houses"]}
    return _("In 9 of 10 cases at most %(late)s of %(houses)s houses end over a week later than planned.") % {
        "late": together["late"],
        "houses": together["houses"],
    }


def say_promises(numbers: Mapping[int, int | None]) -> dict[int, str]:
    """House id → the promise of its linings, for the page of all houses.

    Args:
        numbers: house id → number of its latest plan.
    """
    found = {}
    for row in HouseForecast.objects.filter(house__in=list(numbers), revision__isnull=False):
        words = say_promise(row)
        if words and row.revision != numbers[row.house_id]:
            words = _("%(promise)s, before the last change") % {"promise": words}
        if words:
            found[row.house_id] = words
    return found
