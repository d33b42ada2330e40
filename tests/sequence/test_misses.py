"""What a miss costs a house: said by the sequence, kept with the house's details, told in one sentence.

The physics is judged in the tests of `coordination.fabric`; here one figure is reckoned by hand after
ISO 6946:2017 annex F (air voids, level 2: 0.04 W/m²K times the square of the layer's share of R).
"""

from __future__ import annotations

import pytest

from coordination.fabric import find_limit
from coordination.people.refusals import BadInput
from coordination.sequence.misses_told import tell_miss, weight_of
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.standard import lint_entry, miss_of, places_for, read_sequence, resolve
from tests.sequence.brick_veneer import ENTRY
from tests.sequence.test_standard_shipped import FOLDER

SHIPPED = sorted(path.stem for path in FOLDER.glob("*.toml"))


def misses(name, *options, **features):
    resolved = resolve(read_sequence(FOLDER / f"{name}.toml"), features, options)
    found = {detail.id: miss_of(detail, resolved.features) for detail in resolved.details}
    return {key: miss for key, miss in found.items() if miss}


def test_batts_off_the_plane_cost_what_iso_6946_says():
    r, base = 6.0, find_limit("ceiling.base_r").value
    stored = misses("brick_veneer_90", ceiling_batt_r=r)["d25"]
    assert stored["loss"] == pytest.approx(10 * 0.04 * (r / (r + base)) ** 2, abs=0.001)


def test_the_price_follows_the_house():
    thin = misses("brick_veneer_90", ceiling_batt_r=4.0, ceiling_batt_mm=195)
    thick = misses("brick_veneer_90", ceiling_batt_r=6.0)
    assert thin["d06"]["share"] < thick["d06"]["share"], "a thicker batt is crushed more by the same deck"
    assert thin["d23"]["inputs"] != thick["d23"]["inputs"], "another set-back, another strip"


def test_a_house_without_a_set_back_has_no_strip_to_leave_bare():
    assert "d23" not in misses("brick_veneer_90", heel_height=600)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_detail_of_every_shipped_sequence_says_what_it_costs_to_leave_it(name):
    entry = read_sequence(FOLDER / f"{name}.toml")
    for options in [(), *((one.key,) for one in entry.options)]:
        resolved = resolve(entry, {}, options)
        stored = {one.id: miss_of(one, resolved.features) for one in resolved.details}
        assert [key for key, miss in stored.items() if not miss] == [], options
        for key, miss in stored.items():
            assert miss["loss"] > 0 or miss["rank"] != "heat", key
            told = tell_miss(miss)
            assert told is not None
            assert not told.words.startswith("Left undone, this loses "), "each kind has its own words"


def test_between_members_of_steel_the_path_is_told_and_freedom_from_mould_is_not_claimed():
    steel = misses("steel_frame", wall_batt_r=2.5)
    bay = steel["d16"]
    assert bay["mould"] is None
    told = tell_miss(bay)
    assert told is not None
    assert "midway between the steel" in told.words
    assert told.words.endswith("and further beside the steel, where mould is not judged.")
    assert steel["d26"]["mould"] is True, "too cold even between the members"
    assert {key for key, miss in steel.items() if miss["rank"] == "metal"} == {"d02", "d18", "d41"}
    assert "d43" in misses("steel_frame", "light-clad")


def test_nothing_of_a_house_without_brick_is_told_of_brick():
    for name, options in (("timber_light_clad_90", ()), ("steel_frame", ("light-clad",))):
        words = [words for miss in misses(name, *options).values() for words in miss["assumptions"]]
        assert words
        assert not any("brick" in one for one in words), name


def test_below_brick_and_above_cladding_are_reckoned_each_with_its_own_leaf():
    """By hand after ISO 6946: film, 110 mm of brick at 0.65 and a still cavity; still air before the wrap."""
    r, inside, air = 2.5, 0.0588 + 0.13, 0.18
    found = misses("two_storey_brick_veneer_90", wall_batt_r=r)
    for key, outside in (("d16", 0.04 + 0.1692 + 0.18), ("d38", 0.3892), ("d16-upper", 0.13), ("d31", 0.13)):
        loss = 0.405 * 2.4 * (1 / (outside + air + inside) - 1 / (outside + r + inside))
        assert found[key]["loss"] == pytest.approx(loss, abs=0.002), key
    assert "brick veneer" in " ".join(found["d16"]["assumptions"])
    assert "light cladding" in " ".join(found["d16-upper"]["assumptions"])


def test_an_own_figure_for_the_outer_leaf_prevails_where_it_is_given_and_is_said():
    own = {"upper_wall_outside_r_by": "own figure", "upper_wall_outside_r": 0.9}
    usual, given = misses("two_storey_brick_veneer_90"), misses("two_storey_brick_veneer_90", **own)
    assert given["d16"] == usual["d16"]
    assert given["d16-upper"]["loss"] < usual["d16"]["loss"] < usual["d16-upper"]["loss"]
    assert (
        "own figure: 0.9 m²K/W from the wrap outwards, with the outside film"
        in given["d16-upper"]["assumptions"]
    )
    # A figure that nobody says is one's own decides nothing.
    assert misses("brick_veneer_90", wall_outside_r=0.9)["d16"] == misses("brick_veneer_90")["d16"]


def test_a_garage_is_asked_for_no_batts_of_the_house():
    for name in ("brick_veneer_90", "two_storey_brick_veneer_90"):
        entry = read_sequence(FOLDER / f"{name}.toml")
        resolved = resolve(entry, {})
        garage = [one for one in entry.places if one.key == "garage"]
        asked = {one.id for one in resolved.details if places_for(one, garage, entry)}
        assert not asked & {"d15", "d16", "d17", "d18"}, name
        assert "d20" in asked


def test_behind_a_vented_cladding_an_empty_bay_loses_more_than_behind_brick():
    """By hand after ISO 6946:2017, 6.9.4: what lies outside a well-ventilated layer is still air, 0.13."""
    r, inside, air = 2.5, 0.19, 0.18
    filled, empty = 0.13 + r + inside, 0.13 + air + inside
    loss = 0.405 * 2.4 * (1 / empty - 1 / filled)
    clad = misses("timber_light_clad_90", wall_batt_r=r, stud_centres=450, stud_thickness=45)["d16"]
    assert clad["loss"] == pytest.approx(loss, abs=0.01)
    far = {"stud_centres": 600, "stud_thickness": 45, "wall_batt_width": 580}
    wide = misses("timber_light_clad_90", wall_batt_r=r, **far)["d16"]
    assert wide["loss"] == pytest.approx(loss * 555 / 405, abs=0.01), "the bay of this house, not any"
    assert clad["loss"] > misses("brick_veneer_90", wall_batt_r=r)["d16"]["loss"]


def test_a_bare_face_to_the_roof_space_keeps_a_plasterboard_between_still_airs():
    lining = 0.06 + 2 * 0.13
    found = misses("brick_veneer_90", wall_batt_r=2.5)["d26"]
    assert found["loss"] == pytest.approx(1 / lining - 1 / (lining + 2.5), abs=0.05)
    told = tell_miss(found)
    assert told is not None
    assert told.words.startswith("Each square metre of the face left bare loses ")


def test_mould_is_judged_in_the_winter_that_the_house_gives():
    """The bare strip keeps 0.36 of the ceiling's own: fRsi 0.51; at 20 °C and 50 % the limit is 12.6 °C."""
    assert misses("brick_veneer_90")["d23"]["mould"] is False
    colder = misses("brick_veneer_90", winter_by="own figure", winter_outside=4)["d23"]
    assert colder["temperature"] == pytest.approx(4 + 0.51 * 16, abs=0.1)
    assert colder["mould"] is True
    assert any("4 °C outside" in words for words in colder["assumptions"])
    assert misses("brick_veneer_90", winter_humidity=60)["d23"]["mould"] is True


def test_without_a_figure_of_its_own_a_house_is_judged_in_the_winter_of_its_zone():
    """Mean of the coldest month (Bureau of Meteorology, from memory): 5 °C in zone 7, -1 °C in zone 8."""
    alpine = misses("brick_veneer_90", climate_zone=8, winter_outside=12)["d23"]
    assert alpine["climate"]["outside"] == -1
    assert alpine["mould"] is True
    assert misses("brick_veneer_90", climate_zone=7)["d23"]["climate"]["outside"] == 5
    assert misses("brick_veneer_90", climate_zone=1)["d23"]["mould"] is False


@pytest.mark.parametrize("zone", range(1, 9))
def test_in_every_climate_zone_every_detail_that_the_house_has_is_told(zone):
    entry = read_sequence(FOLDER / "steel_frame.toml")
    resolved = resolve(entry, {"climate_zone": zone})
    assert [one.id for one in resolved.details if not miss_of(one, resolved.features)] == []


def test_the_sentence_says_loss_share_and_mould_and_what_it_stands_on():
    stored = misses("brick_veneer_90")
    void, strip = tell_miss(stored["d13"]), tell_miss(stored["d23"])
    assert void is not None
    assert strip is not None
    assert void.words == (
        "Each void left open loses 14 W/K: 100 % of the R there; "
        "the surface cools to 12 °C at 5 °C outside: with 50 % humidity mould can grow there."
    )
    assert strip.words.startswith("Left bare on one side, this strip loses 39 W/K: 55 % of the ceiling's")
    assert strip.words.endswith("; the surface cools to 13 °C at 5 °C outside.")
    assert any("wind washing" in words for words in strip.assumptions)
    assert "net area of the strip on all sides: 32 m²" in strip.inputs
    hole, fitting, wrap = (tell_miss(stored[key]) for key in ("d14", "d09", "d03"))
    assert hole is not None
    assert fitting is not None
    assert wrap is not None
    assert hole.words == "Through each hole left open the winter's air carries 0.27 W/K out."
    assert fitting.words.startswith("Batt too near, a hot fitting can set the ceiling on fire")
    assert wrap.words.startswith("Left open, rain gets into the wall")
    assert tell_miss({}) is None


def test_people_come_before_damp_and_damp_before_heat_and_heat_before_what_nobody_can_reckon():
    stored = misses("two_storey_brick_veneer_90")
    order = sorted(stored, key=lambda key: -weight_of(stored[key]))
    ranks = [stored[key]["rank"] for key in order]
    assert ranks == sorted(ranks, key=["danger", "damp", "heat", "metal", "comfort"].index)
    assert set(order[:3]) == {"d09", "d34", "d39"}
    assert set(order[3:7]) == {"d13", "d22", "d26", "d37"}, "where mould can grow, by their loss"
    assert order[-1] == "d19"
    assert weight_of(stored["d19"]) > weight_of({}) == 0


def test_what_older_houses_keep_is_told_and_weighed_as_before():
    """Houses set out before ranks were kept: the words and the order that they had."""
    cold = {
        "kind": "bare_perimeter",
        "what": "perimeter strip left bare",
        "loss": 73.0,
        "share": 0.71,
        "temperature": 12.6,
        "mould": True,
        "assumptions": ["hipped roof"],
        "inputs": [["length of the ceiling", "m", 20.0]],
    }
    mild = {**cold, "mould": False, "temperature": 15.0}
    told, milder = tell_miss(cold), tell_miss(mild)
    assert told is not None
    assert milder is not None
    assert told.words == (
        "Left bare, this strip loses 73 W/K: 71 % of the ceiling's added R; the surface cools to 13 °C: "
        "mould can grow there."
    )
    assert milder.words.endswith("; the surface cools to 15 °C.")
    assert weight_of(cold) > weight_of(mild) > 0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "open_void", inputs = {area = 0.5', 'kind = "open_hole", inputs = {area = 0.5', "open_hole"),
        ('kind = "open_void", inputs = {area = 0.5, ', 'kind = "open_void", inputs = {', "needs 'area'"),
        ("{area = 0.5, wall = 4,", "{area = 0.5, wall = 4, depth = 3,", "'depth'"),
        ('wall = 4, r = "ceiling_batt_r"', 'wall = 4, r = "ceiling_bat_r"', "'ceiling_bat_r'"),
    ],
)
def test_a_miss_that_leads_nowhere_is_refused_by_name(old, new, words):
    text = ENTRY.read_text(encoding="utf-8")
    assert old in text
    refused = [str(one) for one in lint_entry(read_sequence(text.replace(old, new, 1), "x"))]
    assert any("detail 'd13'" in line and words in line for line in refused), refused


@pytest.mark.django_db
def test_the_house_keeps_the_price_with_its_details(office):
    house = office.house()
    assert house.details.get(key="d13").miss["mould"] is True
    assert house.details.get(key="d01").miss["rank"] == "damp"
    text = ENTRY.read_text(encoding="utf-8").replace('"open_void"', '"open_hole"')
    with pytest.raises(BadInput, match="open_hole"):
        publish_sequence(office.builder, text)
