"""Drafts: what cannot be read is refused, what is unsound is kept and listed, nothing is overwritten.

Round trips are checked against the reader itself: the text that is written means what was read, for every
shipped sequence.
"""

from __future__ import annotations

import dataclasses

import pytest

from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import drafting
from coordination.sequence.comparing_texts import compare_texts
from coordination.sequence.library.reading import read_document
from coordination.sequence.models import SequenceDraft, SequenceVersion
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.standard import flatten, read_sequence
from tests.sequence.test_standard_shipped import FOLDER

pytestmark = pytest.mark.django_db
SHIPPED = sorted(FOLDER.glob("*.toml"))
MINIMUM = (FOLDER / "bare_minimum.toml").read_text(encoding="utf-8")


def meaning(text: str) -> object:
    """The records that a text holds, without the text itself."""
    return dataclasses.replace(read_sequence(text, "text"), text="")


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_written_text_means_what_was_read(path):
    text = flatten(path)
    once = drafting.write_tables(read_document(text, "text"), text)
    assert meaning(once) == meaning(text)
    assert drafting.write_tables(read_document(once, "text"), once) == once
    assert compare_texts(text, once).nothing


@pytest.fixture
def draft(office):
    version = publish_sequence(office.builder, MINIMUM)
    return drafting.begin_draft(version, office.planner)


def rows(draft, kind):
    return drafting.read_tables(draft)[kind]


def place_of(draft, kind, key):
    return next(
        number for number, row in enumerate(rows(draft, kind), 1) if row.get("id", row.get("key")) == key
    )


def longer(draft, key, half_days):
    number = place_of(draft, "activity", key)
    return number, {**rows(draft, "activity")[number - 1], "half_days": half_days}


def test_a_draft_begins_with_the_version_and_once_only(draft, office):
    again = drafting.begin_draft(draft.based_on, office.supervisor)
    assert again == draft
    assert draft.text == MINIMUM
    assert not [one for one in drafting.find_faults(draft) if one.level == "refused"]


def test_a_changed_row_is_saved_and_published_as_the_next_version(draft, office):
    first = next(row for row in rows(draft, "activity") if row.get("stake"))
    number, table = longer(draft, first["id"], first["half_days"] + 4)
    drafting.put_row(draft, "activity", number, table, office.planner, draft.revision)
    differs = compare_texts(draft.based_on.text, draft.text)
    [change] = differs.rows["activity"]
    assert (change.key, change.what) == (first["id"], "changed")
    assert [field.label for field in change.fields] == ["half-days"]
    assert differs.figures[0].label == "half-days in all"
    assert int(differs.figures[0].after) - int(differs.figures[0].before) == 4

    version = drafting.publish_draft(draft, office.planner, draft.revision)
    assert (version.key, version.number) == ("bare-minimum", 2)
    assert not SequenceDraft.objects.exists()


def test_what_cannot_be_read_is_refused_by_name_and_nothing_is_saved(draft, office):
    number, table = longer(draft, rows(draft, "activity")[0]["id"], "four")
    with pytest.raises(BadInput, match=r"half_days.*give a whole number"):
        drafting.put_row(draft, "activity", number, table, office.planner, draft.revision)
    with pytest.raises(BadInput, match="is no TOML"):
        drafting.save_text(draft, "key = [", office.planner, draft.revision)
    with pytest.raises(BadInput, match="keep 'bare-minimum'"):
        drafting.save_text(draft, MINIMUM.replace("bare-minimum", "other"), office.planner, draft.revision)
    fresh = SequenceDraft.objects.get(pk=draft.pk)
    assert (fresh.text, fresh.revision) == (MINIMUM, 1)


def test_what_is_unsound_is_kept_listed_and_not_published(draft, office):
    detail = rows(draft, "detail")[0]
    bare = {name: value for name, value in detail.items() if name != "covered_by"}
    drafting.put_row(draft, "detail", 1, bare, office.planner, draft.revision)
    refused = [one for one in drafting.find_faults(draft) if one.level == "refused"]
    assert refused
    assert all(one.remedy for one in refused)
    with pytest.raises(BadInput):
        drafting.publish_draft(draft, office.planner, draft.revision)
    assert SequenceVersion.objects.filter(key="bare-minimum").count() == 1
    assert SequenceDraft.objects.get(pk=draft.pk).revision == 2


def test_a_save_that_somebody_else_overtook_is_refused(draft, office):
    seen = draft.revision
    drafting.save_text(draft, MINIMUM + "\n# one\n", office.planner, seen)
    stale = SequenceDraft.objects.get(pk=draft.pk)
    with pytest.raises(WrongState, match="Somebody else has saved"):
        drafting.save_text(stale, MINIMUM + "\n# two\n", office.supervisor, seen)
    with pytest.raises(WrongState, match="Somebody else has saved"):
        drafting.publish_draft(stale, office.supervisor, seen)
    with pytest.raises(WrongState, match="Somebody else has saved"):
        drafting.discard_draft(stale, seen)
    assert SequenceDraft.objects.get(pk=draft.pk).text.endswith("# one\n")


def test_a_draft_without_a_change_is_not_published(draft, office):
    with pytest.raises(WrongState, match="what version 1 says"):
        drafting.publish_draft(draft, office.planner, draft.revision)


def test_an_included_base_is_part_of_what_is_imported_and_exported(office):
    text = flatten(FOLDER / "steel_frame.toml")
    draft = drafting.import_text(office.builder, text, office.planner, "steel.toml")
    assert (draft.key, draft.based_on) == ("steel-frame", None)
    assert drafting.publish_draft(draft, office.planner, draft.revision).text == text
    raw = (FOLDER / "steel_frame.toml").read_text(encoding="utf-8")
    with pytest.raises(BadInput, match="no files beside it to include"):
        drafting.import_text(office.builder, raw, office.planner, "steel.toml")


def test_a_second_draft_of_a_key_is_refused(draft, office):
    with pytest.raises(WrongState, match="There is a draft of 'bare-minimum' already"):
        drafting.import_text(office.builder, MINIMUM, office.planner)


def test_rows_are_added_where_they_are_asked_for(draft, office):
    trade = {"key": "scaffolder", "name": "Scaffolder"}
    first = rows(draft, "trade")[0]["key"]
    drafting.put_row(draft, "trade", 0, trade, office.planner, draft.revision, behind=first)
    assert [one["key"] for one in rows(draft, "trade")][:2] == [first, "scaffolder"]
    assert draft.text.startswith("# A sequence to start your own from"), "the opening comment stays"
    with pytest.raises(WrongState, match="not there any more"):
        drafting.put_row(draft, "trade", 99, trade, office.planner, draft.revision)
    with pytest.raises(BadInput, match="no such rows"):
        drafting.put_row(draft, "chimney", 0, trade, office.planner, draft.revision)


def test_a_limit_that_nothing_can_meet_is_refused_in_form_and_import(office):
    text = flatten(FOLDER / "brick_veneer_90.toml")
    draft = drafting.import_text(office.builder, text, office.planner, "mine.toml")
    number = place_of(draft, "check", "d16-recess")
    check = {
        **rows(draft, "check")[number - 1],
        "limit": {"compare": "at most", "value": -5.0, "unit": "mm", "source": "me"},
    }
    with pytest.raises(BadInput, match=r"d16-recess.*-5 mm: nothing can be less than 0.*give 0 or more"):
        drafting.put_row(draft, "check", number, check, office.planner, draft.revision)
    check["limit"] = {"compare": "at most", "value": 5.0, "unit": "mm"}
    with pytest.raises(BadInput, match=r"d16-recess.*5 mm has no 'source'"):
        drafting.put_row(draft, "check", number, check, office.planner, draft.revision)
    assert SequenceDraft.objects.get(pk=draft.pk).text == text
    negative = text.replace('value = 10, unit = "mm"', 'value = -10, unit = "mm"', 1)
    drafting.discard_draft(draft, draft.revision)
    with pytest.raises(BadInput, match=r"d25-plane.*-10 mm"):
        drafting.import_text(office.builder, negative, office.planner, "mine.toml")
    with pytest.raises(BadInput, match=r"d25-plane.*-10 mm"):
        publish_sequence(office.builder, negative)
    assert not SequenceDraft.objects.exists()


def test_a_limit_that_stood_in_an_old_draft_is_listed_and_stops_no_other_save(draft, office):
    old = MINIMUM + '\n[[check]]\nid = "old"\npoint = "{}"\nkind = "measured"\ntext = "Old."\n'.format(
        next(row["id"] for row in rows(draft, "activity") if row.get("point"))
    )
    old += 'limit = {compare = "at most", value = -5, unit = "mm"}\n'
    SequenceDraft.objects.filter(pk=draft.pk).update(text=old)
    draft.refresh_from_db()
    assert "impossible limit" in {one.lint for one in drafting.find_faults(draft)}
    number, table = longer(draft, rows(draft, "activity")[0]["id"], 9)
    drafting.put_row(draft, "activity", number, table, office.planner, draft.revision)
    assert draft.revision == 2


def test_a_change_is_told_by_names_and_in_words(draft):
    tables = drafting.read_tables(draft)
    tables["activity"][1]["after"] = [{"id": tables["activity"][0]["id"], "type": "SS", "lag": 2}]
    measured = next(one for one in tables["check"] if one.get("limit"))
    measured["limit"] = {
        "compare": "between",
        "value": 3,
        "high": {"value": 5},
        "unit": "mm",
        "source": "mine",
    }
    detail = tables["detail"][0]
    detail["covered_by"] = [*detail["covered_by"], tables["activity"][-1]["id"]]
    detail["name"] = "Called otherwise"
    names = {one["id"]: one["name"] for one in tables["activity"]}
    found = compare_texts(draft.text, drafting.write_tables(tables, draft.text)).rows
    told = {
        field.label: field.after
        for kind in ("activity", "detail", "check")
        for change in found[kind]
        for field in change.fields
    }
    assert told["follows"] == f"{tables['activity'][0]['name']}, start to start, +2 half-days"
    assert told["buried by"] == ", ".join(names[key] for key in detail["covered_by"])
    assert "detail" not in told, "a check of a detail that is called otherwise is no other check"
    assert told["limit"] == "between 3 and 5 mm; source: mine"
