"""Entries that include another: what they change, what a flattened text holds, and whose fault is named."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coordination.sequence.library.writing import write_document
from coordination.sequence.standard import SequenceError, flatten, lint, read_sequence, resolve
from tests.sequence.planted import SOUND, plant

HEAD = '# SOURCE. Common practice.\nkey = "own"\nnumber = 1\nname = "Own"\n\n[include]\nentry = "base"\n'


def write_pair(folder: Path, rows: str, base: str = SOUND, head: str = HEAD) -> Path:
    (folder / "base.toml").write_text(base, encoding="utf-8")
    path = folder / "own.toml"
    path.write_text(head + rows, encoding="utf-8")
    return path


CHANGES = """
[include.removed]
activity = ["extra"]
visits = ["frame"]
option = ["thin"]

[include.added.visits]
carcass = "Carcass"

[[include.changed.activity]]
id = "frame"
visit = "carcass"
half_days = 6

[[include.changed.activity]]
id = "H"
also_after = [{id = "wait", lag = 1}]
no_longer_after = ["extra"]

[[include.changed.detail]]
id = "d1"
installed_by = ["frame"]

[[include.added.activity]]
id = "wait"
row_after = "frame"
name = "Wait"
trade = "framer"
visit = "carcass"
stage = "frame"
half_days = 1
after = [{id = "frame"}]

[[include.added.option]]
key = "thin"
name = "Thinner batt"
what = "A thinner batt."
sets = {batt = 75}
"""


def test_included_rows_are_changed_added_and_removed(tmp_path):
    sequence = read_sequence(write_pair(tmp_path, CHANGES))
    assert (sequence.key, sequence.name, sequence.number) == ("own", "Own", 1)
    assert [one.id for one in sequence.activities] == ["frame", "wait", "H", "lining"]
    assert sequence.activities[0].half_days == 6
    assert [one.predecessor for one in sequence.relationships] == ["frame", "wait", "H"]
    assert sequence.visit_names == {"carcass": "Carcass", "lining": "Lining"}
    assert resolve(sequence, {}, ["thin"]).features["batt"] == 75
    assert lint(resolve(sequence, {})) == []


def test_flattened_text_stands_alone_and_is_always_the_same(tmp_path):
    path = write_pair(tmp_path, CHANGES)
    text = flatten(path)
    assert text == flatten(path)
    assert text.startswith("# SOURCE. Common practice.\n#\n# It includes 'base':")
    (tmp_path / "base.toml").unlink()
    alone = read_sequence(text, "own.toml")
    assert alone.text == text
    assert "include" not in tomllib.loads(text)
    again = tmp_path / "again.toml"
    again.write_text(text, encoding="utf-8")
    assert flatten(again) == text, "a text that includes nothing is its own text"
    assert read_sequence(again, "own.toml") == alone


def test_included_entry_may_include_another(tmp_path):
    write_pair(tmp_path, CHANGES)
    third = tmp_path / "third.toml"
    third.write_text(HEAD.replace('"base"', '"own"').replace('"own"', '"third"', 1), encoding="utf-8")
    assert third.read_text(encoding="utf-8").count("third") == 1
    sequence = read_sequence(third)
    assert sequence.key == "third"
    assert [one.id for one in sequence.activities] == ["frame", "wait", "H", "lining"]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ('[include.removed]\nactivity = ["roof"]', "no activity 'roof' to change or remove"),
        ('[include.removed]\nvisits = ["roof"]', "no visit 'roof' to remove"),
        ('[include.removed]\nroofs = ["roof"]', "include, removed: 'roofs' is unknown here"),
        ('[[include.changed.trade]]\nkey = "roofer"', "no trade 'roofer' to change or remove"),
        ('[[include.added.trade]]\nkey = "liner"\nname = "L"', "adds trade 'liner', which is there already"),
        ('[[include.changed.activity]]\nid = "H"\nno_longer_after = ["lining"]', "'H' does not follow"),
        ('[[include.changed.activity]]\nid = "frame"\nhalf_days = "six"', "activity 'frame': 'half_days'"),
        ('[[include.changed.activity]]\nid = "frame"\nhalfdays = 6', "did you mean 'half_days'?"),
        ('[[include.added.roof]]\nid = "r"', "include, added: 'roof' is unknown here"),
        ('[[activity]]\nid = "r"', "write added rows as include.added.activity"),
        ('[[include.added.zone]]\nkey = "up"\nname = "Up"\nrow_after = "attic"', "no zone 'attic'"),
    ],
)
def test_fault_of_the_including_entry_names_it(tmp_path, rows, words):
    with pytest.raises(SequenceError) as refused:
        read_sequence(write_pair(tmp_path, rows))
    assert refused.value.file == "own.toml"
    assert words in str(refused.value)


@pytest.mark.parametrize(
    "change",
    [
        ('name = "Frame walk"', "name = 3"),
        ("sets = {batt = 90}", "sets = {bat = 90}"),
        ('key = "tiny"', 'key = "tiny" 5'),
    ],
)
def test_fault_of_the_included_entry_names_that_one(tmp_path, change):
    with pytest.raises(SequenceError) as refused:
        read_sequence(write_pair(tmp_path, "", plant(change)))
    assert refused.value.file == "base.toml"


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("gone", "there is no 'gone.toml' beside it"),
        ("own", "included in a circle"),
        ("../base", "give the name of a file beside this one"),
        ("/etc/hosts", "give the name of a file beside this one"),
        ("", "'entry' is empty"),
    ],
)
def test_include_that_leads_nowhere_is_refused(tmp_path, entry, words):
    path = write_pair(tmp_path, "", head=HEAD.replace('entry = "base"', f'entry = "{entry}"'))
    with pytest.raises(SequenceError) as refused:
        read_sequence(path)
    assert (refused.value.file, words in str(refused.value)) == ("own.toml", True), str(refused.value)


def test_text_alone_cannot_include():
    with pytest.raises(SequenceError, match="a text has no files beside it"):
        read_sequence(HEAD)


def test_what_followed_a_removed_activity_is_named_by_the_lints(tmp_path):
    sequence = read_sequence(write_pair(tmp_path, '[include.removed]\nactivity = ["extra"]'))
    found = {(one.entry, one.message) for one in lint(resolve(sequence, {}))}
    assert ("activity 'H'", "predecessor 'extra' is unknown") in found


# ---------------------------------------------------------------- writing; the oracle is the standard library

KEYS = st.text(min_size=1, max_size=8)
PLAIN = st.one_of(
    st.booleans(), st.integers(-(2**60), 2**60), st.floats(allow_nan=False), st.text(max_size=20)
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)),
    max_leaves=8,
)


@given(st.dictionaries(KEYS, VALUES, max_size=5))
def test_whatever_is_written_is_read_back(document):
    assert tomllib.loads(write_document(document, "two\nlines")) == document


def test_long_lists_and_rows_of_options_are_written_one_below_the_other():
    row = {"id": "a", "after": [{"id": "b"}], "words": ["x" * 60, "y" * 60]}
    document = {"key": "k", "option": [{"key": "o", "added": {"activity": [row]}, "sets": {"n": 1}}]}
    text = write_document(document)
    assert tomllib.loads(text) == document
    assert "[[option.added.activity]]\n" in text
    assert max(map(len, text.splitlines())) < 80


def test_a_date_is_no_value_of_an_entry(tmp_path):
    rows = '[[include.changed.activity]]\nid = "frame"\nhalf_days = 2026-01-01'
    with pytest.raises(SequenceError, match="'half_days' is datetime"):
        read_sequence(write_pair(tmp_path, rows))
