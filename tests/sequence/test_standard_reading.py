"""Reading a standard sequence: what is malformed is refused with file, entry and remedy."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from coordination.sequence.standard import FeatureErrors, SequenceError, read_sequence
from tests.sequence.planted import SOUND, plant


def test_sound_text_is_read():
    sequence = read_sequence(SOUND)
    assert [activity.id for activity in sequence.activities] == ["frame", "extra", "H", "lining"]
    assert [(link.predecessor, link.successor, link.lag) for link in sequence.relationships] == [
        ("frame", "extra", 0),
        ("extra", "H", 1),
        ("H", "lining", 2),
    ]
    assert sequence.checks[0].point == "H", "a check of a detail is judged at the detail's point"
    assert str(sequence.checks[0].places) == "wet", "and in its places"


def test_path_is_read_and_named_in_refusals(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_text(SOUND, encoding="utf-8")
    assert read_sequence(path).file == "mine.toml"
    path.write_text(SOUND.replace("half_days = 4", "half_days = -4"), encoding="utf-8")
    with pytest.raises(
        SequenceError, match=r"^mine.toml, activity 'frame': 'half_days' is -4; give 0 or more"
    ):
        read_sequence(path)


def test_missing_file_and_wrong_encoding_are_refused(tmp_path: Path):
    with pytest.raises(SequenceError, match=r"gone.toml, file: cannot be read"):
        read_sequence(tmp_path / "gone.toml")
    odd = tmp_path / "odd.toml"
    odd.write_bytes(b'name = "\xff"')
    with pytest.raises(SequenceError, match="UTF-8"):
        read_sequence(odd)


def test_text_that_is_no_toml_is_refused_with_its_line():
    with pytest.raises(SequenceError, match=r"is no TOML: .*line 2"):
        read_sequence('key = "a"\n[[activity]\n')


@pytest.mark.parametrize(
    ("old", "new", "entry", "words"),
    [
        ('key = "tiny"', "", "file", "'key' is missing"),
        ("number = 1", 'number = "1"', "file", "give a whole number"),
        ("number = 1", "number = 0", "file", "give 1 or more"),
        ("number = 1", "number = 1\nnumbr = 2", "file", "did you mean 'number'?"),
        ('key = "framer"', 'key = "framer!"', "trade 'framer!'", "letters, digits"),
        ('key = "liner"', 'key = "framer"', "trade 'framer'", "is there twice"),
        ('id = "extra"', 'id = "lining"', "activity 'lining'", "is there twice"),
        ('name = "Extra frame"', f'name = "{"x" * 121}"', "activity 'extra'", "say it in 120 or fewer"),
        ('key = "room"', f'key = "{"x" * 21}"', f"place_kind '{'x' * 21}'", "up to 20 letters"),
        ("half_days = 4", "half_days = 4.5", "activity 'frame'", "give a whole number"),
        ("half_days = 4", "half_days = true", "activity 'frame'", "give a whole number"),
        ("half_days = 4", "half_days = 0", "activity 'frame'", "work of 0 half-days"),
        ("half_days = 4", "halfdays = 4", "activity 'frame'", "'half_days' is missing"),
        ("stake = true", "steak = true", "activity 'lining'", "did you mean 'stake'?"),
        ('point = "hold"', 'point = "stop"', "activity 'H'", "choose from hold, hold from photographs"),
        ('walker = "supervisor"', "", "activity 'H'", "a point without 'walker'"),
        ('point = "hold"\nwalker = "supervisor"\n', "", "activity 'H'", "work without 'trade'"),
        ('walker = "supervisor"', 'walker = "supervisor"\ntrade = "framer"', "activity 'H'", "no trade"),
        ('point = "hold"', 'point = "witness"', "activity 'H'", "give 0"),
        ('visit = "frame"', 'visit = "frame"\nnotice = 2', "activity 'frame'", "belong to points"),
        ('{id = "frame"}', '{id = "extra"}', "activity 'extra', after 'extra'", "it follows itself"),
        (
            '{id = "frame"}',
            '{id = "frame", typ = "SS"}',
            "activity 'extra', after 'frame'",
            "did you mean 'type'?",
        ),
        (
            '{id = "frame"}',
            '{id = "frame", type = "XX"}',
            "activity 'extra', after 'frame'",
            "FS, SS, FF, SF",
        ),
        (
            '{id = "frame"}',
            '{id = "frame"}, {id = "frame", lag = 2}',
            "activity 'extra'",
            "two relationships FS",
        ),
        ('after = [{id = "frame"}]', 'after = ["frame"]', "activity 'extra'", "[[after]]"),
        (
            "stake = true",
            "delivery = {order_lead = 2, cut_off = 4}",
            "activity 'lining', delivery",
            "cut-off",
        ),
        ('key = "storeys"', 'key = "Storeys"', "feature 'Storeys'", "conditions can name it"),
        ('key = "storeys"', 'key = "not"', "feature 'not'", "conditions can name it"),
        ("most = 3\ndefault = 1", "most = 3\ndefault = 4", "feature 'storeys'", "give 3 or less"),
        ('default = "metal"', 'default = "slate"', "feature 'roof'", "choose from metal, tiles"),
        ('kind = "choice"', 'kind = "text"', "feature 'roof'", "'choices' belong to a choice"),
        ('when = "storeys >= 3"', 'when = "storeys >= "', "not_covered 'storeys'", "character 12"),
        ('when = "storeys >= 3"\n', "", "not_covered 'storeys'", "'when' is missing"),
        ('frame = "Frame"', "frame = 1", "file", "visit 'frame'"),
        ('places = "wet"', 'places = "wet and"', "detail 'd1'", "'places' is 'wet and'"),
        ('installed_by = ["frame", "extra"]', 'installed_by = ["frame", "frame"]', "detail 'd1'", "twice"),
        ('kind = "measured"', 'kind = "guessed"', "check 'c1'", "choose from seen, counted, measured"),
        ('kind = "measured"', 'kind = "seen"', "check 'c1'", "counted and measured checks have a limit"),
        ('"photo with tape"', '"video"', "check 'c1'", "choose from photo"),
        ('compare = "at least"', 'compare = "more than"', "check 'c1', limit", "choose from at least"),
        ('compare = "at least"', 'compare = "between"', "check 'c1', limit", "'high' or 'spread'"),
        ('feature = "batt", unit', 'feature = "batt", value = 3, unit', "check 'c1', limit", "one source"),
        ('feature = "batt", unit', 'calculation = "eave", unit', "check 'c1', limit", "with its result"),
        ('unit = "mm"}', 'unit = "mm", step = 0}', "check 'c1', limit", "above 0"),
        ('unit = "mm"}', 'unit = "mm", step = nan}', "check 'c1'", "'limit' holds nan; give a plain number"),
        ("most = 3\ndefault = 1", "most = inf\ndefault = 1", "feature 'storeys'", "'most' holds inf"),
        ('unit = "mm"}', 'unit = "mm", sure = "quite"}', "check 'c1', limit", "common practice"),
        ('detail = "d1"\n', "", "check 'c1'", "neither 'detail' nor 'point'"),
        ('id = "c1"', 'id = "c1"\nsafety = true\nremote = true', "check 'c1'", "safety"),
        ('id = "c1"', 'id = "c1"\nsampling = {least = 3}', "check 'c1', sampling", "a sample of everything"),
        ('id = "c1"', 'id = "c1"\nsampling = {share = 2}', "check 'c1', sampling", "up to 1"),
        (
            'id = "c1"',
            'id = "c1"\nsampling = {number = 1, every = 6}',
            "check 'c1', sampling",
            "'every' and 'along' belong together",
        ),
        ("sets = {batt = 90}", "sets = {bat = 90}", "option 'thin'", "no feature 'bat'"),
    ],
)
def test_malformed_row_is_refused_by_name(old: str, new: str, entry: str, words: str):
    with pytest.raises(SequenceError) as refused:
        read_sequence(plant((old, new)), "mine.toml")
    assert refused.value.file == "mine.toml"
    assert refused.value.entry == entry
    assert words in str(refused.value)
    assert refused.value.remedy


def test_sequence_without_activities_is_refused():
    with pytest.raises(SequenceError, match="no activity"):
        read_sequence('key = "a"\nnumber = 1\nname = "A"')


def test_refusals_survive_a_trip_between_processes():
    for error in (SequenceError("f", "e", "m", "r"), FeatureErrors("f", {"pitch": "too flat"})):
        assert str(pickle.loads(pickle.dumps(error))) == str(error)  # noqa: S301  # our own bytes
