"""The builder's page of people: who has which role, who comes, who stands in, what is asked at signing."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination import clock
from coordination.people import deputies, office_terms
from coordination.people.access import builders_of, for_roles, get_own, read_key
from coordination.people.forms import JoinForm
from coordination.people.joining import SIGNING_KINDS, find_or_make_person, give_role
from coordination.people.models import Builder, Person, Role
from coordination.people.refusals import BadInput

PLANNER = Role.Kind.PLANNER

ACTS = {
    "signing": office_terms.set_signing,
    "sampling": office_terms.set_sampling,
    "positions": office_terms.set_positions,
    "drop-pin": office_terms.take_pin_away,
    "deputy": deputies.add_deputy,
    "end-deputy": deputies.end_deputy,
}


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def people(request: HttpRequest) -> HttpResponse:
    """Show the people of each builder that the person plans for; take one change."""
    person = cast(Person, request.user)
    refusal: BadInput | None = None
    builder: Builder | None = None
    join: JoinForm | None = None
    if request.method == "POST":
        key = read_key(request.POST.get("builder", "")) or 0
        builder = get_own(builders_of(person), person, PLANNER, path="pk", pk=key)
        if request.POST.get("act") == "join":
            join = JoinForm(request.POST, auto_id=_ids(builder))
            words = _take_on(join, builder, person)
        else:
            try:
                words = _act(request, builder, person)
            except BadInput as found:
                refusal, words = found, ""
        if words:
            messages.success(request, words)
            return redirect("people:people")
    offices = [
        _read_office(one, request, builder, join)
        for one in builders_of(person, PLANNER).select_related("positions_agreed_by")
    ]
    page = {"offices": offices, "refusal": refusal, "refused_form": join}
    return render(request, "people/people.html", page, status=422 if builder else 200)


def _ids(builder: Builder) -> str:
    return f"join-{builder.pk}-%s"


def _read_office(
    builder: Builder, request: HttpRequest, posted: Builder | None, join: JoinForm | None
) -> dict[str, Any]:
    """One builder's part of the page; what was entered stands again in the part that was sent."""
    rows = builder.roles.select_related("person", "deputy_for__person", "granted_by", "ended_by")
    today = clock.today(builder.time_zone)
    now: list[Role] = []
    past: list[Role] = []
    for role in rows.order_by("person__name", "kind", "pk"):
        over = role.ended_at is not None or (role.last_day is not None and role.last_day < today)
        (past if over else now).append(role)
    mine = posted == builder
    return {
        "builder": builder,
        "roles": now,
        "past": past,
        "people": list({role.person_id: role.person for role in now}.values()),
        "stood_for": [role for role in now if role.kind in SIGNING_KINDS and not role.deputy_for_id],
        "choices": Builder.SignsWith.choices,
        "join": join if join is not None and mine else JoinForm(auto_id=_ids(builder)),
        "entered": request.POST if mine and join is None else {},
    }


def _take_on(form: JoinForm, builder: Builder, by: Person) -> str:
    """Give somebody her first or another role; '' where the form says what is wrong."""
    if not form.is_valid():
        return ""
    entered = form.cleaned_data
    try:
        with transaction.atomic():
            person = find_or_make_person(builder, entered["name"], entered["mail"], entered["phone"])
            role = give_role(builder, person, entered["kind"], by)
    except BadInput as refusal:
        form.refuse(refusal)
        return ""
    facts = {"name": person.name, "role": role.get_kind_display(), "mail": person.email}
    return _("%(name)s is %(role)s now; a letter to %(mail)s says so.") % facts


def _act(request: HttpRequest, builder: Builder, by: Person) -> str:
    act = ACTS.get(request.POST.get("act", ""))
    if act is None:
        raise BadInput("act", _("There is no such act. Use the buttons of the page."))
    with transaction.atomic():
        return act(request, builder, by)
