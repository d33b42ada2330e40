"""What if it slips? The effect of a delay, and the delay itself with its reason."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.effect import foresee
from coordination.planner.forms.progress import SlipForm
from coordination.planner.house_head import read_head
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.sequence.house_network import WhatIf
from coordination.sequence.models import House
from coordination.sequence.progress import add_delay
from coordination.sequence.queries import programme


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def slip(request: HttpRequest, house: int) -> HttpResponse:
    """Choose what slips, look at the effect beside it, record the delay."""
    found = find_house(request, house, PLANNER)
    known = programme(found)
    rows = [row for row in (known.activities if known else ()) if row.actual_finish is None]
    first = {"activity": request.GET["activity"]} if "activity" in request.GET else None
    form = SlipForm(rows, request.POST if request.method == "POST" else None, initial=first)
    if request.method == "GET" or not form.is_valid():
        return _show_form(request, found, form)
    activity, half_days = form.cleaned_data["activity"], form.cleaned_data["half_days"]
    try:
        if "apply" not in request.POST:
            effect = foresee(found, WhatIf(delays={activity.key: half_days}))
            return _show_form(request, found, form, extra={"effect": effect, "slipping": activity})
        plan = add_delay(activity, half_days, form.cleaned_data["why"], person_of(request))
    except (BadInput, WrongState) as refusal:
        return _show_form(request, found, form, refusal)
    messages.success(
        request,
        _("%(cause)s. The plan is revision %(number)s.") % {"cause": plan.cause, "number": plan.number},
    )
    return redirect("planner:house", house=found.pk)


def _show_form(
    request: HttpRequest,
    found: House,
    form: SlipForm,
    refusal: BadInput | WrongState | None = None,
    extra: dict[str, object] | None = None,
) -> HttpResponse:
    context = {
        "house": found,
        "form": form,
        "crumbs": read_head(found).crumbs_to(_("What if it slips?")),
        **(extra or {}),
    }
    return show(request, "planner/slip.html", context, refusal)
