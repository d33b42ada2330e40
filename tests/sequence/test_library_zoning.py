"""Points that are released zone by zone, and checks that would be lost between the parts."""

from __future__ import annotations

import pytest

from coordination.sequence.standard import SequenceError, lint, read_sequence, resolve
from tests.sequence.planted import plant

ZONES = ('point = "hold"', 'point = "hold"\nzones = ["ground"]')
SAMPLED = ('evidence = ["photo with tape"]', "sampling = {number = 1, least = 5}")


def checks_of(*changes: tuple[str, str]):
    return read_sequence(plant(*changes), "mine.toml").checks


def test_check_is_asked_once_for_each_zone_and_once_for_the_rest():
    ground, rest = checks_of(ZONES, SAMPLED)
    assert (ground.id, ground.section) == ("c1-ground", "Ground floor")
    assert (rest.id, rest.section) == ("c1", "Whole house")
    values = {"wet": True, "zone": "ground"}
    assert ground.places is not None
    assert rest.places is not None
    assert ground.places.true_for(values)
    assert not rest.places.true_for(values)
    assert rest.places.true_for({"wet": True, "zone": "attic"})
    assert not rest.places.true_for({"wet": False, "zone": "attic"})


def test_least_sample_of_the_house_is_shared_out_over_its_zones():
    upper = ('[[stage]]\nkey = "frame"', '[[zone]]\nkey = "upper"\nname = "Up"\n\n[[stage]]\nkey = "frame"')
    two = (ZONES[0], 'point = "hold"\nzones = ["upper", "ground"]')
    found = checks_of(upper, two, SAMPLED)
    assert [(one.section, one.sampling.least) for one in found] == [
        ("Up", 3),
        ("Ground floor", 3),
        ("Whole house", 5),
    ]


def test_what_is_asked_once_stands_in_the_whole_house():
    (found,) = checks_of(ZONES, ('id = "c1"', 'id = "c1"\nonce = true'))
    assert (found.id, found.section) == ("c1", "Whole house")
    assert lint(resolve(read_sequence(plant(ZONES)), {})) == []


@pytest.mark.parametrize(
    ("field", "words"),
    [
        ('zones = ["attic"]', "zone 'attic' is unknown; name one of ground"),
        ('zones = ["ground"]\nsections = ["wiring"]', "both 'sections' and 'zones'"),
    ],
)
def test_zones_that_lead_nowhere_are_refused(field, words):
    with pytest.raises(SequenceError, match=words) as refused:
        checks_of(('point = "hold"', f'point = "hold"\n{field}'))
    assert refused.value.entry == "activity 'H'"


def test_work_has_no_zones():
    with pytest.raises(SequenceError, match="belong to points"):
        checks_of(("stake = true", 'stake = true\nzones = ["ground"]'))


def test_check_in_none_of_the_parts_is_refused():
    # A hold that is released part by part lifts with its last part: such a check would never be asked.
    sequence = read_sequence(plant(('point = "hold"', 'point = "hold"\nsections = ["frame", "tie-down"]')))
    (found,) = lint(resolve(sequence, {}))
    assert (found.level, found.lint, found.entry) == ("refused", "check outside the parts", "check 'c1'")
    assert "frame, tie-down" in found.remedy
