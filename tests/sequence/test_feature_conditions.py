"""A feature that only some houses are asked for: the others keep its default, whatever was given."""

import pytest

from coordination.sequence.library.features import applies, check_features
from coordination.sequence.library.reading import read_document
from coordination.sequence.library.writing import write_document
from coordination.sequence.standard import FeatureErrors, SequenceError, read_sequence, resolve
from tests.sequence.test_standard_shipped import FOLDER

TABLES = read_document((FOLDER / "bare_minimum.toml").read_text(encoding="utf-8"), "bare")
STOREYS = {"key": "levels", "label": "Levels", "kind": "number", "whole": True, "default": 1, "least": 1}
STAIR = {"key": "stair", "label": "Stair", "kind": "number", "unit": "mm", "default": 900, "least": 800}
ASKED = {**STAIR, "when": "levels >= 2", "source": "common practice"}


def entry(*rows, **more):
    return read_sequence(write_document({**TABLES, "feature": [*TABLES["feature"], *rows], **more}))


def test_only_a_house_for_which_the_condition_holds_is_asked():
    # The condition may name a feature that stands below it.
    sequence = entry(ASKED, STOREYS)
    assert check_features(sequence, {"levels": 2, "stair": 1000})["stair"] == 1000
    assert check_features(sequence, {"levels": 1, "stair": 1000})["stair"] == 900
    assert check_features(sequence, {"levels": 1, "stair": 5})["stair"] == 900, (
        "what is not asked is not judged"
    )
    with pytest.raises(FeatureErrors, match="5 mm is too little"):
        check_features(sequence, {"levels": 2, "stair": 5})
    asked = next(one for one in sequence.features if one.key == "stair")
    assert applies(asked, {"levels": 2})
    assert not applies(asked, {"levels": 1})
    assert list(check_features(sequence, {})) == [one.key for one in sequence.features]


def test_what_an_option_fixes_holds_although_nobody_is_asked():
    option = {"key": "wide", "name": "Wide", "what": "A wide stair.", "sets": {"stair": 1100}}
    sequence = entry(STOREYS, ASKED, option=[*TABLES.get("option", []), option])
    assert resolve(sequence, {}, ["wide"]).features["stair"] == 1100
    assert resolve(sequence, {}).features["stair"] == 900


def test_a_place_has_all_its_attributes():
    attributes = [*TABLES.get("place_attribute", []), {**STAIR, "key": "sill", "when": "levels > 1"}]
    with pytest.raises(SequenceError, match=r"place_attribute 'sill'.*leave 'when' to features"):
        entry(STOREYS, place_attribute=attributes)
