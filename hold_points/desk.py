"""What the office looks at: rates, what is to be put right, what needs a walk, what went past, odd walks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from coordination.people.models import Crew, Person
from coordination.sequence.costs_told import tell_costs
from coordination.sequence.misses_told import MissTold
from coordination.sequence.models import Covering, Detail, Hold, House
from coordination.sequence.pricing import weigh_details
from hold_points.facts import load_points
from hold_points.installing import last_installers
from hold_points.models import Check, Evidence, Inspection, Nonconformity, Outcome
from hold_points.plausibility import (
    Judged,
    Odd,
    Picture,
    find_fast,
    find_same_numbers,
    find_seen_before,
)
from hold_points.rates import Rate, count_rates

Rates = dict[Hashable, Rate]


def rate_first_time(houses: QuerySet[House]) -> tuple[Rates, Rates]:
    """How often a check was met at once: by detail's name, and by the crew that installed it."""
    ids = Inspection.objects.filter(house__in=houses).values_list("pk", flat=True)
    details: list[tuple[Hashable, bool]] = []
    crews: list[tuple[Hashable, bool]] = []
    who = _installers(houses)
    for rows in load_points(ids).values():
        for one in rows.readiness.states:
            check = rows.checks[one.check.id]
            if one.first_time is None or check.detail is None:
                continue
            details.append((check.detail.name, one.first_time))
            if crew := who.get(check.detail.pk):
                crews.append((crew, one.first_time))
    return count_rates(details), count_rates(crews)


def _installers(houses: QuerySet[House]) -> dict[int, str]:
    """The crew that holds the visit which installs a detail, the last to work on it."""
    details = Detail.objects.filter(house__in=houses).values_list("pk", flat=True)
    return {detail: booking.crew.name for detail, booking in last_installers(details).items()}


@dataclass(frozen=True)
class CrewRework:
    """What one crew has to put right; without a crew it waits for the planner."""

    crew: Crew | None
    items: Sequence[Nonconformity]
    costs: Mapping[int, MissTold] = field(default_factory=dict)

    @property
    def since(self) -> dt.datetime:
        """When the oldest was found."""
        return min(one.outcome.at for one in self.items)

    @property
    def told(self) -> list[tuple[Nonconformity, MissTold | None]]:
        """Each with what it costs to leave it, where that is reckoned."""
        return [(one, self.costs.get(one.failed.detail_id or 0)) for one in self.items]


def list_rework(houses: QuerySet[House]) -> list[CrewRework]:
    """What is to be put right, by crew, the longest waiting first; within a crew the dearest to leave."""
    waiting = (
        Nonconformity.objects.filter(house__in=houses, check_failed__isnull=False)
        .exclude(state=Nonconformity.State.CLOSED)
        .select_related(
            "crew__contact", "house", "check_failed__place", "check_failed__detail", "raised_by", "concession"
        )
        .order_by("raised_by__at", "pk")
    )
    rows = list(waiting)
    costs = weigh_details(one.failed.detail for one in rows)
    # Safety first, then what costs most; of equals the longest waiting, as they were read.
    rows.sort(key=lambda one: (not one.failed.safety, -costs.get(one.failed.detail_id or 0, 0.0)))
    by_crew: dict[Crew | None, list[Nonconformity]] = {}
    for one in rows:
        if not hasattr(one, "concession"):
            by_crew.setdefault(one.crew, []).append(one)
    told = tell_costs(one.failed.detail for one in rows)
    groups = (CrewRework(crew, items, told) for crew, items in by_crew.items())
    return sorted(groups, key=lambda one: one.since)


@dataclass(frozen=True)
class NeedsWalk:
    """An open hold that is half buried: some of what covers behind it has begun, some has not."""

    hold: Hold
    begun: Sequence[str]
    waiting: Sequence[str]


def list_half_buried(houses: QuerySet[House]) -> list[NeedsWalk]:
    """Open holds behind which covering has begun: what is still to be seen needs a walk at once."""
    open_holds = {
        hold.point_id: hold
        for hold in Hold.objects.filter(
            house__in=houses, lifted_at__isnull=True, set_aside_at__isnull=True
        ).select_related("house", "point__inspection")
    }
    begun: dict[int, list[str]] = {}
    waiting: dict[int, list[str]] = {}
    coverings = Covering.objects.filter(
        Q(point__in=open_holds) | Q(point__isnull=True, detail__point__in=open_holds)
    ).select_related("activity", "detail")
    for one in coverings.order_by("activity__order"):
        point = one.point_id or one.detail.point_id
        if point is None:
            continue
        names = (waiting if one.activity.actual_start is None else begun).setdefault(point, [])
        if one.activity.name not in names:
            names.append(one.activity.name)
    return [
        NeedsWalk(open_holds[point], names, waiting.get(point, []))
        for point, names in sorted(begun.items(), key=lambda one: open_holds[one[0]].house.name)
    ]


def list_set_aside(houses: QuerySet[House]) -> QuerySet[Hold]:
    """Holds that nobody recorded, because the house was brought in half built."""
    found = Hold.objects.filter(house__in=houses, set_aside_at__isnull=False)
    return found.select_related("house", "set_aside_by").order_by("house__name", "point__order")


def list_went_past(houses: QuerySet[House]) -> QuerySet[Nonconformity]:
    """Crews that went on past an open hold point that nobody has released since, the latest first."""
    found = Nonconformity.objects.filter(house__in=houses, gone_past__isnull=False)
    return (
        found.exclude(state=Nonconformity.State.CLOSED)
        .select_related("house", "crew", "visit", "gone_past__point", "decided_by")
        .order_by("-raised_at", "pk")
    )


@dataclass(frozen=True)
class OddWalk:
    """Something about a walk that the assessor may want to ask about."""

    inspection: Inspection
    words: str


def list_odd_walks(houses: QuerySet[House], every: QuerySet[House]) -> list[OddWalk]:
    """Walks at houses that are hard to believe; `every`: where a photograph may have been seen before."""
    outcomes = Outcome.objects.filter(check_judged__inspection__house__in=houses).select_related(
        "check_judged"
    )
    judged = [
        Judged(
            one.check_judged.inspection_id,
            one.by_id,
            one.check_judged.key,
            one.check_judged.place_id,
            one.at,
            one.value,
            one.check_judged.kind == Check.Kind.MEASURED,
        )
        for one in outcomes
    ]
    pictures = [
        Picture(*row)
        for row in Evidence.objects.filter(house__in=every).values_list(
            "inspection", "house", "sha256", "received_at"
        )
    ]
    odd = [*find_fast(judged), *find_same_numbers(judged), *find_seen_before(pictures)]
    inspections = Inspection.objects.filter(house__in=houses).select_related("point", "house")
    rows = {one.pk: one for one in inspections.filter(pk__in={one.inspection for one in odd})}
    people = {one.pk: one.name for one in Person.objects.filter(pk__in={one.by for one in odd if one.by})}
    names = dict(House.objects.filter(pk__in={one.house for one in odd}).values_list("pk", "name"))
    return [
        OddWalk(rows[one.inspection], _say(one, people.get(one.by or 0, ""), names))
        for one in odd
        if one.inspection in rows
    ]


def _say(one: Odd, who: str, houses: dict[int, str]) -> str:
    if one.sort == "fast":
        return _("%(who)s entered %(count)s checks in %(seconds)s seconds.") % {
            "who": who,
            "count": one.count,
            "seconds": one.seconds,
        }
    if one.sort == "same numbers":
        return _("%(key)s: the same number %(value)g in all %(count)s places.") % {
            "key": one.key,
            "value": one.value,
            "count": one.count,
        }
    return _("%(count)s photographs were sent for %(house)s before.") % {
        "count": one.count,
        "house": houses.get(one.house or 0, ""),
    }
