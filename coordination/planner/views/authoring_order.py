"""A row of a draft moved up or down among its like; further away it goes on its own page, `put_row`."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.draft_told import say_kinds
from coordination.planner.views.authoring import find_draft, revision_of, show_draft
from coordination.planner.views.finding import person_of
from coordination.planner.views.sequences import WRITERS
from coordination.sequence.comparing_texts import UNORDERED
from coordination.sequence.drafting import move_row


@require_POST
@for_roles(*WRITERS)
def move(request: HttpRequest, draft: int, kind: str) -> HttpResponse:
    """Move a row one place: `earlier` or `later` says its number.

    The page comes back at the button that was pressed, so that it can be pressed again.
    """
    found = find_draft(request, draft)
    if kind not in say_kinds() or kind in UNORDERED:
        raise Http404
    way = "earlier" if "earlier" in request.POST else "later"
    number = _as_number(request.POST.get(way, ""))
    place = number + (1 if way == "later" else -1)
    try:
        move_row(found, kind, number, place, person_of(request), revision_of(request))
    except (BadInput, WrongState) as refusal:
        return show_draft(request, found, refusal)
    back = reverse("planner:draft", args=[found.pk])
    return redirect(f"{back}?open={kind}&row={place}&moved={way}")


def _as_number(words: str) -> int:
    """The number of a row; 0, which no row has, for anything else."""
    return int(words) if words.isdecimal() and len(words) < 6 else 0
