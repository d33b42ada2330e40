"""One house's programme: when is what, why then, what does it hide, what if it slips?"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles
from coordination.planner.chains import tell_chain
from coordination.planner.forecast_told import tell_forecast
from coordination.planner.house_drawing import draw_house
from coordination.planner.house_head import read_head, say_today
from coordination.planner.programme_svg import draw_head, draw_plot
from coordination.planner.programme_table import write_holds, write_stages
from coordination.planner.timeline import ZOOMS, lay_out
from coordination.planner.views.finding import SEERS, find_house, may_plan, show
from coordination.sequence.queries import Programme, programme


@require_GET
@for_roles(*SEERS)
def house(request: HttpRequest, house: int) -> HttpResponse:
    """The programme of a house, drawn and in words."""
    found = find_house(request, house)
    head = read_head(found)
    context = {"head_of": head, "house": found, "tab": "programme", "plans": may_plan(request, found)}
    known = programme(found)
    if known is not None:
        context |= _draw(known, _choose_zoom(request), found.pk)
        context["forecast"] = tell_forecast(found, known.plan.number)
    return show(request, "planner/house.html", context)


def _choose_zoom(request: HttpRequest) -> str:
    zoom = request.GET.get("zoom", "whole")
    return zoom if zoom in ZOOMS else "whole"


def _draw(known: Programme, zoom: str, pk: int) -> dict[str, object]:
    drawn = draw_house(known, say_today(known.house))
    layout = lay_out(drawn, zoom)
    words = {"week": _("Days"), "fortnight": _("Weeks"), "whole": _("The whole house")}
    link = reverse("planner:house", args=[pk])
    return {
        "known": known,
        "programme": drawn,
        "layout": layout,
        "head": draw_head(layout),
        "plot": draw_plot(layout),
        "stages": write_stages(drawn),
        "holds": write_holds(drawn),
        "zooms": [(key, words[key], f"{link}?zoom={key}#programme") for key in ZOOMS],
        "stake_chain": tell_chain(known, known.stake_chain),
        "end_chain": tell_chain(known, known.driving_chain),
    }


@require_GET
@for_roles(*SEERS)
def house_record(request: HttpRequest, house: int) -> HttpResponse:
    """The record of the house is kept by the package that judges its hold points; this leads there."""
    found = find_house(request, house)
    return redirect("hold_points:record", house=found.pk)
