"""One row of a draft: a form for its kind, saved as a whole or refused as a whole."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.draft_told import say_kinds
from coordination.planner.forms.authoring import (
    ActivityForm,
    LinkFormSet,
    OptionForm,
    RowForm,
    TextRowForm,
    in_order,
)
from coordination.planner.forms.authoring_judging import CheckForm, DetailForm
from coordination.planner.option_told import kinds_of_rows, tell_option
from coordination.planner.views.authoring import crumbs_to, find_draft, revision_of, say_saved
from coordination.planner.views.finding import person_of, show
from coordination.planner.views.sequences import WRITERS
from coordination.sequence.drafting import put_row, read_tables, remove_row
from coordination.sequence.library.options import key_of

FORMS: dict[str, type[RowForm]] = {
    form.kind: form for form in (ActivityForm, DetailForm, CheckForm, OptionForm)
}


@require_http_methods(["GET", "POST"])
@for_roles(*WRITERS)
def row(request: HttpRequest, draft: int, kind: str, number: int) -> HttpResponse:
    """Edit the `number`th row of a kind, or with 0 write a new one; as text where asked."""
    found = find_draft(request, draft)
    tables = read_tables(found)
    rows: list[dict[str, Any]] = tables.get(kind, [])
    words = say_kinds()
    if kind not in words or number > len(rows):
        raise Http404
    table = rows[number - 1] if number else {}
    as_text = kind not in FORMS or "text" in request.GET
    data = request.POST if request.method == "POST" else None
    form = (TextRowForm if as_text else FORMS[kind])(tables, table, data)
    links = None
    if kind == "activity" and not as_text:
        links = LinkFormSet(
            data, prefix="after", initial=table.get("after", []), form_kwargs={"tables": tables}
        )
    name = key_of(kind, table) if number else _("new %(what)s") % {"what": words[kind][0]}
    page: dict[str, Any] = {
        "draft": found,
        "revision": request.POST.get("revision", found.revision),
        "kind": kind,
        "number": number,
        "form": form,
        "links": links,
        "name": name,
        "what": words[kind][0],
        "as_text": as_text,
        "has_boxes": kind in FORMS,
        "others": [key_of(kind, one) for one in rows] if not number else [],
        "behind": request.POST.get("behind", ""),
        "crumbs": crumbs_to(found, name),
    }
    if kind == "option" and number:
        page |= {"option_lists": tell_option(found.pk, number, table), "option_kinds": kinds_of_rows()}
    if request.method == "GET":
        return show(request, "planner/authoring_row.html", page, section="sequences")
    person, revision = person_of(request), revision_of(request)
    try:
        if "remove" in request.POST and number:
            remove_row(found, kind, number, person, revision)
            return say_saved(request, found)
        if all([form.is_valid(), links is None or links.is_valid()]):
            said = form.table()
            if links is not None:
                after = [one for link in links.forms if (one := link.table()) is not None]
                said = in_order({**said, **({"after": after} if after else {})}, table)
            put_row(found, kind, number, said, person, revision, str(page["behind"]))
            return say_saved(request, found)
    except (BadInput, WrongState) as refusal:
        return show(request, "planner/authoring_row.html", page, refusal, section="sequences")
    return show(request, "planner/authoring_row.html", page, section="sequences")
