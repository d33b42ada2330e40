"""The eave of the shipped sequences: what a heel of this height leaves room for, and nothing else."""

from __future__ import annotations

import re

import pytest

from coordination.sequence.library.entry import ResolvedSequence
from coordination.sequence.standard import FeatureErrors, limit_for, lint, lint_entry, read_sequence, resolve
from tests.sequence.test_standard_shipped import FOLDER

NAMES = ("brick_veneer_90", "two_storey_brick_veneer_90", "timber_light_clad_90", "steel_frame")
SEQUENCES = {name: read_sequence(FOLDER / f"{name}.toml") for name in NAMES}
VENEER = SEQUENCES["brick_veneer_90"]
NOTHING_LONG = re.compile(r"(?<![\d.,])0 mm")


def words_of(resolved: ResolvedSequence) -> list[str]:
    said = [words for one in resolved.details for words in (one.name, one.instruction, *one.tells.values())]
    return said + [one.text for one in resolved.checks]


@pytest.mark.parametrize("name", NAMES)
def test_raised_heel_has_the_full_batt_to_the_wall_line_and_no_strip(name: str) -> None:
    # Where heel = batt + airway the triangle of the eave has no length: 290 + 25 = 315 mm.
    for options in [[], *[[one.key] for one in SEQUENCES[name].options]]:
        resolved = resolve(SEQUENCES[name], {"heel_height": 315}, options)
        assert [str(one) for one in lint(resolved) if one.level == "refused"] == []
        details = {one.id for one in resolved.details}
        assert {"d29", "d30"} <= details
        assert not {"d23", "d24"} & details
        checks = {one.id for one in resolved.checks}
        assert not [key for key in checks if key.startswith(("d23", "d24", "h5-perimeter"))]
        eave = [one for one in resolved.details if one.id in ("d29", "d30")]
        assert not [one.instruction for one in eave if NOTHING_LONG.search(one.instruction)]
        # Nobody is told of a perimeter batt but to be told that there is none.
        told = [words for words in words_of(resolved) if "perimeter batt" in words.lower()]
        assert all("no perimeter batt" in words for words in told), told
        airway = next(one for one in resolved.checks if one.id.startswith("d29-airway"))
        assert airway.evidence == ("photo with tape",)
        assert airway.point == ("H5" if options == ["from-above"] else "P2")
        limit = limit_for(airway, resolved.features)
        assert limit is not None
        assert (limit.compare, limit.value) == ("at least", 25)


@pytest.mark.parametrize(("heel", "strip"), [(100, True), (313, True), (314.7, False), (315, False)])
def test_strip_ends_where_a_tape_can_no_longer_show_its_width(heel: float, strip: bool) -> None:
    # (315 - 314.7) / tan 22.5 = 0.7 mm.
    assert ("d23" in {one.id for one in resolve(VENEER, {"heel_height": heel}).details}) is strip


def said_of_strip(heel: float) -> str:
    resolved = resolve(VENEER, {"heel_height": heel})
    return next(one.instruction for one in resolved.details if one.id == "d23")


def test_perimeter_batt_is_told_with_what_fits_at_the_wall_line() -> None:
    # Standard trusses leave about 100 mm at the plate (BRANZ Build): less 25 mm of air 75 mm of batt fit
    # there, and a batt of 90 mm from its own set-back, (90 + 25 - 100) / tan 22.5 = 36 mm.
    assert "At the wall line 75 mm fit under that air, the whole batt from 36 mm inside it" in said_of_strip(
        100
    )
    # From 115 mm on the whole 90 mm fit at the line, and nobody is told of a distance of nothing.
    for heel in (115, 150):
        whole = said_of_strip(heel)
        assert "the whole batt fits from the wall line on: no taper" in whole
        assert not NOTHING_LONG.search(whole)
    # What is built as told meets the check of the airway: the roof at the line, less the batt that is told.
    for heel in (60, 100, 114, 150):
        fits = re.search(r"At the wall line (\d+) mm fit", said_of_strip(heel))
        assert (fits is None) is (heel >= 115)
        resolved = resolve(VENEER, {"heel_height": heel})
        limit = limit_for(next(one for one in resolved.checks if one.id == "d23-airway"), resolved.features)
        assert limit is not None
        assert limit.met_by(heel - (int(fits[1]) if fits else 90))


@pytest.mark.parametrize(
    ("features", "least"), [({"heel_height": 0}, 25), ({"heel_height": 40, "airway": 40}, 40)]
)
def test_heel_that_leaves_no_batt_over_the_plate_is_refused_by_name(features, least) -> None:
    for name in NAMES:
        with pytest.raises(FeatureErrors) as refused:
            resolve(SEQUENCES[name], features)
        assert f"give more than {least} mm" in refused.value.errors["heel_height"]


def test_words_in_brackets_are_told_where_they_hold_and_what_they_ask_for_must_be_there() -> None:
    told = VENEER.text.replace(
        "[whole_from < 1: the whole batt fits]", "[whole_form < 1: the whole batt fits]"
    )
    assert told != VENEER.text
    findings = lint_entry(read_sequence(told))
    assert any("whole_form" in str(one) and "d23-airway" in one.entry for one in findings), findings
    for name in NAMES:
        assert not [
            words for words in words_of(resolve(SEQUENCES[name], {})) if "[" in words or "(0:" in words
        ]


def test_heel_to_the_chord_is_raised_by_the_chord() -> None:
    # 315 - 90 / cos 22.5 = 217.6 mm: from 218 mm on no set-back.
    for heel, raised in ((217, False), (218, True)):
        resolved = resolve(VENEER, {"heel_height": heel, "heel_line": "chord"})
        assert ("d30" in {one.id for one in resolved.details}) is raised


def test_condition_of_a_row_may_ask_for_its_own_numbers_and_not_for_another_s() -> None:
    told = VENEER.text.replace('when = "set_back < 1"', 'when = "setback < 1"', 1)
    findings = lint_entry(read_sequence(told))
    assert [(one.lint, one.entry) for one in findings] == [("unknown feature", "detail 'd29'")]
    assert "did you mean 'set_back'?" in findings[0].remedy
    elsewhere = VENEER.text.replace('when = "slab_edge_insulation"', 'when = "set_back < 1"', 1)
    assert elsewhere != VENEER.text
    assert [one.entry for one in lint_entry(read_sequence(elsewhere))] == ["check 'd01-edge'"]


def test_number_that_a_condition_asks_for_and_nobody_can_reckon_names_row_and_feature() -> None:
    told = VENEER.text.replace(
        "least = 3\nmost = 60\ndefault = 22.5", "least = 0\nmost = 90\ndefault = 22.5", 1
    )
    assert told != VENEER.text
    with pytest.raises(FeatureErrors) as refused:
        resolve(read_sequence(told), {"pitch": 90})
    assert "pitch" in refused.value.errors
    assert refused.value.row == "detail 'd23'"


@pytest.mark.parametrize(("metres", "places"), [(40, 7), (36, 6), (36.5, 7), (4, 1)])
def test_airway_is_looked_at_every_six_metres_of_the_eaves(metres: float, places: int) -> None:
    # Common practice: one for each side, and one for each 6 m.
    for features, key in (({}, "d23-airway"), ({"heel_height": 315}, "d29-airway")):
        resolved = resolve(VENEER, {"eaves_length": metres, **features})
        sampling = next(one for one in resolved.checks if one.id == key).sampling
        assert (sampling.number, sampling.least) == (1, places)


def test_parts_of_a_point_look_at_the_airway_as_often_together() -> None:
    resolved = resolve(SEQUENCES["two_storey_brick_veneer_90"], {"eaves_length": 60}, ["from-above"])
    parts = [one for one in resolved.checks if one.id.startswith("d23-airway-")]
    assert {one.section for one in parts} == {"Upper floor", "Ground floor", "Garage"}
    # 60 / 6 = 10 in the house, shared out over three zones: 4 each.
    assert {one.sampling.least for one in parts} == {4}


def test_sample_along_what_is_no_length_of_the_house_is_refused() -> None:
    for along, message in (("eave_length", "is unknown"), ("roof_cover", "is no number")):
        told = VENEER.text.replace('along = "eaves_length"', f'along = "{along}"', 1)
        findings = lint_entry(read_sequence(told))
        assert [(one.entry, one.lint) for one in findings] == [("check 'd23-airway'", "unknown feature")]
        assert message in findings[0].message
