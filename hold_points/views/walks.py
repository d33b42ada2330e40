"""Today's walks: which are called ready, and in which order do I drive?"""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import for_roles, roles_of
from coordination.people.refusals import WrongState
from hold_points.queries import list_desk, list_walks
from hold_points.views.finding import SEERS, find_check, own_houses, person_of, show
from hold_points.walking import confirm_not_here


@require_GET
@for_roles(*SEERS)
def walks(request: HttpRequest) -> HttpResponse:
    """Walks that are called, by the half-day until which they must be signed; then those not to drive to."""
    houses = own_houses(request)
    cards = list_walks(houses)
    waiting = [card for card in cards if not card.called and not card.from_photographs]
    return show(
        request,
        "hold_points/walks.html",
        {
            "section": "walks",
            "called": [card for card in cards if card.called and not card.from_photographs],
            "photographs": [card for card in cards if card.from_photographs],
            "reopened": [card for card in waiting if card.reopened],
            "not_called": [card for card in waiting if not card.reopened],
            "desk": list_desk(person_of(request), _role_kinds(request), houses),
        },
    )


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
