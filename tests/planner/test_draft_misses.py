"""Whoever edits the miss of a draft's detail sees at once what it says with the usual features."""

import pytest
from django.test import Client

from coordination.sequence.misses_told import tell_miss
from coordination.sequence.models import House, SequenceDraft
from coordination.sequence.standard import miss_of, read_sequence, resolve
from tests.planner.conftest import text_of
from tests.planner.test_authoring_views import as_sent

pytestmark = pytest.mark.django_db

USUAL = "Left undone in a house with the usual features:"


def words_of(text: str, detail: str) -> str:
    """What a house with the defaults of a sequence would be told of a detail."""
    usual = resolve(read_sequence(text, "x"), {})
    told = tell_miss(miss_of(next(one for one in usual.details if one.id == detail), usual.features))
    return told.words if told is not None else ""


def test_a_miss_is_reckoned_on_the_page_before_and_after_it_is_saved(planner: Client, house: House) -> None:
    planner.post(f"/sequences/{house.sequence_version_id}/edit/")
    draft = SequenceDraft.objects.get()
    entry = read_sequence(draft.text, "x")
    number, detail = next(
        (number, one)
        for number, one in enumerate(entry.details, 1)
        if one.miss is not None and "area" in one.miss.inputs and words_of(draft.text, one.id)
    )
    here = f"/sequences/drafts/{draft.pk}/detail/{number}/"
    page = planner.get(here)
    assert f"{USUAL} {words_of(draft.text, detail.id)}" in text_of(page)
    boxes = as_sent(page.context["form"])
    boxes["revision"] = "1"
    boxes["miss_inputs"] = "\n".join(
        line if not line.startswith("area:") else "area: 40"
        for line in str(boxes["miss_inputs"]).splitlines()
    )
    shown = text_of(planner.post(here, {**dict(boxes.lists()), "reckon": "1"}))
    assert "nothing is saved yet" in shown
    assert SequenceDraft.objects.get().revision == 1
    saved = text_of(planner.post(here, {**dict(boxes.lists())}, follow=True))
    draft.refresh_from_db()
    assert words_of(draft.text, detail.id) != words_of(house.sequence_version.text, detail.id)
    for said in (shown, saved):
        assert f"{USUAL} {words_of(draft.text, detail.id)}" in said


def test_a_miss_that_names_what_is_not_there_is_refused_and_one_taken_away_says_nothing(
    planner: Client, house: House
) -> None:
    planner.post(f"/sequences/{house.sequence_version_id}/edit/")
    draft = SequenceDraft.objects.get()
    here = f"/sequences/drafts/{draft.pk}/detail/1/"
    boxes = {**dict(as_sent(planner.get(here).context["form"]).lists()), "revision": "1", "reckon": "1"}
    wrong = planner.post(here, {**boxes, "miss_kind": "open_void", "miss_inputs": "area: no_such_thing"})
    assert wrong.status_code == 422
    assert "no_such_thing" in text_of(wrong)
    bare = text_of(planner.post(here, {**boxes, "miss_kind": "", "miss_inputs": ""}))
    assert "Nothing is reckoned" in bare
