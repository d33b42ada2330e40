"""What a draft changes: against the version that it began from, or any other sequence that there is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles, read_key
from coordination.planner.draft_told import say_kinds
from coordination.planner.views.authoring import crumbs_to, find_draft
from coordination.planner.views.finding import show
from coordination.planner.views.sequences import WRITERS
from coordination.sequence.comparing_texts import compare_texts
from coordination.sequence.models import SequenceDraft, SequenceVersion
from coordination.sequence.shipped import list_shipped, shipped_text

VERSION, LIBRARY = "version-", "library-"


@dataclass(frozen=True)
class Former:
    """What a draft is compared with: the word for it in an address, its text, and what people call it."""

    asked: str
    text: str
    words: str


@require_GET
@for_roles(*WRITERS)
def difference(request: HttpRequest, draft: int) -> HttpResponse:
    """What the draft changes; `against` names another version of the builder, or one of the library."""
    found = find_draft(request, draft)
    versions = found.builder.sequence_versions.defer("text").order_by("name", "-number")
    former = _find_former(found, request.GET.get("against", ""))
    differs = compare_texts(former.text, found.text)
    words = say_kinds()
    page: dict[str, Any] = {
        "draft": found,
        "former": former,
        "differs": differs,
        "kinds": [(words[kind][1], changes) for kind, changes in differs.rows.items()],
        "against": [
            *((f"{VERSION}{one.pk}", _say_version(one)) for one in versions),
            *((f"{LIBRARY}{one.key}", _say_library(one.name)) for one in list_shipped()),
        ],
        "crumbs": crumbs_to(found, _("Compared")),
    }
    return show(request, "planner/authoring_difference.html", page, section="sequences")


def _find_former(draft: SequenceDraft, asked: str) -> Former:
    """What was asked for, else what it began from, else the library's sequence of its key, else nothing."""
    version = draft.based_on
    if asked.startswith(VERSION):
        pk = read_key(asked.removeprefix(VERSION)) or 0
        version = draft.builder.sequence_versions.filter(pk=pk).first() or version
    if not asked.startswith(LIBRARY) and version is not None:
        return Former(f"{VERSION}{version.pk}", version.text, _say_version(version))
    keys = (asked.removeprefix(LIBRARY), draft.key)
    shipped = {one.key: one for one in list_shipped()}
    key = next((one for one in keys if one in shipped), "")
    if not key:
        return Former("", "", "")
    return Former(f"{LIBRARY}{key}", shipped_text(key), _say_library(shipped[key].name))


def _say_version(version: SequenceVersion) -> str:
    return _("%(name)s, version %(number)s") % {"name": version.name, "number": version.number}


def _say_library(name: str) -> str:
    return _("%(name)s, of the library") % {"name": name}
