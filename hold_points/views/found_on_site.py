"""Found one that is not on the plan: added on the spot, from the walk."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles, read_key
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.models import Place
from hold_points.found_on_site import add_found, details_at
from hold_points.views.finding import SEERS, crumbs_of, find_inspection, may_walk, person_of, show, text_of


@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def found_on_site(request: HttpRequest, inspection: int) -> HttpResponse:
    """Say what and where; its checks are then judged like the others."""
    found = find_inspection(request, inspection)
    context = {
        "section": "walks",
        "crumbs": crumbs_of(found, _("Found on site")),
        "inspection": found,
        "house": found.house,
        "may_walk": may_walk(request, found),
        "details": details_at(found),
        "places": Place.objects.filter(house=found.house_id),
        "entered": request.POST or request.GET,
    }
    if request.method == "GET":
        return show(request, "hold_points/found_on_site.html", context)
    try:
        fresh = add_found(
            found,
            person_of(request),
            detail_id=read_key(request.POST.get("detail", "")),
            words=text_of(request, "words"),
            place_id=read_key(request.POST.get("place", "")),
            new_place=text_of(request, "new_place"),
        )
    except (BadInput, WrongState) as refusal:
        return show(request, "hold_points/found_on_site.html", context, refusal)
    messages.success(request, _("Added and on the record. The planner is told; judge it like the rest."))
    return redirect("hold_points:check", fresh[0].pk)
