"""The crews that the office keeps: a new one, its details, its members, retiring it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from coordination.people.access import builders_of, for_roles
from coordination.people.models import Builder, Crew, Trade
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.crew_keeping import (
    add_crew,
    add_member,
    change_crew,
    end_membership,
    retire_crew,
    take_on_again,
)
from coordination.planner.forms.crews import CrewForm, MemberForm, kept_of
from coordination.planner.views.crews import builder_of, find_crew, show_crew
from coordination.planner.views.finding import PLANNER, person_of, show


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def new(request: HttpRequest) -> HttpResponse:
    """Take a crew on, of a company that is known or new."""
    builders = builders_of(person_of(request), PLANNER).order_by("name", "pk")
    asked = request.POST.get("builder") or request.GET.get("builder")
    builder = get_object_or_404(builders, slug=asked) if asked else builders[0]
    form = CrewForm(builder, None, request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            crew = add_crew(builder, form.chosen_company(), form.entry())
        except BadInput as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _say_added(crew))
            return redirect("planner:crew", crew=crew.pk)
    return _show_form(request, form, builder, None)


def _say_added(crew: Crew) -> str:
    if crew.contact is None:
        return _("%(crew)s is added. Make a link of its page below and hand it over.") % {"crew": crew.name}
    facts = {"crew": crew.name, "mail": crew.contact.email}
    return (
        _("%(crew)s is added; the link of its page goes to %(mail)s, after the quiet hours if it is late.")
        % facts
    )


def _show_form(
    request: HttpRequest,
    form: CrewForm,
    builder: Builder,
    crew: Crew | None,
    refusal: WrongState | None = None,
) -> HttpResponse:
    here = [(crew.name, reverse("planner:crew", args=[crew.pk]))] if crew else []
    last = _("Change") if crew else _("Add a crew")
    context = {
        "form": form,
        "builder": builder,
        "builders": builders_of(person_of(request), PLANNER).order_by("name", "pk"),
        "crew": crew,
        "trades": Trade.objects.exists(),
        "crumbs": [(_("Crews"), reverse("planner:crews")), *here, (last, "")],
    }
    status = 422 if form.errors else 200
    return show(request, "planner/crew_form.html", context, refusal, section="crews", status=status)


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def change(request: HttpRequest, crew: int) -> HttpResponse:
    """Change what is kept of a crew."""
    found = find_crew(request, crew)
    builders = builders_of(person_of(request), PLANNER)
    builder = builder_of(found, builders)
    form = CrewForm(builder, found, request.POST or None, initial=kept_of(found))
    if request.method == "POST" and form.is_valid():
        try:
            company = form.cleaned_data["company"]
            change_crew(builder, builders, found, company, form.entry(), person_of(request))
        except BadInput as refusal:
            form.refuse(refusal)
        except WrongState as refusal:
            return _show_form(request, form, builder, find_crew(request, crew), refusal)
        else:
            messages.success(request, _("Kept: %(crew)s.") % {"crew": found.name})
            return redirect("planner:crew", crew=found.pk)
    return _show_form(request, form, builder, find_crew(request, crew))


@require_POST
@for_roles(PLANNER)
def retire(request: HttpRequest, crew: int) -> HttpResponse:
    """Retire a crew; what it did stays."""
    found = find_crew(request, crew)
    try:
        retire_crew(found, builders_of(person_of(request), PLANNER))
    except WrongState as refusal:
        return show_crew(request, found, refusal)
    words = _("%(crew)s is retired: it is offered for no visit, and its links open nothing.")
    messages.success(request, words % {"crew": found.name})
    return redirect("planner:crew", crew=found.pk)


@require_POST
@for_roles(PLANNER)
def again(request: HttpRequest, crew: int) -> HttpResponse:
    """A retired crew is back."""
    found = find_crew(request, crew)
    try:
        take_on_again(found, builders_of(person_of(request), PLANNER))
    except WrongState as refusal:
        return show_crew(request, found, refusal)
    messages.success(request, _("%(crew)s is back. Send it a new link.") % {"crew": found.name})
    return redirect("planner:crew", crew=found.pk)


@require_POST
@for_roles(PLANNER)
def add(request: HttpRequest, crew: int) -> HttpResponse:
    """Put a person on the crew's list."""
    found = find_crew(request, crew)
    builder = builder_of(found, builders_of(person_of(request), PLANNER))
    form = MemberForm(builder, request.POST)
    if form.is_valid():
        data = form.cleaned_data
        try:
            person = add_member(builder, found, data["person"], data["name"], data["mail"])
        except BadInput as refusal:
            form.refuse(refusal)
        else:
            facts = {"name": person.name, "crew": found.name}
            words = _("%(name)s is in %(crew)s: its work is not %(name)s's to judge.")
            messages.success(request, words % facts)
            return redirect("planner:crew", crew=found.pk)
    return show_crew(request, found, member_form=form, status=422)


@require_POST
@for_roles(PLANNER)
def leave(request: HttpRequest, crew: int, member: int) -> HttpResponse:
    """A person has left the crew today."""
    found = find_crew(request, crew)
    try:
        left = end_membership(found, member)
    except BadInput as refusal:
        return show_crew(request, found, refusal)
    words = _("%(name)s has left %(crew)s. What it was booked for before stays not %(name)s's to judge.")
    messages.success(request, words % {"name": left.person.name, "crew": found.name})
    return redirect("planner:crew", crew=found.pk)
