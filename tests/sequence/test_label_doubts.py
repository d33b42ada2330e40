"""R and thickness on a bag: batts have conductivities of 0.033 to 0.055 W/(mK) (handbooks, from memory)."""

import pytest

from coordination.sequence.label_doubts import doubt_labels
from coordination.sequence.standard import read_sequence, resolve
from tests.sequence.test_standard_shipped import FOLDER


@pytest.mark.parametrize("name", sorted(path.stem for path in FOLDER.glob("*.toml")))
def test_no_shipped_default_is_in_doubt(name):
    assert doubt_labels(resolve(read_sequence(FOLDER / f"{name}.toml"), {}).features) == []


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"wall_batt_r": 5.0, "wall_batt_mm": 90}, "Wall batts: R5 in 90 mm means 0.018 W/(mK)"),
        ({"ceiling_batt_r": 10.0, "ceiling_batt_mm": 100}, "Ceiling batts: R10 in 100 mm means 0.010"),
        ({"perimeter_batt_r": 0.5, "perimeter_batt_mm": 90}, "Perimeter batts: R0.5 in 90 mm means 0.180"),
    ],
)
def test_a_label_that_no_batt_has_is_doubted_and_named(given, words):
    [doubt] = doubt_labels(given)
    assert doubt.startswith(words)


def test_features_that_a_sequence_does_not_ask_for_are_not_doubted():
    assert doubt_labels({"wall_batt_r": 2.5}) == []
