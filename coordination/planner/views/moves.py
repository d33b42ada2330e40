"""What moved, and why: the revisions of a house's plan, one of them in full, and the diary."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles, read_key
from coordination.planner.house_head import read_head
from coordination.planner.moves_told import tell_moves
from coordination.planner.views.finding import SEERS, find_house, show
from coordination.sequence.models import Plan
from coordination.sequence.queries import programme


@require_GET
@for_roles(*SEERS)
def moves(request: HttpRequest, house: int) -> HttpResponse:
    """The revisions, the latest first, with the moves of the chosen one."""
    found = find_house(request, house)
    number = _read_number(request)
    known = programme(found)
    chosen = None
    if known is not None:
        chosen = known.plan if number is None else _find_revision(found.pk, number)
    context = {
        "head_of": read_head(found),
        "house": found,
        "tab": "moves",
        "known": known,
        "chosen": chosen,
        "moved": tell_moves(chosen.moved, known.names) if known and chosen else [],
    }
    return show(request, "planner/moves.html", context)


def _read_number(request: HttpRequest) -> int | None:
    given = request.GET.get("revision", "")
    if not given:
        return None
    number = read_key(given)
    if number is None:
        raise Http404
    return number


def _find_revision(house: int, number: int) -> Plan:
    plan = Plan.objects.filter(house=house, number=number).select_related("by").first()
    if plan is None:
        raise Http404
    return plan
