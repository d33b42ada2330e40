"""Today's walks: which are called ready, and in which order do I drive?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import for_roles, roles_of
from coordination.people.models import Role
from coordination.people.refusals import WrongState
from hold_points.queries import WalkCard, list_desk, list_walks
from hold_points.views.finding import SEERS, find_check, own_houses, person_of, show
from hold_points.walking import confirm_not_here


@dataclass(frozen=True)
class WalkList:
    """Walks in the order of driving, then those not to drive to."""

    called: list[WalkCard]
    photographs: list[WalkCard]
    reopened: list[WalkCard]
    not_called: list[WalkCard]

    def __bool__(self) -> bool:
        return bool(self.called or self.photographs or self.reopened or self.not_called)


def sort_walks(cards: Iterable[WalkCard]) -> WalkList:
    """Cards by what is to be done; photographs are looked at once their work has begun."""
    groups = WalkList([], [], [], [])
    for card in cards:
        if card.from_photographs and card.begun:
            groups.photographs.append(card)
        elif card.called and not card.from_photographs:
            groups.called.append(card)
        elif card.reopened:
            groups.reopened.append(card)
        else:
            groups.not_called.append(card)
    return groups


@require_GET
@for_roles(*SEERS)
def walks(request: HttpRequest) -> HttpResponse:
    """Walks that are called, by the half-day until which they must be signed; then those not to drive to.

    Whoever supervises houses, or stands in for who does, sees those; the others' with ``?all=1``.
    """
    houses = own_houses(request)
    cards = list_walks(houses)
    supervises = _supervises(request)
    own = houses.filter(supervisor__in=supervises).exists()
    everything = not own or request.GET.get("all") == "1"
    mine: list[WalkCard] = []
    others: list[WalkCard] = []
    for card in cards:
        is_mine = everything or card.inspection.house.supervisor_id in supervises
        (mine if is_mine else others).append(card)
    return show(
        request,
        "hold_points/walks.html",
        {
            "section": "walks",
            "walks": sort_walks(mine),
            "others": sort_walks(others),
            "all": own and everything,
            "desk": list_desk(person_of(request), _role_kinds(request), houses),
        },
    )


def _supervises(request: HttpRequest) -> set[int]:
    """The person, and whoever the person stands in for today."""
    person = person_of(request)
    stands_for = roles_of(person, Role.Kind.SUPERVISOR).values_list("deputy_for__person", flat=True)
    return {person.pk, *(one for one in stands_for if one is not None)}


def _role_kinds(request: HttpRequest) -> dict[int, set[str]]:
    kinds: dict[int, set[str]] = {}
    for role in roles_of(person_of(request), *SEERS):
        kinds.setdefault(role.builder_id, set()).add(role.kind)
    return kinds


@require_POST
@for_roles(*SEERS)
def confirm_absence(request: HttpRequest, check: int) -> HttpResponse:
    """The planner confirms that something is not on this house."""
    found = find_check(request, check)
    try:
        confirm_not_here(found, person_of(request))
    except WrongState as refusal:
        messages.error(request, refusal.words)
    else:
        messages.success(request, _("Confirmed: not on this house."))
    return redirect("hold_points:walks")
