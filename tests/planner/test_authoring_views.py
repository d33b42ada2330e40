"""A sequence edited in the browser: forms keep what they have no box for; planner and assessor only."""

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.forms import BaseForm
from django.test import Client
from django.utils.datastructures import MultiValueDict

from coordination.people.models import Role
from coordination.planner.forms.authoring import ActivityForm, LinkForm, OptionForm, TextRowForm
from coordination.planner.forms.authoring_features import AttributeForm, FeatureForm
from coordination.planner.forms.authoring_judging import CheckForm, DetailForm
from coordination.sequence.library.including import KINDS
from coordination.sequence.library.reading import build_sequence, read_document
from coordination.sequence.models import SequenceDraft, SequenceVersion
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.standard import flatten
from tests.planner.conftest import browser_of, text_of
from tests.sequence.brick_veneer import Office
from tests.sequence.builders import make_person
from tests.sequence.test_drafting import MINIMUM, SHIPPED

pytestmark = pytest.mark.django_db

FORMS: dict[str, Any] = {
    "activity": ActivityForm,
    "detail": DetailForm,
    "check": CheckForm,
    "option": OptionForm,
    "feature": FeatureForm,
    "place_attribute": AttributeForm,
}


def as_sent(form: BaseForm) -> MultiValueDict[str, Any]:
    """What a browser sends when nobody has touched the form."""
    sent: MultiValueDict[str, Any] = MultiValueDict()
    for bound in form:
        value = bound.value()
        if isinstance(value, list):
            sent.setlist(bound.html_name, value)
        elif value is not None and value is not False:
            sent[bound.html_name] = str(value)
    return sent


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_shipped_row_goes_through_its_form_unchanged(path: Any) -> None:
    text = flatten(path)
    tables = read_document(text, "shipped")
    again = read_document(text, "shipped")
    for kind in KINDS:
        for number, row in enumerate(tables.get(kind, [])):
            make = FORMS.get(kind, TextRowForm)
            form = make(tables, row, as_sent(make(tables, row)))
            assert form.is_valid(), (kind, row, form.errors)
            table = form.table()
            if kind == "activity" and row.get("after"):
                links = [LinkForm(tables=tables, initial=one) for one in row["after"]]
                sent = [LinkForm(as_sent(link), tables=tables) for link in links]
                assert all(link.is_valid() for link in sent)
                table["after"] = [link.table() for link in sent]
            again[kind][number] = table
    assert build_sequence(again, "x", "") == build_sequence(tables, "x", "")


@pytest.fixture
def version(office: Office) -> SequenceVersion:
    return publish_sequence(office.builder, MINIMUM)


@pytest.fixture
def draft(planner: Client, version: SequenceVersion) -> SequenceDraft:
    planner.post(f"/sequences/{version.pk}/edit/")
    return SequenceDraft.objects.get(based_on=version)


def post_row(browser: Client, draft: SequenceDraft, kind: str, key: str, **changed: Any) -> Any:
    """Open a row's page as a person does, change some boxes, send it."""
    rows = read_document(draft.text, "x")[kind]
    number = next(n for n, row in enumerate(rows, 1) if row.get("id", row.get("key")) == key)
    url = f"/sequences/drafts/{draft.pk}/{kind}/{number}/"
    page = browser.get(url)
    sent = as_sent(page.context["form"])
    if page.context["links"] is not None:
        sent.update(as_sent(page.context["links"].management_form))
        for link in page.context["links"].forms:
            sent.update(as_sent(link))
    for name, value in changed.items():
        sent.setlist(name, value) if isinstance(value, list) else sent.__setitem__(name, value)
    sent["revision"] = sent.get("revision", str(draft.revision))
    return browser.post(url, sent, follow=True)


def test_a_row_is_edited_compared_and_published(planner: Client, draft: SequenceDraft) -> None:
    first = read_document(draft.text, "x")["activity"][0]
    words = text_of(planner.get(f"/sequences/drafts/{draft.pk}/"))
    assert "Nothing is wrong with it." in words
    said = post_row(planner, draft, "activity", first["id"], half_days=str(first["half_days"] + 4))
    assert "Saved. It can be published." in text_of(said)
    compared = text_of(planner.get(f"/sequences/drafts/{draft.pk}/difference/"))
    assert f"half-days : {first['half_days']} now {first['half_days'] + 4}" in compared
    assert "half-days in all" in compared
    done = planner.post(f"/sequences/drafts/{draft.pk}/publish/", {"revision": 2}, follow=True)
    assert "is published as version 2." in text_of(done)
    assert not SequenceDraft.objects.exists()


def test_a_fault_is_said_at_its_row_and_publishing_waits(planner: Client, draft: SequenceDraft) -> None:
    tables = read_document(draft.text, "x")
    detail = tables["detail"][0]
    said = text_of(post_row(planner, draft, "detail", detail["id"], covered_by=[]))
    assert "1 thing is wrong" in said
    assert f"detail '{detail['id']}' ({detail['name']}): nothing covers it" in said
    assert "Nothing covers it." in text_of(planner.get(f"/sequences/drafts/{draft.pk}/detail/1/"))
    refused = planner.post(f"/sequences/drafts/{draft.pk}/publish/", {"revision": 2})
    assert refused.status_code == 422
    assert SequenceVersion.objects.filter(key="bare-minimum").count() == 1


def test_what_cannot_be_read_is_said_and_nothing_is_saved(planner: Client, draft: SequenceDraft) -> None:
    check = read_document(draft.text, "x")["check"][0]["id"]
    answer = post_row(planner, draft, "check", check, when="storeys >")
    assert answer.status_code == 422
    assert "Nothing was changed." in text_of(answer)
    doubled = text_of(post_row(planner, draft, "check", check, more='text = "again"'))
    assert "'text' has a box of its own above." in doubled
    assert "This is no TOML" in text_of(post_row(planner, draft, "check", check, more="x ="))
    assert SequenceDraft.objects.get(pk=draft.pk).revision == 1


def test_two_people_do_not_overwrite_each_other(planner: Client, draft: SequenceDraft) -> None:
    first = read_document(draft.text, "x")["activity"][0]
    post_row(planner, draft, "activity", first["id"], name="One")
    late = post_row(planner, draft, "activity", first["id"], name="Two", revision="1")
    assert late.status_code == 409
    assert "Somebody else has saved this draft, and this row of it" in text_of(late)
    assert 'name = "One"' in SequenceDraft.objects.get(pk=draft.pk).text


def test_two_people_at_different_rows_lose_nothing(planner: Client, draft: SequenceDraft) -> None:
    rows = read_document(draft.text, "x")["activity"]
    address = f"/sequences/drafts/{draft.pk}/activity/2/"
    page = planner.get(address)
    sent = as_sent(page.context["form"])
    sent.update(as_sent(page.context["links"].management_form))
    for link in page.context["links"].forms:
        sent.update(as_sent(link))
    stood = rows[0]["id"]
    sent.update(
        {"revision": "1", "name": "Two", "seen": page.context["seen"], "stood": stood, "behind": stood}
    )
    post_row(planner, draft, "activity", rows[0]["id"], name="One")
    planner.post(f"/sequences/drafts/{draft.pk}/order/activity/", {"revision": 2, "later": 2})
    assert planner.post(address, sent).status_code == 302
    found = read_document(SequenceDraft.objects.get(pk=draft.pk).text, "x")["activity"]
    names = {one["id"]: one["name"] for one in found}
    assert (names[rows[0]["id"]], names[rows[1]["id"]]) == ("One", "Two")
    assert [one["id"] for one in found[:3]] == [rows[0]["id"], rows[2]["id"], rows[1]["id"]]
    again = planner.post(address, sent)
    assert again.status_code == 409, "that row itself was saved since"


def test_a_new_activity_takes_its_place_and_its_predecessor(planner: Client, draft: SequenceDraft) -> None:
    rows = read_document(draft.text, "x")["activity"]
    first = rows[0]
    url = f"/sequences/drafts/{draft.pk}/activity/0/"
    assert "Stands behind" in text_of(planner.get(url))
    sent = {"id": "sweep", "name": "Sweep out", "half_days": "1", "stage": first["stage"]}
    sent |= {"trade": first["trade"], "revision": "1", "behind": first["id"]}
    sent |= {"after-TOTAL_FORMS": "2", "after-INITIAL_FORMS": "0", "after-0-id": first["id"]}
    sent |= {"after-0-type": "FS", "after-0-lag": "2", "after-1-type": "FS"}
    planner.post(url, sent)
    new = read_document(SequenceDraft.objects.get(pk=draft.pk).text, "x")["activity"][1]
    assert (new["id"], new["after"]) == ("sweep", [{"id": first["id"], "lag": 2}])


def test_text_head_and_other_rows_are_edited_and_the_draft_discarded(
    planner: Client, draft: SequenceDraft
) -> None:
    here = f"/sequences/drafts/{draft.pk}/"
    planner.post(f"{here}text/", {"text": MINIMUM + "\n# mine\n", "revision": 1})
    assert SequenceDraft.objects.get(pk=draft.pk).text.endswith("# mine\n")
    visits = as_sent(planner.get(f"{here}head/").context["form"])
    planner.post(f"{here}head/", visits | {"name": "Our own", "revision": 2})
    assert SequenceDraft.objects.get(pk=draft.pk).name == "Our own"
    planner.post(f"{here}trade/0/", {"row": 'key = "glazier"\nname = "Glazier"', "behind": "", "revision": 3})
    trades = read_document(SequenceDraft.objects.get(pk=draft.pk).text, "x")["trade"]
    assert trades[-1] == {"key": "glazier", "name": "Glazier"}
    planner.post(f"{here}trade/{len(trades)}/", {"remove": "1", "revision": 4})
    assert "glazier" not in SequenceDraft.objects.get(pk=draft.pk).text
    assert planner.post(f"{here}discard/", {"revision": 1}).status_code == 409
    planner.post(f"{here}discard/", {"revision": 5})
    assert not SequenceDraft.objects.exists()
    assert planner.get(f"{here}trade/99/").status_code == 404


def test_what_is_exported_is_imported_again(
    planner: Client, office: Office, version: SequenceVersion
) -> None:
    answer = planner.get(f"/sequences/{version.pk}/export/")
    assert answer.content.decode() == MINIMUM
    assert 'filename="bare-minimum-1.toml"' in answer["Content-Disposition"]
    sent = {"builder": office.builder.slug, "file": SimpleUploadedFile("mine.toml", answer.content)}
    planner.post("/sequences/drafts/import/", sent)
    draft = SequenceDraft.objects.get()
    assert (draft.text, draft.based_on) == (MINIMUM, version)
    assert planner.get(f"/sequences/drafts/{draft.pk}/export/").content.decode() == MINIMUM
    bad = {"builder": office.builder.slug, "file": SimpleUploadedFile("bad.toml", b"key = [")}
    refused = planner.post("/sequences/drafts/import/", bad)
    assert refused.status_code == 422
    assert "bad.toml" in text_of(refused)


def test_planner_and_assessor_write_and_nobody_else(
    office: Office,
    draft: SequenceDraft,
    version: SequenceVersion,
    supervisor: Client,
    stranger: Client,
    contact: Client,
) -> None:
    assessor = browser_of(make_person(office.builder, Role.Kind.ASSESSOR, "Ada"))
    here = f"/sequences/drafts/{draft.pk}/"
    pages = ("", "text/", "head/", "difference/", "export/", "activity/1/", "feature/1/", "trade/1/")
    for page in pages:
        assert assessor.get(here + page).status_code == 200, page
        assert supervisor.get(here + page).status_code == 403, page
        assert contact.get(here + page).status_code == 403, page
        assert stranger.get(here + page).status_code == 404, page
    for act in ("publish/", "discard/", "text/", "activity/1/", "feature/1/"):
        assert stranger.post(here + act, {"revision": 1}).status_code == 404, act
        assert supervisor.post(here + act, {"revision": 1}).status_code == 403, act
    assert supervisor.post(f"/sequences/{version.pk}/edit/").status_code == 403
    assert stranger.post(f"/sequences/{version.pk}/edit/").status_code == 404
    assert stranger.get(f"/sequences/{version.pk}/export/").status_code == 404
    assert SequenceDraft.objects.get().revision == 1


def test_ticked_rows_stand_open_and_the_rest_is_folded(planner: Client, draft: SequenceDraft) -> None:
    page = planner.get(f"/sequences/drafts/{draft.pk}/detail/1/").content.decode()
    [boxes] = re.findall(r'<fieldset class="field ticks[^>]*id="id_covered_by">.*?</fieldset>', page, re.S)
    shown, folded = boxes.split("<details", 1)
    assert shown.count("checked") == shown.count('type="checkbox"') >= 1
    assert "checked" not in folded
    every = [one for one in read_document(draft.text, "x")["activity"] if not one.get("point")]
    assert boxes.count('type="checkbox"') == len(every)


def test_comments_that_a_row_saved_in_boxes_would_lose_are_told_before(
    planner: Client, draft: SequenceDraft
) -> None:
    here = f"/sequences/drafts/{draft.pk}/"
    body = draft.text.splitlines()
    opening = next(at for at, line in enumerate(body) if not line.startswith("#"))
    plain = [*body[:opening], *(line for line in body[opening:] if not line.lstrip().startswith("#"))]
    SequenceDraft.objects.filter(pk=draft.pk).update(text="\n".join(plain))
    assert "of comment" not in text_of(planner.get(here))
    reasons = "\n".join([*plain, "# Why the last row stands: our assessor."])
    SequenceDraft.objects.filter(pk=draft.pk).update(text=reasons)
    assert "1 line of comment stands between the rows" in text_of(planner.get(here))
