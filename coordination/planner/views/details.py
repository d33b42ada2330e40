"""What gets buried in a house: each detail with its access window, and one detail with its sketch."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles
from coordination.planner.house_head import read_head
from coordination.planner.limits_told import read_limits
from coordination.planner.views.finding import SEERS, find_house, show
from coordination.sequence.costs_told import tell_costs
from coordination.sequence.models import Detail, House
from coordination.sequence.queries import WindowFact, programme
from coordination.sequence.sketches import draw_sketch


@dataclass(frozen=True)
class Buried:
    """A detail's window and whether it is judged."""

    window: WindowFact
    judged: bool


@require_GET
@for_roles(*SEERS)
def details(request: HttpRequest, house: int) -> HttpResponse:
    """All details of a house in the order in which they are due; those still to be judged first."""
    found = find_house(request, house)
    known = programme(found)
    rows: list[Buried] = []
    if known is not None:
        passed = {row.id for row in known.activities if row.is_point and row.actual_finish is not None}
        rows = [Buried(window, window.point_id in passed) for window in known.windows]
    context = {
        "head_of": read_head(found),
        "house": found,
        "tab": "details",
        "to_come": [row for row in rows if not row.judged],
        "judged": [row for row in rows if row.judged],
    }
    return show(request, "planner/details.html", context)


@require_GET
@for_roles(*SEERS)
def detail(request: HttpRequest, house: int, detail: int) -> HttpResponse:
    """One detail of a house: window, places, instruction, sketch, what the check measures."""
    found = find_house(request, house)
    row = _find_detail(found, detail)
    known = programme(found)
    window = next((one for one in known.windows if one.detail_id == row.pk), None) if known else None
    head = read_head(found)
    context = {
        "head_of": head,
        "house": found,
        "tab": "details",
        "crumbs": head.crumbs_to(_("What gets buried")),
        "detail": row,
        "window": window,
        "places": [one.place for one in row.detail_places.select_related("place").order_by("place__order")],
        "sketch": draw_sketch(row.drawing, row.drawing_numbers),
        "miss": tell_costs([row]).get(row.pk),
        "checks": [one for one in read_limits(found) if one.detail == row.key],
    }
    return show(request, "planner/detail.html", context)


def _find_detail(house: House, pk: int) -> Detail:
    row = Detail.objects.filter(house=house, pk=pk).first()
    if row is None:
        raise Http404
    return row


@require_GET
@for_roles(*SEERS)
def section(request: HttpRequest, house: int, detail: int) -> HttpResponse:
    """The to-scale section of one detail with its limits: a fragment that the programme opens in its row.

    Opened as a page of its own it is the page of the detail.
    """
    found = find_house(request, house)
    row = _find_detail(found, detail)
    if not getattr(request, "htmx", False):
        return redirect("planner:detail", house=found.pk, detail=row.pk)
    sketch = draw_sketch(row.drawing, row.drawing_numbers)
    if sketch is None:
        raise Http404
    context = {
        "house": found,
        "detail": row,
        "sketch": sketch,
        "checks": [one for one in read_limits(found) if one.detail == row.key and one.limit],
    }
    return show(request, "planner/_section.html", context)
