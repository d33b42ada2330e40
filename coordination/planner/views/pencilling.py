"""Pencil several visits of a house at once: tick, look at who would be told what, then all or none."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from coordination.people.access import for_roles, read_key
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.house_head import read_head, say_today
from coordination.planner.pencilling import (
    PencilLine,
    SeveralRefused,
    look_at_pencilling,
    pencil_chosen,
    read_chosen,
)
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.planner.views.visits import may_pencil, show_visits
from coordination.sequence.models import House
from coordination.sequence.queries import programme


@require_POST
@for_roles(PLANNER)
def pencil_several(request: HttpRequest, house: int) -> HttpResponse:
    """The ticked visits with what each crew would be told; with the decision, all of them are pencilled."""
    found = find_house(request, house, PLANNER)
    by = person_of(request)
    try:
        if "apply" in request.POST:
            return _say_done(
                request, found, pencil_chosen(found, read_chosen(request.POST.getlist("chosen")), by)
            )
        lines = look_at_pencilling(found, _read_ticked(request, found), by)
        if not lines:
            raise BadInput(_("visits"), _("None is ticked. Tick the visits to pencil."))
    except SeveralRefused as refusal:
        return _show(request, found, refusal.lines, status=409)
    except (BadInput, WrongState) as refusal:
        return show_visits(request, found, refusal)
    return _show(request, found, lines)


def _read_ticked(request: HttpRequest, house: House) -> list[int]:
    """The visits that were ticked; with 'all', every visit that is asked and whose day has not passed."""
    if "all" not in request.POST:
        return [key for text in request.POST.getlist("visit") if (key := read_key(text)) is not None]
    known, today = programme(house), say_today(house)
    return [row.id for row in (known.visits if known else ()) if may_pencil(row, today)]


def _say_done(request: HttpRequest, house: House, lines: Sequence[PencilLine]) -> HttpResponse:
    crews = len({line.crew for line in lines})
    visits = ngettext("%(count)d visit is pencilled", "%(count)d visits are pencilled", len(lines))
    told = ngettext("%(count)d crew is told", "%(count)d crews are told", crews)
    words = _("%(visits)s; %(told)s.") % {
        "visits": visits % {"count": len(lines)},
        "told": told % {"count": crews},
    }
    messages.success(request, words)
    return redirect("planner:visits", house=house.pk)


def _show(request: HttpRequest, house: House, lines: Sequence[PencilLine], status: int = 200) -> HttpResponse:
    refused = [line for line in lines if line.refusal]
    context = {
        "house": house,
        "crumbs": read_head(house).crumbs_to(_("Pencil several visits")),
        "lines": [line for line in lines if not line.refusal],
        "refused": refused,
        "tried": status != 200,
        "crew_count": len({line.crew for line in lines if not line.refusal}),
    }
    return show(request, "planner/pencil_several.html", context, status=status)
