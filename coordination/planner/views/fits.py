"""Fit to the crews: start it, watch it, look at what it would move, apply it, take it back."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django_htmx.http import HttpResponseClientRefresh

from coordination import clock
from coordination.people.access import builders_of, for_roles, get_own, read_key
from coordination.people.models import Builder
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.fit_told import tell_fit, tell_house
from coordination.planner.forms.fits import FitForm
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.planner.views.visits import find_visit, show_visit
from coordination.sequence import fitting
from coordination.sequence.fit_basis import running_houses
from coordination.sequence.models import Fit

SHOWN = 10


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def fits(request: HttpRequest) -> HttpResponse:
    """Choose the houses and start; what was computed before stands below."""
    builders = builders_of(person_of(request), PLANNER).order_by("name")
    if request.method == "GET":
        again = read_key(request.GET.get("again", ""))
        return _show_fits(request, list(builders), again=_find(request, again) if again else None)
    builder = get_object_or_404(builders, slug=request.POST.get("builder", ""))
    form = FitForm(running_houses(builder), request.POST)
    if not form.is_valid():
        return _show_fits(request, list(builders), bound=(builder, form))
    try:
        fit = fitting.start_fit(
            builder,
            person_of(request),
            form.cleaned_data["houses"],
            form.cleaned_data["seconds"],
            form.weights,
        )
    except (BadInput, WrongState) as refusal:
        return _show_fits(request, list(builders), refusal, (builder, form))
    return redirect("planner:fit", fit=fit.pk)


def _show_fits(
    request: HttpRequest,
    builders: list[Builder],
    refusal: BadInput | WrongState | None = None,
    bound: tuple[Builder, FitForm] | None = None,
    again: Fit | None = None,
) -> HttpResponse:
    offices = []
    for builder in builders:
        houses = running_houses(builder)
        mine = bound is not None and bound[0] == builder
        offices.append(
            {
                "builder": builder,
                "form": bound[1]
                if bound and mine
                else FitForm(houses, again=again if again and again.builder_id == builder.pk else None),
                "houses": houses,
                "live": builder.fits.filter(state__in=Fit.LIVE).first(),
                "past": builder.fits.exclude(state__in=Fit.LIVE).select_related("by", "decided_by")[:SHOWN],
            }
        )
    context = {"offices": offices, "several": len(offices) > 1, "crumbs": _crumbs()}
    return show(request, "planner/fits.html", context, refusal, section="crews")


def _crumbs(words: str = "") -> list[tuple[str, str]]:
    here = [(_("Crews"), reverse("planner:crews"))]
    if not words:
        return [*here, (_("Fit to the crews"), "")]
    return [*here, (_("Fit to the crews"), reverse("planner:fits")), (words, "")]


def _find(request: HttpRequest, pk: int) -> Fit:
    fits = Fit.objects.select_related("builder", "by", "decided_by", "undone_by")
    return get_own(fits, person_of(request), PLANNER, pk=pk)


@require_GET
@for_roles(PLANNER)
def fit(request: HttpRequest, fit: int) -> HttpResponse:
    """One fit: how far it is, what it would move, or what became of it."""
    return _show_fit(request, _find(request, fit))


def _show_fit(request: HttpRequest, found: Fit, refusal: BadInput | WrongState | None = None) -> HttpResponse:
    found.refresh_from_db()
    asked = clock.say_moment(found.asked_at, found.builder.time_zone)
    context = {
        "fit": found,
        "crumbs": _crumbs(asked),
        "live": found.state in Fit.LIVE,
        "stale": fitting.is_stale(found),
        "count": found.houses.count(),
    }
    if found.result:
        context["told"] = tell_fit(found)
    if found.state == Fit.State.READY:
        context["changed"] = fitting.find_changed(found)
    if found.state == Fit.State.APPLIED:
        context["in_the_way"] = fitting.find_in_the_way(found)
    return show(request, "planner/fit.html", context, refusal, section="crews")


@require_GET
@for_roles(PLANNER)
def fit_house(request: HttpRequest, fit: int, house: int) -> HttpResponse:
    """What moves in one house: a part of the fit's page, or, without scripts, a page of its own."""
    found = _find(request, fit)
    row = get_object_or_404(found.houses.select_related("house"), house=house)
    context = {"fit": found, "one": tell_house(row), "crumbs": _crumbs(row.house.name)}
    part = "planner/_fit_house.html" if request.headers.get("HX-Request") else "planner/fit_house.html"
    return show(request, part, context, section="crews")


@require_GET
@for_roles(PLANNER)
def fit_progress(request: HttpRequest, fit: int) -> HttpResponse:
    """How far it is, for the page that asks each second; the whole page once it has ended."""
    found = _find(request, fit)
    if found.state not in Fit.LIVE:
        return HttpResponseClientRefresh()
    return show(request, "planner/_fit_progress.html", {"fit": found, "stale": fitting.is_stale(found)})


def _act(request: HttpRequest, pk: int, act: Callable[[Fit], str]) -> HttpResponse:
    """Do an act on a fit; say what came of it, or show the fit with the refusal."""
    found = _find(request, pk)
    try:
        with transaction.atomic():
            words = act(found)
    except (BadInput, WrongState) as refusal:
        return _show_fit(request, found, refusal)
    messages.success(request, words)
    return redirect("planner:fit", fit=found.pk)


@require_POST
@for_roles(PLANNER)
def stop_fit(request: HttpRequest, fit: int) -> HttpResponse:
    """Ask the worker to stop."""

    def act(found: Fit) -> str:
        fitting.ask_to_stop(found)
        return _("It stops. The houses stay as they are.")

    return _act(request, fit, act)


@require_POST
@for_roles(PLANNER)
def clear_fit(request: HttpRequest, fit: int) -> HttpResponse:
    """Give up a computation whose worker is not heard of any more."""

    def act(found: Fit) -> str:
        fitting.clear_stale(found)
        return _("It was given up. Start another when you like.")

    return _act(request, fit, act)


@require_POST
@for_roles(PLANNER)
def leave_fit(request: HttpRequest, fit: int) -> HttpResponse:
    """Leave the houses as they are."""

    def act(found: Fit) -> str:
        fitting.leave_fit(found, person_of(request))
        return _("The houses stay as they are.")

    return _act(request, fit, act)


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def apply_fit(request: HttpRequest, fit: int) -> HttpResponse:
    """Move the visits and tell the crews; whoever only comes by the address sees the fit."""
    if request.method == "GET":
        return redirect("planner:fit", fit=_find(request, fit).pk)

    def act(found: Fit) -> str:
        done = fitting.apply_fit(found, person_of(request))
        count = done.result.get("moved", 0)
        return ngettext("%(count)d visit moved.", "%(count)d visits moved.", count) % {"count": count}

    return _act(request, fit, act)


@require_POST
@for_roles(PLANNER)
def undo_fit(request: HttpRequest, fit: int) -> HttpResponse:
    """Put the visits back to where they stood."""

    def act(found: Fit) -> str:
        fitting.undo_fit(found, person_of(request))
        return _("Taken back. The visits stand where the work before them lets them start.")

    return _act(request, fit, act)


@require_POST
@for_roles(PLANNER)
def let_go(request: HttpRequest, house: int, visit: int) -> HttpResponse:
    """Let one visit start as early as the work before it allows, whatever was fitted."""
    found = find_house(request, house, PLANNER)
    row = find_visit(found, visit)
    try:
        if not fitting.let_go(row, person_of(request)):
            raise WrongState(_("%(visit)s waits for no crew.") % {"visit": row.name})
    except (BadInput, WrongState) as refusal:
        return show_visit(request, found, row, refusal)
    messages.success(request, _("%(visit)s waits for its crew no more.") % {"visit": row.name})
    return redirect("planner:visit", house=found.pk, visit=row.pk)
