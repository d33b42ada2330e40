"""Drafts of sequences: begin, look, edit as text, compare with the former version, publish, export."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from coordination.people.access import builders_of, for_roles, get_own
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.draft_told import KindLines, RowLine, find_rows, tell_rows
from coordination.planner.forms.authoring_head import DraftTextForm, HeadForm
from coordination.planner.views.finding import SEERS, person_of, show
from coordination.planner.views.sequences import WRITERS, read_chosen, read_own_name
from coordination.sequence.drafting import (
    begin_draft,
    copy_text,
    discard_draft,
    find_faults,
    import_text,
    publish_draft,
    put_head,
    read_tables,
    save_text,
)
from coordination.sequence.gathering_files import gather
from coordination.sequence.library.options import key_of
from coordination.sequence.library.reading import count_comments
from coordination.sequence.models import SequenceDraft, SequenceVersion


def find_draft(request: HttpRequest, pk: int) -> SequenceDraft:
    """A draft of the person's own builders."""
    drafts = SequenceDraft.objects.select_related("builder", "based_on", "by")
    return get_own(drafts, person_of(request), *WRITERS, pk=pk)


def revision_of(request: HttpRequest) -> int:
    """The revision that the person saw; 0, which no draft has, when it did not come along."""
    given = request.POST.get("revision", "")
    return int(given) if given.isdecimal() and len(given) < 9 else 0


def crumbs_to(draft: SequenceDraft, words: str = "") -> list[tuple[str, str]]:
    """Sequences, the draft, the page itself."""
    name = _("Draft of %(name)s") % {"name": draft.name}
    link = reverse("planner:draft", args=[draft.pk]) if words else ""
    start = [(_("Sequences"), reverse("planner:sequences")), (name, link)]
    return [*start, (words, "")] if words else start


@require_POST
@for_roles(*WRITERS)
def begin(request: HttpRequest, version: int) -> HttpResponse:
    """A draft of the next version; the one that is there already, if somebody began it.

    With a short name of its own it is a copy, a sequence beside this one.
    """
    versions = SequenceVersion.objects.select_related("builder")
    person = person_of(request)
    found = get_own(versions, person, *WRITERS, pk=version)
    try:
        key, name = read_own_name(request)
        made = copy_text(found.builder, found.text, key, name, person, str(found)) if key else None
    except (BadInput, WrongState) as refusal:
        return _refuse_begun(request, refusal, _("The copy was not begun"))
    return redirect("planner:draft", draft=(made or begin_draft(found, person)).pk)


def _refuse_begun(request: HttpRequest, refusal: BadInput | WrongState, title: str) -> HttpResponse:
    page = {"title": title, "crumbs": [(_("Sequences"), reverse("planner:sequences")), (title, "")]}
    return show(request, "planner/authoring_refused.html", page, refusal, section="sequences")


@require_POST
@for_roles(*WRITERS)
def import_file(request: HttpRequest) -> HttpResponse:
    """A draft from TOML files, one that stands alone or one with what it includes, or from the library."""
    person = person_of(request)
    builder = get_object_or_404(builders_of(person, *WRITERS), slug=request.POST.get("builder", ""))
    try:
        text, file = gather(builder, read_chosen(request))
        key, name = read_own_name(request)
        if key:
            made = copy_text(builder, text, key, name, person, file)
        else:
            made = import_text(builder, text, person, file)
    except (BadInput, WrongState) as refusal:
        return _refuse_begun(request, refusal, _("The draft was not begun"))
    return redirect("planner:draft", draft=made.pk)


@require_GET
@for_roles(*WRITERS)
def draft(request: HttpRequest, draft: int) -> HttpResponse:
    """The draft: what is wrong with it, its rows by kind, and what can be done."""
    return show_draft(request, find_draft(request, draft))


def show_draft(
    request: HttpRequest, found: SequenceDraft, refusal: BadInput | WrongState | None = None
) -> HttpResponse:
    """The page of a draft, with a refusal if there is one."""
    tables = read_tables(found)
    faults = find_rows(find_faults(found), tables)
    kinds = tell_rows(tables, faults)
    worked_on = _find_row(request, kinds)
    page: dict[str, Any] = {
        "draft": found,
        "kinds": kinds,
        "open": request.GET.get("open", ""),
        "worked_on": worked_on,
        **_tell_move(request.GET.get("moved", ""), worked_on),
        "refused": [one for one in faults if one.finding.level == "refused"],
        "warned": [one for one in faults if one.finding.level == "warned"],
        "description": tables.get("description", ""),
        "comments": count_comments(found.text),
        "crumbs": crumbs_to(found),
    }
    return show(request, "planner/authoring.html", page, refusal, section="sequences")


def _find_row(request: HttpRequest, kinds: list[KindLines]) -> tuple[KindLines, RowLine] | None:
    """The kind and the row that was saved a moment ago, to go on from there."""
    number = request.GET.get("row", "")
    return next(
        (
            (one, row)
            for one in kinds
            if one.kind == request.GET.get("open")
            for row in one.rows
            if str(row.number) == number
        ),
        None,
    )


def _tell_move(way: str, worked_on: tuple[KindLines, RowLine] | None) -> dict[str, str]:
    """Where the row that was moved stands now, and which button to go on with: at an end it is the other."""
    if worked_on is None or way not in ("earlier", "later"):
        return {}
    kind, row = worked_on
    last = len(kind.rows)
    on = {("earlier", 1): "later", ("later", last): "earlier"}.get((way, row.number), way)
    return {"stands": kind.say_place(row.number), "go_on": on}


@require_http_methods(["GET", "POST"])
@for_roles(*WRITERS)
def text(request: HttpRequest, draft: int) -> HttpResponse:
    """The whole draft as TOML, comments and all."""
    found = find_draft(request, draft)
    form = DraftTextForm(request.POST or None, initial={"text": found.text})
    page = {"draft": found, "form": form, "crumbs": crumbs_to(found, _("As text"))}
    page["revision"] = request.POST.get("revision", found.revision)
    if request.method == "POST" and form.is_valid():
        try:
            save_text(found, form.cleaned_data["text"], person_of(request), revision_of(request))
        except (BadInput, WrongState) as refusal:
            return show(request, "planner/authoring_text.html", page, refusal, section="sequences")
        return say_saved(request, found)
    return show(request, "planner/authoring_text.html", page, section="sequences")


@require_http_methods(["GET", "POST"])
@for_roles(*WRITERS)
def head(request: HttpRequest, draft: int) -> HttpResponse:
    """Name, description and the names of the visits."""
    found = find_draft(request, draft)
    form = HeadForm(read_tables(found), request.POST if request.method == "POST" else None)
    page = {"draft": found, "form": form, "crumbs": crumbs_to(found, _("Name and visits"))}
    page["revision"] = request.POST.get("revision", found.revision)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        values = (data["name"], data["description"], data["visits"])
        try:
            put_head(found, *values, person_of(request), revision_of(request))
        except (BadInput, WrongState) as refusal:
            return show(request, "planner/authoring_head.html", page, refusal, section="sequences")
        return say_saved(request, found)
    return show(request, "planner/authoring_head.html", page, section="sequences")


def say_saved(
    request: HttpRequest, found: SequenceDraft, kind: str = "", key: str = "", back_to: str = ""
) -> HttpResponse:
    """Back to the draft, saying whether it can be published; at the row or the list that was worked on.

    Args:
        back_to: another page to go on with.
    """
    refused = sum(one.level == "refused" for one in find_faults(found))
    if refused:
        words = ngettext(
            "Saved. %(count)d thing is still wrong with it.",
            "Saved. %(count)d things are still wrong with it.",
            refused,
        )
        messages.warning(request, words % {"count": refused})
    else:
        messages.success(request, _("Saved. It can be published."))
    if back_to:
        return redirect(back_to)
    back = reverse("planner:draft", args=[found.pk])
    if not kind:
        return redirect(back)
    rows = [key_of(kind, row) for row in read_tables(found).get(kind, [])]
    # No fragment: what was said about the saving stands at the top of the page.
    return redirect(f"{back}?open={kind}" + (f"&row={rows.index(key) + 1}" if key in rows else ""))


@require_POST
@for_roles(*WRITERS)
def publish(request: HttpRequest, draft: int) -> HttpResponse:
    """Publish the draft as the next version."""
    found = find_draft(request, draft)
    try:
        version = publish_draft(found, person_of(request), revision_of(request))
    except (BadInput, WrongState) as refusal:
        return show_draft(request, found, refusal)
    facts = {"name": version.name, "number": version.number}
    messages.success(request, _("%(name)s is published as version %(number)s.") % facts)
    return redirect("planner:sequence", version=version.pk)


@require_POST
@for_roles(*WRITERS)
def discard(request: HttpRequest, draft: int) -> HttpResponse:
    """Throw the draft away."""
    found = find_draft(request, draft)
    try:
        discard_draft(found, revision_of(request))
    except WrongState as refusal:
        return show_draft(request, found, refusal)
    messages.success(request, _("The draft is discarded. What is published stays."))
    return redirect("planner:sequences")


@require_GET
@for_roles(*SEERS)
def export_version(request: HttpRequest, version: int) -> HttpResponse:
    """A published version as TOML; what it once included is part of it."""
    found = get_own(SequenceVersion.objects.all(), person_of(request), *SEERS, pk=version)
    return _as_file(found.text, f"{found.key}-{found.number}.toml")


@require_GET
@for_roles(*WRITERS)
def export_draft(request: HttpRequest, draft: int) -> HttpResponse:
    """The draft as TOML."""
    found = find_draft(request, draft)
    return _as_file(found.text, f"{found.key}-draft.toml")


def _as_file(text: str, name: str) -> HttpResponse:
    answer = HttpResponse(text, content_type="application/toml; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
