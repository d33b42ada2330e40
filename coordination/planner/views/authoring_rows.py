"""One row of a draft: a form for its kind, saved as a whole or refused as a whole."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.draft_told import find_rows, name_row, say_kinds, say_row
from coordination.planner.forms.authoring import (
    ActivityForm,
    LinkFormSet,
    OptionForm,
    RowForm,
    TextRowForm,
    in_order,
)
from coordination.planner.forms.authoring_features import AttributeForm, FeatureForm
from coordination.planner.forms.authoring_judging import CheckForm, DetailForm
from coordination.planner.judged_rows_told import tell_judging
from coordination.planner.option_told import kinds_of_rows, tell_option
from coordination.planner.views.authoring import crumbs_to, find_draft, revision_of, say_saved
from coordination.planner.views.finding import person_of, show
from coordination.planner.views.sequences import WRITERS
from coordination.sequence.comparing_texts import UNORDERED
from coordination.sequence.draft_misses import reckon_miss
from coordination.sequence.drafting import find_faults, put_row, read_tables, remove_row, with_row
from coordination.sequence.library.feature_users import find_users
from coordination.sequence.library.options import key_of
from coordination.sequence.models import SequenceDraft

FORMS: dict[str, type[RowForm]] = {
    form.kind: form for form in (ActivityForm, DetailForm, CheckForm, OptionForm, FeatureForm, AttributeForm)
}


@dataclass(frozen=True)
class _Opened:
    """The row that is looked at: `table` is empty for a new one."""

    draft: SequenceDraft
    tables: dict[str, Any]
    kind: str
    number: int
    table: Mapping[str, Any]
    form: RowForm | TextRowForm
    links: Any
    untouched: bool
    """Whether the row is as the person saw it, or new: then it is saved whatever became of other rows."""

    def revision(self, request: HttpRequest) -> int:
        """The revision to save upon: the one that the person saw, or the present one of an untouched row."""
        return self.draft.revision if self.untouched else revision_of(request)

    def said(self) -> dict[str, Any] | None:
        """The row as the boxes say it; None where one of them is wrong."""
        if not all([self.form.is_valid(), self.links is None or self.links.is_valid()]):
            return None
        said = self.form.table()
        if self.links is None:
            return said
        after = [one for link in self.links.forms if (one := link.table()) is not None]
        return in_order({**said, **({"after": after} if after else {})}, self.table)


@require_http_methods(["GET", "POST"])
@for_roles(*WRITERS)
def row(request: HttpRequest, draft: int, kind: str, number: int) -> HttpResponse:
    """Edit the `number`th row of a kind, or with 0 write a new one; as text where asked."""
    opened = _open(request, find_draft(request, draft), kind, number)
    found: dict[str, Any] = {}
    refusal = None
    if request.method == "POST":
        try:
            done = _act(request, opened)
            if isinstance(done, HttpResponse):
                return done
            found = done
        except (BadInput, WrongState) as caught:
            refusal = caught
    page = {**_describe(request, opened), **found}
    return show(request, "planner/authoring_row.html", page, refusal, section="sequences")


def _open(request: HttpRequest, found: SequenceDraft, kind: str, number: int) -> _Opened:
    tables = read_tables(found)
    rows: list[dict[str, Any]] = tables.get(kind, [])
    if kind not in say_kinds() or number > len(rows):
        raise Http404
    # A new check may begin with the detail or the point whose page led here.
    begun = {
        name: request.GET[name] for name in ("detail", "point") if kind == "check" and name in request.GET
    }
    seen = request.POST.get("seen", "")
    if seen and number:
        # Rows may have come or gone above it since: it is looked for where it stands now.
        number = next((n for n, one in enumerate(rows, 1) if mark_row(one) == seen), number)
    table: dict[str, Any] = rows[number - 1] if number else begun
    as_text = kind not in FORMS or "text" in request.GET
    data = request.POST if request.method == "POST" else None
    form = (TextRowForm if as_text else FORMS[kind])(tables, table, data)
    links = None
    if kind == "activity" and not as_text:
        first = table.get("after", [])
        links = LinkFormSet(data, prefix="after", initial=first, form_kwargs={"tables": tables})
    return _Opened(found, tables, kind, number, table, form, links, seen == mark_row(table))


def mark_row(table: Mapping[str, Any]) -> str:
    """A mark by which a row is known again as long as nobody changes it."""
    return hashlib.sha256(json.dumps(table, sort_keys=True).encode()).hexdigest()[:16]


def _describe(request: HttpRequest, opened: _Opened) -> dict[str, Any]:
    found, kind, number, table = opened.draft, opened.kind, opened.number, opened.table
    what = say_kinds()[kind][0]
    name = name_row(kind, table) if number else _("new %(what)s") % {"what": what}
    page: dict[str, Any] = {
        "draft": found,
        "revision": request.POST.get("revision", found.revision),
        "seen": request.POST.get("seen", mark_row(table)),
        "kind": kind,
        "number": number,
        "form": opened.form,
        "links": opened.links,
        "name": name,
        "key": key_of(kind, table) if number else "",
        "what": what,
        "as_text": isinstance(opened.form, TextRowForm),
        "has_boxes": kind in FORMS,
        **_tell_place(request, opened),
        "crumbs": crumbs_to(found, name),
    }
    if number:
        faults = find_rows(find_faults(found), opened.tables)
        page["faults"] = [
            one for one in faults if (one.kind, one.number) == (kind, number) and not one.finding.explained
        ]
    if kind == "option" and number:
        page |= {"option_lists": tell_option(found.pk, number, table), "option_kinds": kinds_of_rows()}
    if number and (kind == "detail" or (table.get("point") and kind == "activity")):
        page["judging"] = tell_judging(found.pk, opened.tables, kind, key_of(kind, table))
    if kind == "feature" and number:
        page["users"] = find_users(opened.tables, key_of(kind, table), found.key)
    if kind == "detail" and table.get("miss"):
        page |= _reckon(opened.tables, table, found.key)
    return page


def _tell_place(request: HttpRequest, opened: _Opened) -> dict[str, Any]:
    """Behind which row it stands or goes, where that matters: a new row of any kind goes to the end."""
    kind, number = opened.kind, opened.number
    if kind in UNORDERED:
        return {}
    rows = [(key_of(kind, one), say_row(kind, one)) for one in opened.tables.get(kind, [])]
    others = [one for place, one in enumerate(rows, 1) if place != number]
    there = rows[number - 2][0] if number > 1 else ""
    nowhere = _("nothing: it stands first") if number else _("at the end")
    chosen, stood = request.POST.get("behind", there), request.POST.get("stood", there)
    return {"others": others, "behind": chosen, "stood": stood, "nowhere": nowhere}


def _act(request: HttpRequest, opened: _Opened) -> HttpResponse | dict[str, Any]:
    """Save, take out, or reckon the miss as the boxes say it; else what the page shown again says besides."""
    found, kind, number = opened.draft, opened.kind, opened.number
    person, revision = person_of(request), opened.revision(request)
    if revision != found.revision and "reckon" not in request.POST:
        words = _(
            "Somebody else has saved this draft, and this row of it, since you opened it. What you typed "
            "still stands below: open the draft again beside it."
        )
        raise WrongState(words)
    if "remove" in request.POST and number:
        remove_row(found, kind, number, person, revision)
        return say_saved(request, found, kind)
    said = opened.said()
    if said is None:
        return {}
    if "reckon" in request.POST:
        miss = reckon_miss(with_row(opened.tables, kind, number, said), key_of(kind, said), found.key)
        return {"miss_fault": "", "miss": miss, "reckoned": True}
    behind = request.POST.get("behind")
    if behind == request.POST.get("stood") or (not number and not behind):
        behind = None  # nobody asked for another place
    put_row(found, kind, number, said, person, revision, behind)
    if kind == "detail" and said.get("miss"):
        told = _reckon(read_tables(found), said, found.key).get("miss")
        if told is not None:
            words = _("Left undone in a house with the usual features: %(words)s")
            messages.info(request, words % {"words": told.words})
    key = key_of(kind, said)
    if kind == "option" and not number:
        # What an option does to rows is said on pages of its own, which begin with its page.
        keys = [key_of(kind, one) for one in read_tables(found).get(kind, [])]
        there = reverse("planner:draft_row", args=[found.pk, kind, keys.index(key) + 1])
        return say_saved(request, found, back_to=there)
    return say_saved(request, found, kind, key)


def _reckon(tables: Mapping[str, Any], table: Mapping[str, Any], file: str) -> dict[str, Any]:
    """The miss of a saved row, or why it cannot be reckoned."""
    try:
        return {"miss": reckon_miss(tables, key_of("detail", table), file), "priced": True}
    except BadInput as refusal:
        return {"miss_fault": refusal.words, "priced": True}
