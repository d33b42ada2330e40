"""A house moved to a newer version, or a feature changed at the desk: the difference first, then the act."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles
from coordination.people.models import Role
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.effect import Effect, rehearse
from coordination.planner.forms.change import ChangeForm
from coordination.planner.house_head import read_head
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.sequence.changing import HouseChange, change_house, newer_versions
from coordination.sequence.label_doubts import doubt_labels
from coordination.sequence.models import House, Plan, SequenceVersion
from coordination.sequence.publishing import read_version

CHANGERS = (PLANNER, Role.Kind.ASSESSOR)
"""The office, and whoever writes the sequences."""


@require_http_methods(["GET", "POST"])
@for_roles(*CHANGERS)
def change(request: HttpRequest, house: int) -> HttpResponse:
    """Choose a version and features, look at what differs, change the house."""
    found = find_house(request, house, *CHANGERS)
    versions = [*newer_versions(found), found.sequence_version]
    given = request.POST.get("version") or request.GET.get("version")
    target = next((one for one in versions if str(one.pk) == given), found.sequence_version)
    form = ChangeForm(found, read_version(target), request.POST if request.method == "POST" else None)
    page: dict[str, Any] = {"house": found, "form": form, "versions": versions, "target": target}
    page["crumbs"] = read_head(found).crumbs_to(_("Change the house"))
    if request.method == "GET" or not form.is_valid():
        return show(request, "planner/change.html", page)
    try:
        if "apply" not in request.POST:
            page["told"], page["effect"] = _look(request, found, target, form)
            return show(request, "planner/change.html", page)
        made = _make(request, found, target, form)
    except (BadInput, WrongState) as refusal:
        return show(request, "planner/change.html", page, refusal)
    for words in (*made.reopened, *doubt_labels(form.features())):
        messages.warning(request, words)
    messages.success(request, _("%(house)s is changed.") % {"house": found.name})
    return redirect("planner:house", house=found.pk)


def _make(request: HttpRequest, house: House, target: SequenceVersion, form: ChangeForm) -> HouseChange:
    return change_house(
        house,
        by=person_of(request),
        version=target,
        features=form.features(),
        options=form.cleaned_data["options"],
    )


def _look(
    request: HttpRequest, house: House, target: SequenceVersion, form: ChangeForm
) -> tuple[HouseChange, Effect]:
    """The change tried out and rolled back, messages and all."""
    made: list[HouseChange] = []

    def act() -> Plan:
        made.append(_make(request, house, target, form))
        return house.plans.order_by("-number")[0]

    effect = rehearse(house, act)
    return made[0], effect
