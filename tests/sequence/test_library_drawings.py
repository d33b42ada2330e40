"""The drawings and words of the shipped sequences are those of the house's own construction."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.conf import settings

from coordination.fabric.drawings import DRAWINGS, draw
from coordination.sequence.library.misses import miss_of
from coordination.sequence.standard import (
    FeatureErrors,
    drawing_for,
    lint_entry,
    read_sequence,
    resolve,
)
from tests.sequence.planted import plant

FOLDER = Path(settings.BASE_DIR) / "fixtures/sequences"
EAVES = ("d05", "d23", "d24")


def resolved(name, features=None, *options):
    return resolve(read_sequence(FOLDER / f"{name}.toml"), features or {}, list(options))


def drawing_of(house, key):
    found = drawing_for(next(one for one in house.details if one.id == key), house.features)
    assert found is not None
    return found


def drawn(house, key):
    name, numbers = drawing_of(house, key)
    return draw(name, None, **numbers)


def marks(svg, kind):
    root = ElementTree.fromstring(svg)  # noqa: S314 - our own text
    return [one for one in root.iter() if kind in one.get("class", "").split()]


def test_house_of_steel_is_drawn_of_steel_wherever_a_drawing_knows_the_frame():
    house = resolved("steel_frame")
    seen = set()
    for detail in house.details:
        if "frame" in [one.name for one in DRAWINGS[detail.drawing].inputs]:
            assert marks(drawn(house, detail.id), "steel"), detail.id
            seen.add(detail.drawing)
    assert seen >= {
        "stud_bay",
        "pockets",
        "pipe_split",
        "switchboard",
        "lintel",
        "window_seal",
        "garage_wall",
    }
    assert not marks(drawn(resolved("brick_veneer_90"), "d16"), "steel")


def test_words_of_a_house_of_steel_hold_its_cables_to_the_web():
    house = resolved("steel_frame")
    words = next(one.instruction for one in house.details if one.id == "d08")
    assert "back of the stud" not in words
    assert "on the web" in words
    assert "on the web" in drawn(house, "d08")


@pytest.mark.parametrize(
    ("name", "options", "cladding"),
    [
        ("brick_veneer_90", (), False),
        ("steel_frame", (), False),
        ("steel_frame", ("light-clad",), True),
        ("timber_light_clad_90", (), True),
    ],
)
def test_eave_shows_what_stands_outside_the_wall_and_its_studs(name, options, cladding):
    house = resolved(name, {"stud_depth": 140, "wall_batt_mm": 140}, *options)
    for key in EAVES:
        assert ("Light cladding stands outside" in drawn(house, key)) is cladding
        assert drawing_of(house, key)[1]["plate"] == 140


def test_eave_of_the_ground_floor_is_drawn_with_brick_and_that_of_the_upper_floor_with_cladding():
    house = resolved("two_storey_brick_veneer_90", {"stud_depth": 140, "wall_batt_mm": 140})
    for key in EAVES:
        assert "Light cladding stands outside" not in drawn(house, key)
        assert "Light cladding stands outside" in drawn(house, f"{key}-upper")
        assert drawing_of(house, f"{key}-upper")[1]["plate"] == 140


def test_steel_under_light_cladding_speaks_of_no_brick_before_its_wrap_is_looked_at():
    house = resolved("steel_frame", {}, "light-clad")
    assert house.activity("W2").name == "Wrap, laps, sill flashings before cladding"
    outside = next(one for one in house.entry.trades if one.key == "external-works")
    assert "cladding's vents" in outside.caution


def test_floor_over_an_open_subfloor_is_not_drawn_over_a_garage():
    svg = drawn(resolved("brick_veneer_90", {"framed_floor_area": 30}), "d27")
    assert "garage" not in svg.lower()
    assert "subfloor" in svg


def test_rim_wastes_and_ducts_of_the_upper_floor_have_pictures_of_their_own():
    house = resolved("two_storey_brick_veneer_90")
    assert marks(drawn(house, "d35"), "pipe")
    for key in ("d36", "d37"):
        assert marks(drawn(house, key), "duct")
        assert "140 mm above the duct" in drawn(house, key)
    assert "hard against the rim" in drawn(house, "d33")
    assert not marks(drawn(house, "d32"), "duct")


def test_more_left_above_a_duct_than_the_floor_is_deep_is_refused():
    with pytest.raises(FeatureErrors) as refused:
        resolved("two_storey_brick_veneer_90", {"floor_zone_depth": 240, "floor_zone_under_duct": 240})
    assert "0 where nothing runs" in refused.value.errors["floor_zone_under_duct"]


def test_word_that_a_drawing_does_not_know_is_refused_with_those_that_it_knows():
    for word, fine in (("subfloor", True), ("cellar", False)):
        row = (
            f"""point = "H"\ndrawing = "floor_zone"\ndrawing_inputs = {{depth = 300, below = '"{word}"'}}\n"""
        )
        sequence = read_sequence(plant(('point = "H"\n', row)), "mine.toml")
        found = [one.message for one in lint_entry(sequence) if one.level == "refused"]
        assert (found == []) is fine, found
        assert fine or "give one of garage, subfloor" in found[0]


@pytest.mark.parametrize(("name", "stud", "behind"), [("brick_veneer_90", 90, 44), ("steel_frame", 140, 94)])
def test_pipe_in_a_wall_is_told_judged_and_drawn_with_the_same_batt_behind_it(name, stud, behind):
    """By hand: stud less 20 mm of pipe and 2 times 13 mm of lagging, all of it on the cold side."""
    house = resolved(name, {"stud_depth": stud, "wall_batt_mm": stud})
    for row in (*house.details, *house.checks):
        if row.id in ("d11", "d21", "d11-position", "d21-split"):
            words = getattr(row, "instruction", "") or row.text
            assert f"{behind} mm" in words, row.id
            assert "thicker" not in words
    for key in ("d11", "d21"):
        assert f"{behind} mm, whole behind the pipe" in drawn(house, key)


WHOLE = ("brick_veneer_90", "steel_frame", "timber_light_clad_90", "two_storey_brick_veneer_90")


@pytest.mark.parametrize("name", WHOLE)
def test_internal_wall_is_drawn_between_two_rooms_and_never_as_an_outside_one(name):
    house = resolved(name, {}, "bath-before-linings")
    inside, bath = drawn(house, "d19"), drawn(house, "d28")
    assert "plasterboard on both sides" in inside
    assert not marks(inside, "wrap")
    assert "outside" not in inside
    assert "where this is an outside wall" in bath, "the wall behind a bath may be either"


def test_edge_of_the_slab_and_the_floor_s_batts_are_those_of_this_house():
    assert "No insulation at the edge" in drawn(resolved("brick_veneer_90"), "d01")
    given = resolved("brick_veneer_90", {"slab_edge_insulation": True, "slab_edge_r": 1.5})
    assert "R1.5" in drawn(given, "d01")
    house = resolved("two_storey_brick_veneer_90", {"floor_zone_depth": 300, "batt_stock": "145:3.5,90:2.5"})
    assert "290 mm of batts" in drawn(house, "d33")
    assert "290 mm of batts" in drawn(house, "d36")


def test_miss_of_a_pipe_counts_the_pipe_with_its_lagging():
    """20 mm and twice 13 mm of lagging, as the words of d21 say."""
    house = resolved("brick_veneer_90", {"pipes_in_external_walls": True})
    pipe = next(one for one in house.details if one.id == "d21")
    told = miss_of(pipe, house.features)["inputs"]
    assert ["diameter of the pipe or cable", "mm", 46] in told
