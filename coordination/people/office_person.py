"""One person of the builder: her details, her roles and who gave them, the houses in her hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from django.contrib import messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from coordination.people.access import builders_of, for_roles, get_own, holders_of, read_key
from coordination.people.forms import PersonForm
from coordination.people.joining import (
    OFFICE_KINDS,
    change_person,
    current_roles,
    end_role,
    give_role,
    keeps_own_address,
    may_change,
)
from coordination.people.models import Builder, Person, Role
from coordination.people.office_port import office_port
from coordination.people.refusals import BadInput

PLANNER = Role.Kind.PLANNER


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def person(request: HttpRequest, person: int) -> HttpResponse:
    """Show a person of the planner's builders; take one change. Others do not exist."""
    by = cast(Person, request.user)
    builders = builders_of(by, PLANNER)
    found = get_object_or_404(Person.objects.filter(roles__builder__in=builders).distinct(), pk=person)
    changeable = may_change(found, by, builders)
    form = PersonForm(initial={"name": found.name, "mail": found.email, "phone": found.phone})
    refusal: BadInput | None = None
    if request.method == "POST":
        try:
            if request.POST.get("act") == "change":
                form = PersonForm(request.POST)
                words = _change(form, builders, found, by, changeable)
            else:
                words = _act(request, found, by)
        except BadInput as refused:
            refusal, words = refused, ""
        if words:
            messages.success(request, words)
            return redirect("people:person", person=found.pk)
        found.refresh_from_db()
    page = {
        "person": found,
        "form": form,
        "refusal": refusal,
        "changeable": changeable,
        "own_address": found != by and keeps_own_address(found),
        "offices": [_read_office(one, found) for one in builders],
        "entered": request.POST,
        "crumbs": [(_("People"), reverse("people:people")), (found.name, "")],
    }
    return render(request, "people/person.html", page, status=422 if request.method == "POST" else 200)


def _read_office(builder: Builder, found: Person) -> dict[str, Any]:
    """What the person is for one builder."""
    every = builder.roles.filter(person=found).select_related(
        "deputy_for__person", "granted_by", "ended_by", "person"
    )
    live = set(current_roles(builder).filter(person=found).values_list("pk", flat=True))
    roles = list(every.order_by("pk"))
    held = {role.kind for role in roles if role.pk in live and not role.deputy_for_id}
    return {
        "builder": builder,
        "roles": [role for role in roles if role.pk in live],
        "past": [role for role in roles if role.pk not in live],
        "to_give": [(kind.value, kind.label) for kind in OFFICE_KINDS if kind not in held],
        "houses": office_port().houses_of(builder, found),
        "takers": holders_of(builder, Role.Kind.SUPERVISOR).exclude(pk=found.pk).order_by("name"),
    }


def _change(
    form: PersonForm, builders: QuerySet[Builder], found: Person, by: Person, changeable: bool
) -> str:
    if not form.is_valid():
        return ""
    if not changeable:
        raise BadInput("name", _say_shared(found))
    builder = builders.filter(roles__person=found).order_by("pk")[0]
    entered = form.cleaned_data
    try:
        change_person(builder, found, by, entered["name"], entered["mail"], entered["phone"])
    except BadInput as refusal:
        form.refuse(refusal)
        return ""
    return _("Kept: %(name)s, %(mail)s.") % {"name": found.name, "mail": found.email}


def _say_shared(found: Person) -> str:
    return _(
        "%(name)s also works for others here, or runs the server: only she herself changes this, on her own "
        "page."
    ) % {"name": found.name}


def _act(request: HttpRequest, found: Person, by: Person) -> str:
    acts = {"give": _give, "end": _end, "hand-over": _hand_over}
    act = acts.get(request.POST.get("act", ""))
    if act is None:
        raise BadInput("act", _("There is no such act. Use the buttons of the page."))
    key = read_key(request.POST.get("builder", "")) or 0
    builder = get_own(builders_of(by), by, PLANNER, path="pk", pk=key)
    with transaction.atomic():
        return act(request, builder, found, by)


def _give(request: HttpRequest, builder: Builder, found: Person, by: Person) -> str:
    role = give_role(builder, found, request.POST.get("kind", ""), by)
    facts = {"name": found.name, "role": role.get_kind_display(), "mail": found.email}
    return _("%(name)s is %(role)s now; a letter to %(mail)s says so.") % facts


def _end(request: HttpRequest, builder: Builder, found: Person, by: Person) -> str:
    key = read_key(request.POST.get("role", "")) or 0
    role = builder.roles.filter(person=found, pk=key).first()
    if role is None:
        raise BadInput("role", _("There is no such role. Load the page again."))
    return _say_ended(end_role(role, by))


def _say_ended(ended: Sequence[Role]) -> str:
    first, *deputies = ended
    facts = {"name": first.person.name, "role": first.get_kind_display()}
    words = _("%(name)s is %(role)s no longer.") % facts
    if deputies:
        names = ", ".join(one.person.name for one in deputies)
        words += " " + _("Nor does %(names)s stand in.") % {"names": names}
    return words


def _hand_over(request: HttpRequest, builder: Builder, found: Person, by: Person) -> str:
    key = read_key(request.POST.get("taker", "")) or 0
    taker = holders_of(builder, Role.Kind.SUPERVISOR).exclude(pk=found.pk).filter(pk=key).first()
    if taker is None:
        raise BadInput("taker", _("Choose the supervisor who takes them."))
    keys = [number for text in request.POST.getlist("house") if (number := read_key(text)) is not None]
    names = office_port().hand_over(builder, found, taker, keys, by)
    if not names:
        raise BadInput("house", _("Choose at least one house that is still in this hand."))
    words = ngettext(
        "%(count)d house is in the hand of %(name)s now, who is told.",
        "%(count)d houses are in the hand of %(name)s now, who is told.",
        len(names),
    )
    return words % {"count": len(names), "name": taker.name}
