"""A job of whoever writes sequences: copy one, add a detail, a check and an option, compare, publish."""

from typing import Any

import pytest
from django.test import Client

from coordination.people.models import Role
from coordination.sequence.library.reading import read_document
from coordination.sequence.models import House, SequenceDraft, SequenceVersion
from tests.planner.conftest import browser_of, text_of
from tests.planner.test_authoring_options import send
from tests.sequence.brick_veneer import Office
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def assessor(office: Office) -> Client:
    return browser_of(make_person(office.builder, Role.Kind.ASSESSOR, "Ada"))


@pytest.fixture
def draft(assessor: Client, office: Office) -> SequenceDraft:
    assessor.post("/sequences/drafts/import/", {"builder": office.builder.slug, "shipped": "bare_minimum"})
    return SequenceDraft.objects.get()


def rows_of(draft: SequenceDraft, kind: str) -> list[dict[str, Any]]:
    draft.refresh_from_db()
    return list(read_document(draft.text, "x").get(kind, []))


def test_a_copy_stands_beside_what_it_came_from_and_is_compared_with_it(
    assessor: Client, office: Office, stranger: Client
) -> None:
    edit = f"/sequences/{office.version.pk}/edit/"
    for wrong in ({"own_key": "Coast line"}, {"own_name": "Coast"}, {"own_key": "c" * 61}):
        refused = assessor.post(edit, wrong)
        assert refused.status_code == 422
        assert "small letters, digits and -" in text_of(refused)
    taken = assessor.post(edit, {"own_key": office.version.key})
    assert "You have a sequence 'brick-veneer-90' already." in text_of(taken)
    assert stranger.post(edit, {"own_key": "mine"}).status_code == 404
    assert not SequenceDraft.objects.exists()
    page = assessor.post(edit, {"own_key": "brick-coast", "own_name": "At the coast"}, follow=True)
    draft = SequenceDraft.objects.get()
    assert (draft.key, draft.name, draft.based_on) == ("brick-coast", "At the coast", None)
    here = f"/sequences/drafts/{draft.pk}/difference/"
    assert "There is no former version: every row of it is new." in text_of(assessor.get(here))
    compared = text_of(assessor.get(f"{here}?against=version-{office.version.pk}"))
    assert "name Single storey, brick veneer, ceiling batts from below At the coast" in compared
    assert "new" not in compared.split("Compare ")[-1].split()
    library = text_of(assessor.get(f"{here}?against=library-steel-frame"))
    assert "against Single storey, steel frame" in library
    assert assessor.get(f"{here}?against=version-x").status_code == 200
    publish = f"/sequences/drafts/{draft.pk}/publish/"
    assessor.post(publish, {"revision": draft.revision})
    assert set(SequenceVersion.objects.values_list("key", "number")) == {
        ("brick-veneer-90", 1),
        ("brick-coast", 1),
    }
    assert page.status_code == 200


def test_the_library_is_copied_under_a_name_of_its_own_but_published_only_as_it_is(
    assessor: Client, office: Office
) -> None:
    sent = {"builder": office.builder.slug, "shipped": "bare_minimum", "own_key": "tiny"}
    refused = assessor.post("/sequences/publish/", sent)
    assert refused.status_code == 422
    assert "Under a name of its own it begins as a draft." in text_of(refused)
    assessor.post("/sequences/drafts/import/", sent)
    assert SequenceDraft.objects.get().key == "tiny"


def test_an_option_begins_empty_and_is_published_only_when_it_changes_something(
    assessor: Client, draft: SequenceDraft
) -> None:
    here = f"/sequences/drafts/{draft.pk}/option"
    said = send(assessor, f"{here}/0/", draft, key="thick", name="Thicker", what="More of it")
    number = len(rows_of(draft, "option"))
    assert said.request["PATH_INFO"] == f"{here}/{number}/", "its rows are said on its own page"
    assert "It changes nothing. Give it a feature that it fixes" in text_of(said)
    refused = assessor.post(f"/sequences/drafts/{draft.pk}/publish/", {"revision": draft.revision})
    assert refused.status_code == 422
    assert not SequenceVersion.objects.filter(key=draft.key).exists()
    work = rows_of(draft, "activity")[0]
    address = f"{here}/{number}/changed/activity/0/?row={work['id']}"
    back = send(assessor, address, draft, half_days=str(work["half_days"] + 1))
    assert back.request["PATH_INFO"] == f"{here}/{number}/"
    compared = text_of(assessor.get(f"/sequences/drafts/{draft.pk}/difference/"))
    assert f"changed: {work['name']}: half-days {work['half_days'] + 1}" in compared


def test_a_check_is_begun_from_its_detail_and_what_is_wrong_is_said_at_its_box(
    assessor: Client, draft: SequenceDraft
) -> None:
    detail = rows_of(draft, "detail")[0]
    page = assessor.get(f"/sequences/drafts/{draft.pk}/detail/1/")
    judged = [one for one in rows_of(draft, "check") if one.get("detail") == detail["id"]]
    assert judged[0]["text"] in text_of(page)
    add = f"/sequences/drafts/{draft.pk}/check/0/?detail={detail['id']}"
    assert add in page.content.decode()
    new = {"id": "lap", "text": "Laps enough.", "kind_of": "measured"}
    wrong = send(assessor, add, draft, **new)
    assert wrong.context["form"]["detail"].value() == detail["id"]
    assert set(wrong.context["form"].errors) == {"limit_compare"}
    limit = {"limit_compare": "at least", "limit_value": "150", "limit_unit": "mm"}
    wrong = send(assessor, add, draft, **new, **limit)
    assert set(wrong.context["form"].errors) == {"limit_source"}
    assert send(assessor, add, draft, **(new | limit | {"kind_of": "seen"})).context[
        "form"
    ].errors.keys() == {"kind_of"}
    nowhere = send(assessor, add, draft, **new, **limit, limit_source="mine", detail="")
    assert set(nowhere.context["form"].errors) == {"detail"}
    send(assessor, add, draft, **new, **limit, limit_source="the maker's sheet")
    added = rows_of(draft, "check")[-1]
    assert (added["detail"], added["limit"]["source"]) == (detail["id"], "the maker's sheet")


def test_a_trade_is_called_by_either_of_its_names_and_groups_open_where_something_is_said(
    assessor: Client, draft: SequenceDraft
) -> None:
    here = f"/sequences/drafts/{draft.pk}/detail/1/"
    trade = rows_of(draft, "trade")[0]
    wrong = send(assessor, here, draft, tells="Nobody: mind it")
    assert "'Nobody' is no trade of this sequence." in text_of(wrong)
    send(assessor, here, draft, tells=f"{trade['name'].upper()}: Lap it.", caution="", places="")
    assert rows_of(draft, "detail")[0]["tells"] == {trade["key"]: "Lap it."}
    groups = {one.legend: one.open for one in assessor.get(here).context["form"].groups()}
    assert groups["What the trade is told"]
    new = assessor.get(f"/sequences/drafts/{draft.pk}/detail/0/").context["form"].groups()
    assert [one.open for one in new if one.legend] == [False] * 3
    shown = {bound.name for one in new for bound in one.boxes} | {"more"}
    assert shown == set(new[0].boxes[0].form.fields), "no box is lost between the groups"


def test_a_version_lists_the_houses_that_may_move_to_it(
    assessor: Client, supervisor: Client, office: Office, house: House, stranger: Client
) -> None:
    assessor.post(f"/sequences/{office.version.pk}/edit/")
    draft = SequenceDraft.objects.get()
    text = draft.text.replace('name = "Single storey, brick', 'name = "Our own single storey, brick', 1)
    assert text != draft.text
    assessor.post(f"/sequences/drafts/{draft.pk}/text/", {"text": text, "revision": 1})
    assessor.post(f"/sequences/drafts/{draft.pk}/publish/", {"revision": 2})
    newest = SequenceVersion.objects.get(number=2)
    way = f"/houses/{house.pk}/change/?version={newest.pk}"
    assert way in assessor.get(f"/sequences/{newest.pk}/").content.decode()
    assert assessor.get(way).status_code == 200
    assert way not in assessor.get(f"/sequences/{office.version.pk}/").content.decode()
    seen = supervisor.get(f"/sequences/{newest.pk}/").content.decode()
    assert house.name in seen
    assert way not in seen
    assert stranger.get(f"/sequences/{newest.pk}/").status_code == 404
