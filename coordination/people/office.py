"""The builder's page of people: who has which role, who stands in, what is asked at signing, what is kept."""

from __future__ import annotations

import datetime as dt
from typing import cast

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination import clock
from coordination.people.access import builders_of, for_roles, get_own, read_key
from coordination.people.models import Builder, Person, Role
from coordination.people.pins import drop_pin
from coordination.people.refusals import BadInput

PLANNER = Role.Kind.PLANNER


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def people(request: HttpRequest) -> HttpResponse:
    """Show the people of each builder that the person plans for; take one change."""
    person = cast(Person, request.user)
    refusal: BadInput | None = None
    if request.method == "POST":
        key = read_key(request.POST.get("builder", "")) or 0
        builder = get_own(builders_of(person), person, PLANNER, path="pk", pk=key)
        try:
            messages.success(request, _act(request, builder, person))
            return redirect("people:people")
        except BadInput as found:
            refusal = found
    offices = [
        {"builder": one, "roles": _roles(one), "choices": Builder.SignsWith.choices}
        for one in builders_of(person, PLANNER).select_related("positions_agreed_by")
    ]
    page = {"offices": offices, "refusal": refusal, "entered": request.POST, "today": clock.today()}
    return render(request, "people/people.html", page, status=422 if refusal else 200)


def _roles(builder: Builder) -> list[Role]:
    return list(
        builder.roles.select_related("person", "deputy_for__person").order_by("person__name", "kind", "pk")
    )


def _act(request: HttpRequest, builder: Builder, by: Person) -> str:
    acts = {
        "signing": _set_signing,
        "sampling": _set_sampling,
        "positions": _set_positions,
        "drop-pin": _drop_pin,
        "deputy": _add_deputy,
    }
    act = acts.get(request.POST.get("act", ""))
    if act is None:
        raise BadInput("act", _("There is no such act. Use the buttons of the page."))
    with transaction.atomic():
        return act(request, builder, by)


def _set_signing(request: HttpRequest, builder: Builder, by: Person) -> str:
    builder.signs_with = request.POST.get("signs_with", "")
    builder.pin_least = _read_number(request, "pin_least")
    _save(builder, "signs_with", "pin_least")
    return _("Asked once more at signing: %(what)s.") % {"what": builder.get_signs_with_display()}


def _set_sampling(request: HttpRequest, builder: Builder, by: Person) -> str:
    builder.tightened_houses = _read_number(request, "tightened_houses")
    builder.clean_houses = _read_number(request, "clean_houses")
    _save(builder, "tightened_houses", "clean_houses")
    return _("Samples ease after %(ease)d clean houses and are reduced after %(reduce)d.") % {
        "ease": builder.tightened_houses,
        "reduce": builder.clean_houses,
    }


def _read_number(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 3):
        raise BadInput(name, _("Give a whole number of at most two digits."))
    return int(text)


def _save(builder: Builder, *names: str) -> None:
    try:
        builder.clean_fields(exclude={one.name for one in Builder._meta.fields} - set(names))
    except ValidationError as error:
        raise BadInput(names[0], " ".join(error.messages)) from error
    builder.save(update_fields=list(names))


def _set_positions(request: HttpRequest, builder: Builder, by: Person) -> str:
    agreed = request.POST.get("agreed") == "yes"
    builder.positions_agreed_at = clock.now() if agreed else None
    builder.positions_agreed_by = by if agreed else None
    builder.save(update_fields=["positions_agreed_at", "positions_agreed_by"])
    if agreed:
        return _("The place where a photograph was taken is kept with it from now on.")
    return _("The place where a photograph was taken is dropped from now on.")


def _drop_pin(request: HttpRequest, builder: Builder, by: Person) -> str:
    key = read_key(request.POST.get("person", "")) or 0
    role = builder.roles.filter(person=key).select_related("person").first()
    if role is None:
        raise BadInput("person", _("Nobody of that number has a role here. Load the page again."))
    drop_pin(role.person)
    return _("%(name)s has no PIN any more and sets another.") % {"name": role.person.name}


def _add_deputy(request: HttpRequest, builder: Builder, by: Person) -> str:
    """Somebody of the builder stands in for a supervisor or assessor from one day to another."""
    roles = builder.roles.select_related("person")
    # Nobody stands in for who stands in: that would outlive the days for which she was asked.
    stands_for = roles.filter(
        pk=read_key(request.POST.get("role", "")) or 0,
        kind__in=(Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR),
        deputy_for__isnull=True,
    ).first()
    who = roles.filter(person=read_key(request.POST.get("person", "")) or 0).first()
    if stands_for is None or who is None:
        raise BadInput("person", _("Choose who stands in, and for whom."))
    if who.person_id == stands_for.person_id:
        raise BadInput("person", _("Nobody stands in for herself. Choose another person."))
    first, last = _read_day(request, "first_day"), _read_day(request, "last_day")
    if last < first:
        raise BadInput("last_day", _("The last day lies before the first. Swap them."))
    if stands_for.last_day is not None and last > stands_for.last_day:
        raise BadInput(
            "last_day",
            _("The role of %(whom)s ends %(day)s. Nobody stands in for it longer.")
            % {
                "whom": stands_for.person.name,
                "day": clock.say_day(clock.as_half_day(stands_for.last_day)),
            },
        )
    same = {"person": who.person, "builder": builder, "kind": stands_for.kind, "first_day": first}
    if Role.objects.filter(**same).exists():
        raise BadInput(
            "first_day", _("%(name)s has this role from that day already.") % {"name": who.person.name}
        )
    Role.objects.create(**same, last_day=last, deputy_for=stands_for)
    return _("%(name)s stands in for %(whom)s, %(first)s to %(last)s.") % {
        "name": who.person.name,
        "whom": stands_for.person.name,
        "first": clock.say_day(clock.as_half_day(first)),
        "last": clock.say_day(clock.as_half_day(last)),
    }


def _read_day(request: HttpRequest, name: str) -> dt.date:
    try:
        return dt.date.fromisoformat(request.POST.get(name, ""))
    except ValueError as error:
        raise BadInput(name, _("Give the first and the last day of standing in.")) from error
