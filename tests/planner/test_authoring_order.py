"""Rows of a draft moved earlier and later by buttons, and behind any other row on their own page."""

import re
from typing import Any

import pytest
from django.test import Client

from coordination.people.models import Role
from coordination.sequence.library.reading import read_document
from coordination.sequence.models import SequenceDraft
from tests.planner.conftest import browser_of, text_of
from tests.planner.test_authoring_options import send
from tests.planner.test_authoring_views import post_row
from tests.sequence.brick_veneer import Office
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(planner: Client, office: Office) -> SequenceDraft:
    planner.post(f"/sequences/{office.version.pk}/edit/")
    return SequenceDraft.objects.get()


def keys_of(draft: SequenceDraft, kind: str) -> list[str]:
    draft.refresh_from_db()
    return [one.get("id", one.get("key")) for one in read_document(draft.text, "x")[kind]]


def move(browser: Client, draft: SequenceDraft, kind: str, **way: Any) -> Any:
    sent = {"revision": draft.revision, **way}
    return browser.post(f"/sequences/drafts/{draft.pk}/order/{kind}/", sent, follow=True)


def test_a_row_moves_by_its_buttons_and_the_comparison_says_that_one_row_moved(
    planner: Client, draft: SequenceDraft
) -> None:
    before = keys_of(draft, "check")
    page = move(planner, draft, "check", later=1)
    assert keys_of(draft, "check") == [before[1], before[0], *before[2:]]
    assert page.request["QUERY_STRING"] == "open=check&row=2&moved=later"
    [pressed] = re.findall(r"<button[^>]*autofocus[^>]*>", page.content.decode())
    assert 'name="later" value="2"' in pressed
    page = move(planner, draft, "check", earlier=2)
    assert keys_of(draft, "check") == before
    [pressed] = re.findall(r"<button[^>]*autofocus[^>]*>", page.content.decode())
    assert 'name="later" value="1"' in pressed, "the first row has nowhere earlier to go"
    compared = f"/sequences/drafts/{draft.pk}/difference/"
    assert "It says what that version says." in text_of(planner.get(compared))
    post_row(planner, draft, "check", before[0], behind=before[40])
    assert keys_of(draft, "check") == [*before[1:41], before[0], *before[41:]]
    names = {one["id"]: one["text"] for one in read_document(draft.text, "x")["check"]}
    words = text_of(planner.get(compared))
    assert f"moved before {names[before[41]]}" in words
    assert words.count("moved before") == 1


def test_a_row_stays_where_it_is_unless_its_page_says_otherwise(
    planner: Client, draft: SequenceDraft
) -> None:
    before = keys_of(draft, "detail")
    post_row(planner, draft, "detail", before[5], name="Called otherwise")
    assert keys_of(draft, "detail") == before
    page = planner.get(f"/sequences/drafts/{draft.pk}/detail/6/").content.decode()
    assert f'<option value="{before[4]}" selected>' in page
    assert f'<option value="{before[5]}"' not in page, "no row stands behind itself"
    post_row(planner, draft, "detail", before[5], behind="")
    assert keys_of(draft, "detail") == [before[5], *before[:5], *before[6:]]
    gone = post_row(planner, draft, "detail", before[5], behind="no-such-row")
    assert gone.status_code == 409
    assert "The row to stand behind is not there any more." in text_of(gone)


def test_an_option_says_behind_which_row_its_own_row_stands(planner: Client, draft: SequenceDraft) -> None:
    features = keys_of(draft, "feature")
    here = f"/sequences/drafts/{draft.pk}/option/1/added/feature"
    new = {"key": "skylight", "label": "Is there a skylight?", "kind_of": "flag", "default": "no"}
    said = send(planner, f"{here}/0/", draft, **new, behind=features[2])
    assert said.status_code == 200, text_of(said)
    draft.refresh_from_db()
    option = read_document(draft.text, "x")["option"][0]
    [number] = [n for n, one in enumerate(option["added"]["feature"], 1) if one["key"] == "skylight"]
    assert option["added"]["feature"][number - 1]["row_after"] == features[2]
    page = planner.get(f"{here}/{number}/")
    assert "row_after" not in page.content.decode(), "a row's place has a box and is no further field"
    assert f'<option value="{features[2]}" selected>' in page.content.decode()


def test_only_what_has_an_order_is_moved_and_only_by_those_who_write(
    planner: Client,
    draft: SequenceDraft,
    office: Office,
    supervisor: Client,
    stranger: Client,
    contact: Client,
) -> None:
    before = keys_of(draft, "activity")
    page = planner.get(f"/sequences/drafts/{draft.pk}/").content.decode()
    assert f"/sequences/drafts/{draft.pk}/order/activity/" in page
    for kind in ("gap", "not_covered", "explained"):
        assert f"/order/{kind}/" not in page
        assert move(planner, draft, kind, later=1).status_code == 404
    assert move(planner, draft, "activity", earlier=1).status_code == 409
    assert move(planner, draft, "activity", later=len(before)).status_code == 409
    assert move(planner, draft, "activity", later="x").status_code == 409
    assert move(planner, draft, "activity", later=1, revision=99).status_code == 409
    for browser, status in ((supervisor, 403), (contact, 403), (stranger, 404)):
        assert move(browser, draft, "activity", later=1).status_code == status
    assert keys_of(draft, "activity") == before
    assessor = browser_of(make_person(office.builder, Role.Kind.ASSESSOR, "Ada"))
    assert move(assessor, draft, "activity", later=1).status_code == 200
    assert keys_of(draft, "activity")[:2] == [before[1], before[0]]
