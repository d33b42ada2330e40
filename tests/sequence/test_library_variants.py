"""Light cladding on timber, a steel frame, and the entry to start from."""

from __future__ import annotations

import tomllib

import pytest

from coordination.sequence.library.entry import Check, ResolvedSequence
from coordination.sequence.standard import (
    FeatureErrors,
    early_dates,
    flatten,
    limit_for,
    options_of_trade,
    places_for,
    read_sequence,
    resolve,
)
from tests.sequence.test_standard_shipped import FOLDER

LIGHT_CLAD = read_sequence(FOLDER / "timber_light_clad_90.toml")
STEEL = read_sequence(FOLDER / "steel_frame.toml")
BARE = read_sequence(FOLDER / "bare_minimum.toml")


def check_of(resolved: ResolvedSequence, key: str) -> Check:
    return next(one for one in resolved.checks if one.id == key)


def test_light_clad_house_has_a_cavity_under_its_cladding_and_no_brick():
    resolved = resolve(LIGHT_CLAD, {"cavity_depth": 25})
    assert not [one.id for one in resolved.activities if "brick" in one.name.lower()]
    wrap = next(one for one in resolved.details if one.id == "d03")
    assert set(wrap.covered_by) == {"cavity-battens", "cladding"}
    limit = limit_for(check_of(resolved, "d40-depth"), resolved.features)
    assert str(limit) == "at least 25 mm"
    # NCC 2022 10.8.1, from memory: zone 7 at least 1.14 µg/(N·s).
    permeance = limit_for(check_of(resolved, "d03-permeance"), resolved.features)
    assert permeance is not None
    assert permeance.value == 1.14
    detail = next(one for one in resolved.details if one.id == "d39")
    assert "50 mm" in detail.instruction
    assert check_of(resolved, "d39-stated").safety
    assert check_of(resolved, "d39-points").safety


def test_text_of_a_light_clad_house_speaks_of_no_brick():
    document = tomllib.loads(flatten(FOLDER / "timber_light_clad_90.toml"))
    assert "brick" not in str(document).lower()


def test_steel_frame_asks_for_thermal_breaks_and_grommets():
    resolved = resolve(STEEL, {}, ["light-clad"])
    for key in ("d41-r", "d43-r"):
        limit = limit_for(check_of(resolved, key), resolved.features)
        # NCC 2022 Housing Provisions 13.2.3: R 0.2 between metal sheets and metal battens.
        assert str(limit) == "at least 0.2 m²K/W"
    grommets = limit_for(check_of(resolved, "d42-grommets"), resolved.features)
    assert grommets is not None
    assert grommets.met_by(0)
    assert not grommets.met_by(1)
    assert check_of(resolved, "d42-bond").safety
    timber = resolve(STEEL, {"roof_battens": "timber"})
    assert "d41" not in {one.id for one in timber.details}


@pytest.mark.parametrize(
    ("entry", "features", "feature", "words"),
    [
        (LIGHT_CLAD, {"wall_outside": "masonry"}, "wall_outside", "the cladder's work"),
        (STEEL, {"wall_outside": "cladding"}, "wall_outside", "choose from masonry"),
    ],
)
def test_what_stands_outside_is_what_the_work_puts_there(entry, features, feature, words):
    with pytest.raises(FeatureErrors) as refused:
        resolve(entry, features)
    assert words in refused.value.errors[feature]


def test_a_steel_house_in_cladding_has_no_bricklayer():
    clad = resolve(STEEL, {}, ["light-clad"])
    assert clad.features["wall_outside"] == "cladding"
    said = repr(
        (clad.activities, clad.visits, clad.relationships, clad.gaps, clad.details, clad.checks)
    ).lower()
    assert "brick" not in said
    assert "brick" not in " ".join(one.why for one in STEEL.explained).lower()
    assert {one.trade for one in clad.activities} >= {"cladder"}
    option = "Light cladding instead of brick"
    assert options_of_trade(STEEL, "bricklayer") == ((), (option,))
    assert options_of_trade(STEEL, "brick-cleaner") == ((), (option,))
    assert options_of_trade(STEEL, "cladder") == ((option,), ())
    assert options_of_trade(STEEL, "plumber") == ((), ())
    assert "bricklayer" not in {one.key for one in LIGHT_CLAD.trades}


def test_every_hole_in_steel_is_looked_at_in_the_garage_too():
    resolved = resolve(STEEL, {})
    places = places_for(check_of(resolved, "d42-grommets"), STEEL.places, STEEL)
    assert {one.key for one in places or ()} == {one.key for one in STEEL.places if one.kind == "room"}
    assert "garage" in {one.key for one in places or ()}


def test_steel_frame_computes_no_figure_that_metal_bridges():
    # ISO 6946: the combined method is not for insulation bridged by metal.
    entry = STEEL
    sources = [source for one in entry.details for source in one.numbers.values()]
    for check in entry.checks:
        sources += [*check.numbers.values(), *([check.limit.of] if check.limit else [])]
    assert not {one.calculation for one in sources} & {"bridged", "surface", "voids", "bare", "restore"}
    assert "moisture" not in " ".join(check.id for check in entry.checks)


@pytest.mark.parametrize(
    ("features", "name", "words"),
    [
        ({"frame_material": "timber"}, "frame_material", "take an entry for timber frames"),
        ({"framed_floor_area": 10}, "framed_floor_area", "bridged by metal"),
        ({"batten_depth": 0}, "batten_depth", "no break against the roof space"),
        ({"stud_thickness": 45}, "stud_thickness", "give 3 mm or less"),
        ({"storeys": 2}, "storeys", "take an entry for two storeys"),
    ],
)
def test_steel_frame_refuses_what_its_figures_do_not_cover(features, name, words):
    with pytest.raises(FeatureErrors) as refused:
        resolve(STEEL, features)
    assert words in refused.value.errors[name]


def test_batts_of_a_steel_frame_fill_the_hollow_of_the_section():
    detail = next(one for one in resolve(STEEL, {}).details if one.id == "d16")
    # 450 mm less the 1 mm web; the 450 mm batt goes in as it is.
    assert "Clear bay 449 mm, cut 450 mm" in detail.tells["insulation-installer"]


def test_entry_to_start_from_uses_every_mechanism_once():
    entry = BARE
    for rows in ("trades", "zones", "stages", "features", "not_covered", "place_kinds", "place_attributes"):
        assert getattr(entry, rows), rows
    for rows in ("places", "visit_names", "gaps", "explained"):
        assert getattr(entry, rows), rows
    assert [one.point for one in entry.activities if one.is_point] == ["hold"]
    assert len(entry.details) == len(entry.checks) == len(entry.options) == 1
    assert {one.type for one in entry.relationships} == {"FS", "SS", "FF"}
    assert {one.lag_calendar for one in entry.relationships} == {"", "elapsed"}
    assert any(one.delivery for one in entry.activities)
    assert any(one.when for one in entry.activities)
    option = entry.options[0]
    for lists in (option.sets, option.added, option.changed, option.removed):
        assert lists
    # By hand: frame 6, pipes 2 to 8, batts 2, walk 1, word 3, linings 8, drying 4, handover 2.
    resolved = resolve(entry, {})
    dates = early_dates(resolved.activities, resolved.relationships)
    assert dates["H1"] == (10, 11)
    assert dates["linings"] == (14, 22)
    assert dates["handover"] == (26, 28)
    assert "bracing" in {one.id for one in resolve(entry, {"bracing": True}).activities}
    comments = [line for line in entry.text.splitlines() if line.startswith("#")]
    assert len(comments) > 60
