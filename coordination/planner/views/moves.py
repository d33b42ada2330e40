"""What moved, and why: the revisions of a house's plan, one of them in full, and the diary."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import for_roles, has_role, read_key
from coordination.people.models import Role
from coordination.planner.forms.moves import NoteForm
from coordination.planner.house_head import read_head
from coordination.planner.moves_told import tell_moves
from coordination.planner.views.finding import SEERS, find_house, person_of, show
from coordination.sequence.diary import write_note
from coordination.sequence.models import House, Plan
from coordination.sequence.queries import programme

WRITERS = (Role.Kind.PLANNER, Role.Kind.SUPERVISOR)
"""Who may write a line of their own."""


@require_GET
@for_roles(*SEERS)
def moves(request: HttpRequest, house: int) -> HttpResponse:
    """The revisions, the latest first, with the moves of the chosen one."""
    return _show_moves(request, find_house(request, house), NoteForm())


@require_POST
@for_roles(*WRITERS)
def note(request: HttpRequest, house: int) -> HttpResponse:
    """Add a line of one's own to the diary."""
    found = find_house(request, house, *WRITERS)
    form = NoteForm(request.POST)
    if not form.is_valid():
        return _show_moves(request, found, form, status=422)
    write_note(found, form.cleaned_data["words"], person_of(request), form.cleaned_data["sent"])
    messages.success(request, _("Your line stands in the diary of %(house)s.") % {"house": found.name})
    return redirect(reverse("planner:moves", args=[found.pk]) + "#diary")


def _show_moves(request: HttpRequest, found: House, form: NoteForm, status: int = 200) -> HttpResponse:
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
        "note_form": form,
        "may_note": has_role(person_of(request), found.builder, *WRITERS),
        "moved": tell_moves(chosen.moved, known.names) if known and chosen else [],
    }
    return show(request, "planner/moves.html", context, status=status)


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
