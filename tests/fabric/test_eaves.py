"""Set-back, heel and the perimeter strip."""

import math

import pytest

from coordination.fabric import FabricError, calculate
from coordination.fabric.eaves import chord_rise, full_heel, perimeter_strip, room_for_batt, set_back
from coordination.fabric.gaps import parallel_r

BATTS = (90, 200, 250, 290)
# Straight roof, 25 mm of air (derived): heel and pitch give the set-back of each batt in mm.
TABLE = {
    (60, 15): (205, 616, 802, 952),
    (60, 22.5): (133, 398, 519, 616),
    (60, 25): (118, 354, 461, 547),
    (100, 15): (56, 467, 653, 802),
    (100, 22.5): (36, 302, 422, 519),
    (100, 25): (32, 268, 375, 461),
    (150, 15): (0, 280, 467, 616),
    (150, 22.5): (0, 181, 302, 398),
    (150, 25): (0, 161, 268, 354),
}
CELLS = [
    (heel, pitch, batt, back)
    for (heel, pitch), row in TABLE.items()
    for batt, back in zip(BATTS, row, strict=True)
]


@pytest.mark.parametrize(("heel", "pitch", "batt", "back"), CELLS)
def test_set_back_of_every_batt_under_every_roof(heel, pitch, batt, back):
    done = calculate("eave", pitch=pitch, heel=heel, batt=batt, airway=25).result
    assert done["set_back"] == pytest.approx(back, abs=0.51)


@pytest.mark.parametrize(("heel", "pitch", "batt", "back"), CELLS)
def test_batt_just_fits_at_its_set_back(heel, pitch, batt, back):
    at = set_back(pitch, heel, batt, 25)
    room = room_for_batt(pitch, heel, 25, at)
    assert room == pytest.approx(max(batt, heel - 25))


@pytest.mark.parametrize(("batt", "heel"), [(200, 225), (250, 275), (290, 315)])
def test_raised_heel_needs_no_set_back(batt, heel):
    """By hand: batt and 25 mm of air, as at the wall line of a raised heel."""
    assert calculate("eave", pitch=22.5, heel=100, batt=batt).result["full_heel"] == heel
    assert set_back(22.5, heel, batt, 25) == 0


@pytest.mark.parametrize(("pitch", "rise"), [(15, 93.2), (22.5, 97.4), (25, 99.3)])
def test_chord_and_roof_differ_by_the_chord_over_the_cosine(pitch, rise):
    """90 mm chord (derived)."""
    assert chord_rise(pitch, 90) == pytest.approx(rise, abs=0.06)


def test_heel_measured_to_the_chord_is_the_same_roof_as_the_higher_heel_to_the_roof():
    to_roof = 100 + 90 / math.cos(math.radians(22.5))
    by_chord = calculate("eave", pitch=22.5, heel=100, batt=290, airway=25, line="chord", chord=90).result
    by_roof = calculate("eave", pitch=22.5, heel=to_roof, batt=290, airway=25).result
    assert by_chord["set_back"] == pytest.approx(float(by_roof["set_back"]))
    assert by_chord["full_heel"] == pytest.approx(315 - 97.4, abs=0.06)
    assert set_back(22.5, full_heel(22.5, 290, 25, "chord", 90), 290, 25, "chord", 90) == pytest.approx(
        0, abs=1e-9
    )


def test_heel_to_the_chord_needs_the_chord():
    with pytest.raises(FabricError) as refused:
        calculate("eave", pitch=22.5, heel=100, batt=290, line="chord")
    assert refused.value.input_name == "chord"


def test_seventy_five_millimetres_is_the_most_that_fits_at_a_hundred():
    """Standard trusses leave about 100 mm at the plate (BRANZ Build magazine; published, read)."""
    assert calculate("eave_room", pitch=22.5, heel=100, airway=25).result["thickness"] == 75


@pytest.mark.parametrize(("heel", "pitch"), sorted(TABLE))
def test_perimeter_batt_is_cut_to_what_fits_at_the_line_and_whole_from_its_own_set_back(heel, pitch):
    """Its own set-backs are the first column of the table; at the line heel less 25 mm of air is left."""
    done = calculate("perimeter", pitch=pitch, heel=heel, perimeter=90, airway=25).result
    assert done["room"] == heel - 25
    assert done["whole_from"] == pytest.approx(TABLE[heel, pitch][0], abs=0.51)


@pytest.mark.parametrize(("heel", "line", "least"), [(0, "roof", 25), (25, "roof", 25), (20, "chord", 62.1)])
def test_heel_that_leaves_nothing_over_the_plate_is_refused(heel, line, least):
    """The roof lies 35 / cos 22.5 = 37.9 mm over the underside of that chord: 100 - 37.9 mm are missing."""
    with pytest.raises(FabricError, match=f"give more than {least} mm") as refused:
        calculate(
            "perimeter",
            pitch=22.5,
            heel=heel,
            perimeter=90,
            airway=25 if line == "roof" else 100,
            line=line,
            chord=35,
        )
    assert refused.value.input_name == "heel"


def test_airway_left_out_is_the_twenty_five_of_the_source():
    """25 mm to a flexible underlay: BRANZ Build magazine (published, read)."""
    assert calculate("eave", pitch=22.5, heel=100, batt=290).inputs["airway"] == 25


@pytest.mark.parametrize(
    ("pitch", "back", "area", "share", "filled", "bare"),
    [
        (15, 802, 48.76, 0.203, 4.73, 1.09),
        (22.5, 519, 32.14, 0.134, 5.10, 1.61),
        (25, 461, 28.65, 0.119, 5.19, 1.77),
    ],
)
def test_perimeter_strip_of_a_twenty_by_twelve_house(pitch, back, area, share, filled, bare):
    """R6 ceiling over base 0.36, hips all round, heel 100; R2.5 in the strip, or nothing (derived)."""
    x = set_back(pitch, 100, 290, 25)
    assert round(x) == back
    strip, of_all = perimeter_strip(20, 12, x)
    assert strip == pytest.approx(area, abs=0.06)
    assert of_all == pytest.approx(share, abs=6e-4)
    with_batt = parallel_r([(of_all, 2.5 + 0.36), (1 - of_all, 6 + 0.36)]) - 0.36
    without = parallel_r([(of_all, 0.36), (1 - of_all, 6 + 0.36)]) - 0.36
    assert with_batt == pytest.approx(filled, abs=0.006)
    assert without == pytest.approx(bare, abs=0.006)
    assert calculate("strip", length=20, width=12, set_back=x).result["area"] == pytest.approx(strip)


def test_narrow_house_is_all_strip():
    assert perimeter_strip(20, 1.5, 800) == (30, 1)


@pytest.mark.parametrize("pitch", [0, -5, 90, 120])
def test_impossible_pitch_is_refused(pitch):
    with pytest.raises(FabricError, match="degrees") as refused:
        calculate("eave", pitch=pitch, heel=100, batt=290)
    assert refused.value.input_name == "pitch"
