"""Rows of a house as its resolved sequence says them: for setting out, and for changing a house later."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from coordination.people.models import Trade
from coordination.sequence import standard
from coordination.sequence.models import (
    Activity,
    Covering,
    Detail,
    House,
    LongestGap,
    Place,
    Relationship,
    Visit,
)


def visit_values(visit: standard.Visit, number: int, trades: Mapping[str, Trade]) -> dict[str, Any]:
    """The fields of a visit; `number` is its place in the order."""
    return {
        "name": visit.name[:160],
        "trade": trades[visit.trade],
        "order": number,
        "delivery": visit.delivery is not None,
        "order_lead": visit.delivery.order_lead if visit.delivery else None,
        "cut_off": visit.delivery.cut_off if visit.delivery else None,
    }


def activity_values(
    one: standard.Activity, number: int, trades: Mapping[str, Trade], visit: Visit | None
) -> dict[str, Any]:
    """The fields of an activity or point that the sequence decides; what was reported is not among them."""
    return {
        "visit": visit,
        "name": one.name[:200],
        "trade": trades[one.trade] if one.trade else None,
        "stage": one.stage,
        "order": number,
        "half_days": one.half_days,
        "is_point": one.is_point,
        "point_kind": one.point,
        "walker": one.walker[:80],
        "notice": one.notice,
        "is_stake": one.stake,
        "outdoor": one.outdoor,
    }


def describe_links(
    house: House, resolved: standard.ResolvedSequence, activities: Mapping[str, Activity]
) -> list[Relationship]:
    """The relationships, unsaved."""
    return [
        Relationship(
            house=house,
            predecessor=activities[link.predecessor],
            successor=activities[link.successor],
            kind=link.type,
            lag=link.lag,
            lag_calendar=link.lag_calendar,
        )
        for link in resolved.relationships
    ]


def lay_gaps(house: House, resolved: standard.ResolvedSequence, activities: Mapping[str, Activity]) -> None:
    """Save the longest gaps."""
    LongestGap.objects.bulk_create(
        LongestGap(
            house=house,
            first=activities[gap.first],
            then=activities[gap.then],
            half_days=gap.half_days,
            why=gap.why[:200],
        )
        for gap in resolved.gaps
    )


def present_details(
    resolved: standard.ResolvedSequence, places: Iterable[Place]
) -> list[tuple[standard.Detail, tuple[Place, ...] | None]]:
    """Details with their places (None: the whole house); one that is in no place here is left out."""
    here = list(places)
    found = [(one, standard.places_for(one, here, resolved.entry)) for one in resolved.details]
    return [(one, where) for one, where in found if where is None or where]


def detail_values(
    one: standard.Detail,
    number: int,
    resolved: standard.ResolvedSequence,
    activities: Mapping[str, Activity],
) -> dict[str, Any]:
    """The fields of a detail, with its drawing in the numbers of this house."""
    drawing = standard.drawing_for(one, resolved.features)
    return {
        "name": one.name[:160],
        "order": number,
        "point": activities.get(one.point),
        "instruction": one.instruction,
        "tells": dict(one.tells),
        "caution": one.caution[:300],
        "drawing": drawing[0] if drawing else "",
        "drawing_numbers": drawing[1] if drawing else {},
        "miss": standard.miss_of(one, resolved.features),
    }


def describe_coverings(
    resolved: standard.ResolvedSequence, details: Mapping[str, Detail], activities: Mapping[str, Activity]
) -> list[Covering]:
    """The coverings of those details that the house has, unsaved."""
    return [
        Covering(
            detail=details[one.id],
            activity=activities[key],
            point=details[one.id].point,
            along=key in one.along,
        )
        for one in resolved.details
        if one.id in details
        for key in one.covered_by
    ]
