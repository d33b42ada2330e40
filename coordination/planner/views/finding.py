"""What the planner's screens share: how they find their objects, and how they answer a refusal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from coordination.people.access import get_own, has_role, roles_of
from coordination.people.models import Person, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.models import House

SEERS = (Role.Kind.PLANNER, Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR)
"""Who may open the pages that only show."""

PLANNER = Role.Kind.PLANNER
"""Who may act."""


def person_of(request: HttpRequest) -> Person:
    """The signed-in person; the views' decorator has let nobody else in."""
    return cast(Person, request.user)


def find_house(request: HttpRequest, pk: int, *kinds: str) -> House:
    """A house of the person's own builders; another builder's does not exist.

    Args:
        kinds: roles that may; without them everyone who may see.
    """
    houses = House.objects.select_related("builder", "sequence_version", "supervisor", "region", "calendar")
    return get_own(houses, person_of(request), *(kinds or SEERS), pk=pk)


def may_plan(request: HttpRequest, house: House) -> bool:
    """Whether the person plans for the house's builder, so that a page shows its acts."""
    return has_role(person_of(request), house.builder, PLANNER)


def say_refusal(refusal: BadInput | WrongState) -> dict[str, Any]:
    """A refusal for the template `planner/_refusal.html`."""
    missing = refusal.missing if isinstance(refusal, WrongState) else ()
    where = refusal.where if isinstance(refusal, BadInput) else ""
    return {"words": refusal.words, "missing": missing, "where": where}


def show(
    request: HttpRequest,
    template: str,
    context: Mapping[str, Any],
    refusal: BadInput | WrongState | None = None,
    section: str = "houses",
    status: int = 200,
) -> HttpResponse:
    """A page; with a refusal it says so and answers 409 (wrong state) or 422 (input that cannot be taken)."""
    roles = set(roles_of(person_of(request)).values_list("kind", flat=True))
    page: dict[str, Any] = {"section": section, "nav_roles": roles, **context}
    if refusal is not None:
        page["refusal"] = say_refusal(refusal)
        status = 409 if isinstance(refusal, WrongState) else 422
    return render(request, template, page, status=status)
