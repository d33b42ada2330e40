"""Forecasts: have a house computed, promises given and kept, the terms they are made on."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST
from django_htmx.http import HttpResponseClientRefresh

from coordination.people.access import builders_of, for_roles
from coordination.people.models import Builder
from coordination.planner.forecast_told import tell_forecast
from coordination.planner.forms.forecasts import TermsForm
from coordination.planner.promises_told import tell_promises
from coordination.planner.views.finding import PLANNER, SEERS, find_house, may_plan, person_of, show
from coordination.sequence.crew_habits import terms_of
from coordination.sequence.forecasting import ask_for_forecast
from coordination.sequence.models import Plan


@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def forecast(request: HttpRequest, house: int) -> HttpResponse:
    """Ask for a forecast of the house; or the part of its page that waits for one."""
    if request.method == "POST":
        found = find_house(request, house, PLANNER)
        ask_for_forecast(found)
        messages.success(request, _("The forecast is being computed."))
        return redirect(reverse("planner:house", args=[found.pk]) + "#forecast")
    found = find_house(request, house)
    latest = Plan.objects.filter(house=found).order_by("-number").values_list("number", flat=True).first()
    told = tell_forecast(found, latest)
    if not told.asked:
        return HttpResponseClientRefresh()
    context = {"house": found, "forecast": told, "plans": may_plan(request, found)}
    return show(request, "planner/_forecast.html", context)


@require_http_methods(["GET"])
@for_roles(PLANNER)
def promises(request: HttpRequest) -> HttpResponse:
    """Of the dates promised, how many were kept; and the terms of the next ones."""
    return _show_promises(request)


def _show_promises(request: HttpRequest, bound: tuple[Builder, TermsForm] | None = None) -> HttpResponse:
    offices = [
        {
            "builder": builder,
            "told": tell_promises(builder),
            "form": bound[1] if bound and bound[0] == builder else TermsForm(instance=terms_of(builder)),
        }
        for builder in builders_of(person_of(request), PLANNER).order_by("name")
    ]
    context = {
        "offices": offices,
        "several": len(offices) > 1,
        "crumbs": [(_("Crews"), reverse("planner:crews")), (_("Promises kept"), "")],
    }
    return show(request, "planner/promises.html", context, section="crews")


@require_POST
@for_roles(PLANNER)
def terms(request: HttpRequest) -> HttpResponse:
    """Keep the builder's terms; forecasts made from now on follow them."""
    builders = builders_of(person_of(request), PLANNER)
    builder = get_object_or_404(builders, slug=request.POST.get("builder", ""))
    form = TermsForm(request.POST, instance=terms_of(builder))
    if not form.is_valid():
        return _show_promises(request, (builder, form))
    form.save()
    for house in builder.houses.filter(finished_at__isnull=True, plans__isnull=False).distinct():
        ask_for_forecast(house)
    messages.success(request, _("Kept. The houses are forecast anew."))
    return redirect("planner:promises")
