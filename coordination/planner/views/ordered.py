"""A house as it was set out: features, options, places, activities, details with their places and limits."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles
from coordination.planner.forms.feature_fields import say_value
from coordination.planner.house_head import read_head
from coordination.planner.limits_told import LimitTold, tell_limits
from coordination.planner.views.finding import SEERS, find_house, may_plan, show
from coordination.sequence.library.features import applies
from coordination.sequence.models import Detail, House
from coordination.sequence.set_out import resolved_of
from coordination.sequence.standard import ResolvedSequence


@dataclass(frozen=True)
class DetailOrdered:
    """A detail of the house, where it is, and what its checks measure."""

    detail: Detail
    places: tuple[str, ...]
    limits: tuple[LimitTold, ...]


@require_GET
@for_roles(*SEERS)
def ordered(request: HttpRequest, house: int) -> HttpResponse:
    """What was ordered and what was made of it."""
    found = find_house(request, house)
    resolved = resolved_of(found)
    activities = list(found.activities.select_related("trade", "visit").order_by("order"))
    stages = {one.key: one.name for one in resolved.entry.stages}
    context = {
        "head_of": read_head(found),
        "house": found,
        "tab": "ordered",
        "plans": may_plan(request, found),
        "groups": _list_features(resolved),
        "options": [one.name for one in resolved.entry.options if one.key in resolved.options],
        "places": list(found.places.order_by("order")),
        "details": _list_details(found, resolved),
        "work": [(stages.get(one.stage, ""), one) for one in activities],
        "counts": {
            "activities": sum(not one.is_point for one in activities),
            "points": sum(one.is_point for one in activities),
            "holds": sum(one.holds for one in activities),
            "visits": found.visits.count(),
        },
        "dropped": resolved.dropped,
    }
    return show(request, "planner/ordered.html", context)


def _list_features(resolved: ResolvedSequence) -> list[tuple[str, list[tuple[str, str, bool]]]]:
    groups: dict[str, list[tuple[str, str, bool]]] = {}
    for feature in resolved.entry.features:
        value = resolved.features[feature.key]
        asked = applies(feature, resolved.features)
        words = say_value(feature, value) if asked else _("not asked for this house")
        row = (feature.label, words, value != feature.default)
        groups.setdefault(feature.group, []).append(row)
    return list(groups.items())


def _list_details(house: House, resolved: ResolvedSequence) -> list[DetailOrdered]:
    limits = tell_limits(resolved)
    rows = house.details.prefetch_related("detail_places__place").order_by("order")
    return [
        DetailOrdered(
            row,
            tuple(one.place.name for one in sorted(row.detail_places.all(), key=lambda one: one.place.order)),
            tuple(one for one in limits if one.detail == row.key and one.limit),
        )
        for row in rows
    ]
