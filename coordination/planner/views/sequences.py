"""Published sequences: what each version says, read only; and publishing the next version from a file."""

from __future__ import annotations

import re

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import builders_of, for_roles, get_own, has_role, own
from coordination.people.models import Role
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.forms.uploads import read_uploads
from coordination.planner.sequence_told import tell_sequence
from coordination.planner.views.finding import SEERS, person_of, show
from coordination.sequence.gathering_files import gather
from coordination.sequence.models import House, SequenceDraft, SequenceVersion
from coordination.sequence.publishing import publish_sequence, read_version
from coordination.sequence.shipped import choose_shipped, list_shipped

WRITERS = (Role.Kind.PLANNER, Role.Kind.ASSESSOR)
"""Who may publish: the office, and whoever writes the checks."""

LONGEST_KEY = 60
OWN_KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")


@require_GET
@for_roles(*SEERS)
def sequences(request: HttpRequest) -> HttpResponse:
    """The versions of the person's builders, the latest of each on top."""
    return _show_list(request)


def _show_list(request: HttpRequest, refusal: BadInput | WrongState | None = None) -> HttpResponse:
    person = person_of(request)
    versions = own(SequenceVersion.objects.select_related("builder").defer("text"), person, *SEERS)
    context = {
        "versions": versions.order_by("builder__name", "name", "-number"),
        "builders": builders_of(person, *WRITERS),
        "homes": builders_of(person, Role.Kind.PLANNER).order_by("name"),
        "shipped": list_shipped(),
        "drafts": own(
            SequenceDraft.objects.select_related("builder", "based_on", "by").defer("text"), person, *WRITERS
        ),
        "several": builders_of(person, *SEERS).count() > 1,
    }
    return show(request, "planner/sequences.html", context, refusal, section="sequences")


@require_GET
@for_roles(*SEERS)
def sequence(request: HttpRequest, version: int) -> HttpResponse:
    """One version: visits, details, points with their checks, warnings."""
    versions = SequenceVersion.objects.select_related("builder")
    found = get_own(versions, person_of(request), *SEERS, pk=version)
    context = {
        "version": found,
        "crumbs": [(_("Sequences"), reverse("planner:sequences")), (str(found), "")],
        "told": tell_sequence(read_version(found)),
        "writes": has_role(person_of(request), found.builder, *WRITERS),
        "houses": House.objects.filter(builder=found.builder, sequence_version__key=found.key)
        .filter(finished_at__isnull=True)
        .select_related("sequence_version")
        .order_by("-sequence_version__number", "name"),
    }
    return show(request, "planner/sequence.html", context, section="sequences")


def read_chosen(request: HttpRequest) -> dict[str, str]:
    """The texts by file name: the entry of the library that was chosen, else the files that were sent."""
    if "shipped" in request.POST:
        return choose_shipped(request.POST["shipped"])
    return read_uploads(request, "file")


def read_own_name(request: HttpRequest) -> tuple[str, str]:
    """Short name and name that a copy is to have; both empty where it keeps those of what it comes from.

    Raises:
        BadInput: a name without a short name, or a short name that is none.
    """
    key, name = (request.POST.get(one, "").strip() for one in ("own_key", "own_name"))
    if (key or name) and (len(key) > LONGEST_KEY or not OWN_KEY.match(key)):
        words = _("Give the copy a short name of small letters, digits and -, as in: steel-frame-coast.")
        raise BadInput(_("short name"), words)
    return key, name[:160]


@require_POST
@for_roles(*WRITERS)
def publish(request: HttpRequest) -> HttpResponse:
    """Publish a sequence from TOML files or the library; what the lints refuse is said, nothing is saved."""
    builders = builders_of(person_of(request), *WRITERS)
    builder = get_object_or_404(builders, slug=request.POST.get("builder", ""))
    try:
        if any(read_own_name(request)):
            raise BadInput(_("short name"), _("Under a name of its own it begins as a draft. Press that."))
        text, name = gather(builder, read_chosen(request))
        version = publish_sequence(builder, text, file=name)
    except (BadInput, WrongState) as refusal:
        return _show_list(request, refusal)
    facts = {"name": version.name, "number": version.number}
    messages.success(request, _("%(name)s is published as version %(number)s.") % facts)
    return redirect("planner:sequence", version=version.pk)
