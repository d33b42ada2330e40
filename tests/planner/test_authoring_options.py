"""What an option adds, changes and takes out, edited in boxes; nothing of it is lost on the way."""

import re
from typing import Any

import pytest
from django.test import Client

from coordination.planner.forms.authoring import LinkForm, TextRowForm
from coordination.planner.forms.authoring_removals import RemovalsForm
from coordination.sequence import drafting
from coordination.sequence.library.option_rows import (
    NotEmptied,
    change_row,
    find_base,
    find_change,
    with_added,
)
from coordination.sequence.library.options import apply_options
from coordination.sequence.library.reading import build_sequence, read_document
from coordination.sequence.library.rows import ROW_KINDS
from coordination.sequence.models import SequenceDraft
from coordination.sequence.standard import flatten
from tests.planner.conftest import text_of
from tests.planner.test_authoring_views import FORMS, as_sent
from tests.sequence.brick_veneer import Office
from tests.sequence.test_drafting import SHIPPED


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_row_of_every_shipped_option_goes_through_its_form_unchanged(path: Any) -> None:
    text = flatten(path)
    tables, again = read_document(text, "shipped"), read_document(text, "shipped")
    rows = 0
    for number, option in enumerate(tables.get("option", [])):
        others = with_added(tables, option)
        for change in ("added", "changed"):
            for kind, members in option.get(change, {}).items():
                for place, said in enumerate(members):
                    base = find_base(tables, kind, said) if change == "changed" else None
                    row = change_row(kind, base, said) if base is not None else said
                    new = through_form(kind, others, row)
                    if base is not None:
                        new = find_change(kind, base, new, said)
                    again["option"][number][change][kind][place] = new
                    rows += 1
        if "removed" in option:
            sent = {kind: list(keys) for kind, keys in option["removed"].items()}
            form = RemovalsForm(tables, option["removed"], as_sent(RemovalsForm(tables, sent)))
            assert form.is_valid(), form.errors
            again["option"][number]["removed"] = form.removed()
    assert rows
    for one in build_sequence(tables, "x", "").options:
        same = next(two for two in build_sequence(again, "x", "").options if two.key == one.key)
        assert applied(tables, one) == applied(again, same), one.key


def through_form(kind: str, tables: Any, row: Any) -> Any:
    make = FORMS.get(kind, TextRowForm)
    form = make(tables, row, as_sent(make(tables, row)))
    assert form.is_valid(), (kind, row, form.errors)
    table = form.table()
    if kind == "activity" and row.get("after"):
        links = [LinkForm(tables=tables, initial=one) for one in row["after"]]
        read = [LinkForm(as_sent(link), tables=tables) for link in links]
        assert all(link.is_valid() for link in read)
        table["after"] = [link.table() for link in read]
    return table


def applied(tables: Any, option: Any) -> Any:
    """The sequence with the option: what the rows mean is compared, not how they are written."""
    done = apply_options(tables, (option,), "x")
    built = build_sequence(done.document, "x", "")
    return built.activities, built.details, built.checks, built.features, done.removed, done.sets


def test_a_change_says_no_more_than_what_differs() -> None:
    links = [{"id": "wrap"}, {"id": "roof", "type": "SS"}]
    base = {"id": "brick", "half_days": 10, "after": links, "stake": True}
    row = {"id": "brick", "half_days": 12, "after": [{"id": "wrap"}, {"id": "roof", "type": "SS", "lag": 2}]}
    change = find_change("activity", base, row)
    assert change == {
        "id": "brick",
        "half_days": 12,
        "no_longer_after": ["roof"],
        "also_after": [{"id": "roof", "type": "SS", "lag": 2}],
        "stake": False,
    }
    assert change_row("activity", base, change) == row | {"stake": False}
    with pytest.raises(NotEmptied, match="half_days"):
        find_change("activity", base, {"id": "brick", "after": links, "stake": True})


@pytest.fixture
def draft(planner: Client, office: Office) -> SequenceDraft:
    planner.post(f"/sequences/{office.version.pk}/edit/")
    return SequenceDraft.objects.get()


def number_of(draft: SequenceDraft, key: str) -> int:
    options = read_document(draft.text, "x")["option"]
    return next(n for n, one in enumerate(options, 1) if one["key"] == key)


def option_of(draft: SequenceDraft, key: str) -> Any:
    draft.refresh_from_db()
    return read_document(draft.text, "x")["option"][number_of(draft, key) - 1]


def send(planner: Client, address: str, draft: SequenceDraft, **changed: Any) -> Any:
    """Open a row's page as a person does, change some boxes, send it."""
    page = planner.get(address)
    sent = as_sent(page.context["form"])
    if page.context.get("links") is not None:
        sent.update(as_sent(page.context["links"].management_form))
        for link in page.context["links"].forms:
            sent.update(as_sent(link))
    draft.refresh_from_db()
    sent["revision"] = str(draft.revision)
    for name, value in changed.items():
        sent.setlist(name, value) if isinstance(value, list) else sent.__setitem__(name, value)
    return planner.post(address, sent, follow=True)


@pytest.mark.django_db
def test_a_row_that_an_option_changes_is_edited_in_boxes(planner: Client, draft: SequenceDraft) -> None:
    number = number_of(draft, "bath-before-linings")
    page = planner.get(f"/sequences/drafts/{draft.pk}/option/{number}/")
    here = f"/sequences/drafts/{draft.pk}/option/{number}/changed/activity"
    assert f"{here}/1/" in page.content.decode()
    before = option_of(draft, "bath-before-linings")
    changed = before["changed"]["activity"][0]
    said = send(planner, f"{here}/1/", draft, half_days="3")
    assert said.status_code == 200, text_of(said)
    after = option_of(draft, "bath-before-linings")
    assert after["changed"]["activity"][0] == changed | {"half_days": 3}
    assert after["added"] == before["added"]


@pytest.mark.django_db
def test_a_row_is_added_changed_anew_and_taken_out_by_an_option(
    planner: Client, draft: SequenceDraft
) -> None:
    number = number_of(draft, "one-pair")
    here = f"/sequences/drafts/{draft.pk}/option/{number}"
    assert "Which row does it change?" in text_of(planner.get(f"{here}/changed/detail/0/"))
    send(planner, f"{here}/changed/detail/0/?row=d16", draft, caution="Gloves, and mind the stairs.")
    option = option_of(draft, "one-pair")
    assert option["changed"]["detail"] == [{"id": "d16", "caution": "Gloves, and mind the stairs."}]
    refused = send(planner, f"{here}/changed/detail/0/?row=d17", draft)
    assert refused.status_code == 422
    assert "It is the row of the base." in text_of(refused)
    new = {"id": "late-look", "text": "Batts still flush.", "kind_of": "seen", "detail": "d16"}
    send(planner, f"{here}/added/check/0/", draft, **new)
    [added] = option_of(draft, "one-pair")["added"]["check"]
    assert added == {"id": "late-look", "text": "Batts still flush.", "detail": "d16", "kind": "seen"}
    removal = read_document(draft.text, "x")["check"][-1]["id"]
    send(planner, f"{here}/removed/", draft, check=[removal])
    assert option_of(draft, "one-pair")["removed"] == {"check": [removal]}
    planner.post(f"{here}/changed/detail/1/", {"revision": str(draft.revision), "remove": "1"})
    assert "detail" not in option_of(draft, "one-pair").get("changed", {})
    assert drafting.read_draft(draft).options


@pytest.mark.django_db
def test_option_rows_are_the_writers_own(
    stranger: Client, supervisor: Client, contact: Client, draft: SequenceDraft, planner: Client
) -> None:
    number = number_of(draft, "bath-before-linings")
    for page in ("changed/activity/1/", "added/detail/1/", "removed/"):
        address = f"/sequences/drafts/{draft.pk}/option/{number}/{page}"
        assert planner.get(address).status_code == 200
        assert stranger.get(address).status_code == 404
        assert supervisor.get(address).status_code == 403
        assert contact.get(address).status_code == 403
    for page in ("changed/activity/99/", "turned/activity/1/", "added/nonsense/0/"):
        assert planner.get(f"/sequences/drafts/{draft.pk}/option/{number}/{page}").status_code == 404
    assert planner.get(f"/sequences/drafts/{draft.pk}/option/99/removed/").status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("box", "words", "said"),
    [
        ("numbers", "lap: wrap.lap", "names no source"),
        ("numbers", "lap published wrap.lap", "is no line"),
        ("numbers", "n: value many", "is no number"),
        ("limit_inputs", "pitch: pitch\npitch: heel", "is there twice"),
        ("limit_high", "20", "names no source"),
        ("sampling_share", "2", "less than or equal to 1"),
    ],
)
def test_lines_that_cannot_be_read_are_refused_by_what_they_say(
    planner: Client, draft: SequenceDraft, box: str, words: str, said: str
) -> None:
    rows = read_document(draft.text, "x")["check"]
    number = next(n for n, row in enumerate(rows, 1) if row["kind"] == "measured")
    answer = send(planner, f"/sequences/drafts/{draft.pk}/check/{number}/", draft, **{box: words})
    assert said in text_of(answer)
    draft.refresh_from_db()
    assert draft.revision == 1


def test_an_option_offers_only_rows_that_it_may_hold(planner: Client, draft: SequenceDraft) -> None:
    """Every way that is offered leads to a row that is saved: an option holds no trades and no stages."""
    page = planner.get(f"/sequences/drafts/{draft.pk}/option/1/").content.decode()
    offered = set(re.findall(r"/option/1/(?:added|changed)/([a-z_]+)/0/", page))
    assert offered == set(ROW_KINDS)
    form = planner.get(f"/sequences/drafts/{draft.pk}/option/1/removed/").context["form"]
    assert set(form.fields) <= set(ROW_KINDS) - {"feature"}
