"""Set out a house: one screen with what its sequence asks; or an order from a file."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from coordination.people.access import builders_of, for_roles, get_own, own, read_key
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.forms.places import PlaceFormSet, starting_places
from coordination.planner.forms.set_out import SetOutForm
from coordination.planner.forms.uploads import read_upload
from coordination.planner.views.finding import PLANNER, person_of, show
from coordination.sequence.label_doubts import doubt_labels
from coordination.sequence.models import House, SequenceVersion
from coordination.sequence.publishing import read_version
from coordination.sequence.set_out import set_out as set_house_out
from coordination.sequence.set_out_file import read_set_out_file


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def set_out(request: HttpRequest) -> HttpResponse:
    """Choose a sequence, say what the house is like, set it out."""
    version = _choose_version(request)
    if version is None:
        return _show(request, None, {})
    entry = read_version(version)
    posted = request.POST if request.method == "POST" else None
    form = SetOutForm(version, entry, posted)
    places = PlaceFormSet(
        posted, prefix="place", initial=starting_places(entry), form_kwargs={"entry": entry}
    )
    context: dict[str, Any] = {"form": form, "places": places}
    if request.method == "GET":
        return _show(request, version, context)
    # Both are asked, so that every error is seen at once.
    if not all([form.is_valid(), places.is_valid()]):
        return _show(request, version, context)
    rows = [row for one in places.forms if (row := one.as_row()) is not None]
    try:
        house = set_house_out(form.order(rows), person_of(request))
    except (BadInput, WrongState) as refusal:
        return _show(request, version, context, refusal)
    return _arrive(request, house)


@require_POST
@for_roles(PLANNER)
def set_out_file(request: HttpRequest) -> HttpResponse:
    """Set a house out from an order in a TOML file."""
    person = person_of(request)
    builder = get_own(builders_of(person), person, PLANNER, path="pk", slug=request.POST.get("builder", ""))
    try:
        text, name = read_upload(request, "file")
        house = set_house_out(read_set_out_file(text, builder, name), person)
    except (BadInput, WrongState) as refusal:
        return _show(request, None, {}, refusal)
    return _arrive(request, house)


def _arrive(request: HttpRequest, house: House) -> HttpResponse:
    for words in doubt_labels(house.features):
        messages.warning(request, words)
    messages.success(request, _("%(house)s is set out. Look through what was made.") % {"house": house.name})
    return redirect("planner:ordered", house=house.pk)


def _versions(request: HttpRequest) -> list[SequenceVersion]:
    """The latest version of each sequence that the person may set out from."""
    rows = own(SequenceVersion.objects.select_related("builder").defer("text"), person_of(request), PLANNER)
    latest: dict[tuple[int, str], SequenceVersion] = {}
    for row in rows.order_by("builder__name", "name", "number"):
        latest[(row.builder_id, row.key)] = row
    return list(latest.values())


def _choose_version(request: HttpRequest) -> SequenceVersion | None:
    given = read_key(request.POST.get("sequence") or request.GET.get("sequence", ""))
    if given is not None:
        versions = SequenceVersion.objects.select_related("builder")
        return get_own(versions, person_of(request), PLANNER, pk=given)
    versions_here = _versions(request)
    return versions_here[0] if versions_here else None


def _show(
    request: HttpRequest,
    version: SequenceVersion | None,
    context: dict[str, Any],
    refusal: BadInput | WrongState | None = None,
) -> HttpResponse:
    page = {
        "version": version,
        "versions": _versions(request),
        "builders": builders_of(person_of(request), PLANNER),
        **context,
    }
    return show(request, "planner/set_out.html", page, refusal)
