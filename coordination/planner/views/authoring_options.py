"""The rows that an option of a draft adds, changes and takes out: each in the boxes of its kind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.draft_told import say_kinds, say_row
from coordination.planner.forms.authoring import LinkFormSet, RowForm, TextRowForm, in_order
from coordination.planner.forms.authoring_removals import RemovalsForm
from coordination.planner.views.authoring import crumbs_to, find_draft, revision_of, say_saved
from coordination.planner.views.authoring_rows import FORMS
from coordination.planner.views.finding import person_of, show
from coordination.planner.views.sequences import WRITERS
from coordination.sequence.comparing_texts import UNORDERED
from coordination.sequence.drafting import put_option_removals, put_option_row, read_tables
from coordination.sequence.library.option_rows import (
    NotEmptied,
    change_row,
    find_base,
    find_change,
    naming_fields,
    with_added,
)
from coordination.sequence.library.options import ROW_AFTER, key_of
from coordination.sequence.models import SequenceDraft

LISTS = ("added", "changed")


def _find_option(found: SequenceDraft, number: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """The draft's tables and one option of them."""
    tables = read_tables(found)
    options = tables.get("option", [])
    if not 1 <= number <= len(options):
        raise Http404
    return tables, options[number - 1]


@require_http_methods(["GET", "POST"])
@for_roles(*WRITERS)
def option_row(
    request: HttpRequest, draft: int, option: int, change: str, kind: str, number: int
) -> HttpResponse:
    """Edit the `number`th row of a kind that an option adds or changes, or with 0 a new one.

    A changed row is shown as it stands with the option; what is saved is what differs from the base.
    """
    found = find_draft(request, draft)
    tables, own = _find_option(found, option)
    rows: list[dict[str, Any]] = own.get(change, {}).get(kind, [])
    words = say_kinds()
    if change not in LISTS or kind not in words or number > len(rows):
        raise Http404
    said = rows[number - 1] if number else {}
    page: dict[str, Any] = {
        "draft": found,
        "revision": request.POST.get("revision", found.revision),
        "number": number,
        "what": words[kind][0],
        "crumbs": [*crumbs_to(found, own["name"])],
        "option_back": reverse("planner:draft_row", args=[found.pk, "option", option]),
    }
    base: Mapping[str, Any] = {}
    if change == "changed":
        chosen = (one for one in tables.get(kind, []) if key_of(kind, one) == request.GET.get("row"))
        there = find_base(tables, kind, said) if said else next(chosen, None)
        if there is None:
            page["rows_to_change"] = [(key_of(kind, one), say_row(kind, one)) for one in tables.get(kind, [])]
            page["name"] = _("which row is changed")
            return show(request, "planner/authoring_option_choose.html", page, section="sequences")
        base = there
    table = change_row(kind, base, said) if change == "changed" else _split_place(said)[0]
    data = request.POST if request.method == "POST" else None
    make = FORMS.get(kind, TextRowForm)
    form: RowForm | TextRowForm = make(with_added(tables, own), table, data)
    links = _links(kind, with_added(tables, own), table, data)
    page |= {"form": form, "links": links, "name": key_of(kind, table) if table else _("new row")}
    if change == "added" and kind not in UNORDERED:
        known = [*tables.get(kind, []), *rows[: number - 1 if number else len(rows)]]
        page["others"] = [(key_of(kind, one), say_row(kind, one)) for one in known]
        page |= {"behind": request.POST.get("behind", _split_place(said)[1]), "nowhere": _("at the end")}
    if request.method == "GET":
        return show(request, "planner/authoring_row.html", page, section="sequences")
    person, revision = person_of(request), revision_of(request)
    try:
        if "remove" in request.POST and number:
            put_option_row(found, option, change, kind, number, None, person, revision)
            return say_saved(request, found, back_to=page["option_back"])
        if all([form.is_valid(), links is None or links.is_valid()]):
            new = form.table()
            if links is not None:
                after = [one for link in links.forms if (one := link.table()) is not None]
                new = in_order({**new, **({"after": after} if after else {})}, table)
            if change == "changed":
                new = _say_change(kind, base, new, said)
            elif behind := request.POST.get("behind", ""):
                new = in_order({**new, ROW_AFTER: behind}, said)
            put_option_row(found, option, change, kind, number, new, person, revision)
            return say_saved(request, found, back_to=page["option_back"])
    except (BadInput, WrongState) as refusal:
        return show(request, "planner/authoring_row.html", page, refusal, section="sequences")
    return show(request, "planner/authoring_row.html", page, section="sequences")


def _split_place(said: Mapping[str, Any]) -> tuple[dict[str, Any], str]:
    """A row that an option adds without the word behind which row it stands, and that word."""
    table = dict(said)
    return table, str(table.pop(ROW_AFTER, ""))


def _links(kind: str, tables: dict[str, Any], table: Mapping[str, Any], data: Any) -> Any:
    if kind != "activity":
        return None
    after = table.get("after", [])
    return LinkFormSet(data, prefix="after", initial=after, form_kwargs={"tables": tables})


def _say_change(
    kind: str, base: Mapping[str, Any], row: Mapping[str, Any], former: Mapping[str, Any]
) -> dict[str, Any]:
    if key_of(kind, base) != key_of(kind, row):
        raise BadInput(
            key_of(kind, base), _("A change keeps the row's name. Add a row of the new name instead.")
        )
    try:
        change = find_change(kind, base, row, former)
    except NotEmptied as fault:
        raise BadInput(
            fault.field, _("An option cannot leave this number away. Give another number.")
        ) from fault
    if set(change) <= set(naming_fields(kind)):
        raise BadInput(key_of(kind, base), _("It is the row of the base. Change something, or take it out."))
    return change


@require_http_methods(["GET", "POST"])
@for_roles(*WRITERS)
def option_removals(request: HttpRequest, draft: int, option: int) -> HttpResponse:
    """Choose which rows of the base an option takes out."""
    found = find_draft(request, draft)
    tables, own = _find_option(found, option)
    data = request.POST if request.method == "POST" else None
    form = RemovalsForm(tables, own.get("removed", {}), data)
    page: dict[str, Any] = {
        "draft": found,
        "revision": request.POST.get("revision", found.revision),
        "number": 0,
        "form": form,
        "name": _("Rows that it takes out"),
        "what": own["name"],
        "crumbs": crumbs_to(found, own["name"]),
        "option_back": reverse("planner:draft_row", args=[found.pk, "option", option]),
    }
    if request.method == "POST" and form.is_valid():
        person, revision = person_of(request), revision_of(request)
        try:
            put_option_removals(found, option, form.removed(), person, revision)
            return say_saved(request, found, back_to=page["option_back"])
        except (BadInput, WrongState) as refusal:
            return show(request, "planner/authoring_row.html", page, refusal, section="sequences")
    return show(request, "planner/authoring_row.html", page, section="sequences")
