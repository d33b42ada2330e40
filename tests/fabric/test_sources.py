"""Every limit says where it comes from, and none is a certainty in disguise."""

import dataclasses

import pytest

from coordination.fabric import (
    CATALOGUE,
    LIMITS,
    FabricError,
    Sure,
    calculate,
    find_limit,
    gaps,
    layers,
    surface,
)
from coordination.fabric.misses import MISSES


@pytest.mark.parametrize("key", sorted(LIMITS))
def test_limit_has_all_its_parts(key):
    limit = LIMITS[key]
    assert limit.key == key
    assert limit.meaning
    assert len(limit.source) > 5
    assert limit.applies
    assert isinstance(limit.sure, Sure)


def test_limits_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        find_limit("airway.least").value = 0  # type: ignore[misc]
    with pytest.raises(TypeError):
        LIMITS["airway.least"] = find_limit("leak.qe50")  # type: ignore[index]


@pytest.mark.parametrize(
    ("key", "value", "sure"),
    [
        ("airway.least", 25, Sure.READ),
        ("airway.roof_space", 20, Sure.MEMORY),
        ("airway.trussed_rafter", 50, Sure.READ),
        ("ceiling.wall_overlap", 50, Sure.READ),
        ("frsi.least", 0.75, Sure.READ),
        ("frsi.least_din", 0.70, Sure.READ),
        ("frsi.survey_inside", 0.78, Sure.READ),
        ("frsi.survey_outside", 0.93, Sure.READ),
        ("film.mould", 0.25, Sure.MEMORY),
        ("wrap.permeance_cold", 1.14, Sure.MEMORY),
        ("roof.low_flat", 25000, Sure.MEMORY),
        ("heater.node_load", 450, Sure.READ),
        ("stud.hole", 25, Sure.READ),
        ("cable.near_surface", 50, Sure.READ),
        ("pipe.test_pressure", 1500, Sure.MEMORY),
        ("clear.recessed_light", 100, Sure.READ),
        ("leak.qe50", 10, Sure.READ),
        ("survey.difference", 10, Sure.READ),
        ("timber.moisture", 0.15, Sure.READ),
        ("batts.waste", 0.03, Sure.PRACTICE),
        ("ceiling.base_r", 0.36, Sure.DERIVED),
    ],
)
def test_limit_stands_as_its_source_gives_it(key, value, sure):
    assert find_limit(key).value == value
    assert find_limit(key).sure is sure


def test_constants_in_the_formulas_are_the_limits_on_record():
    assert find_limit("film.inside_sideways").value == layers.INSIDE_SIDEWAYS
    assert find_limit("film.inside_up").value == layers.INSIDE_UP
    assert find_limit("film.inside_down").value == layers.INSIDE_DOWN
    assert find_limit("film.outside").value == layers.OUTSIDE
    assert find_limit("film.still_air_layer").value == layers.STILL_AIR_LAYER
    assert find_limit("film.mould").value == surface.MOULD_FILM
    assert find_limit("mould.humidity").value == surface.MOULD_HUMIDITY
    assert gaps.VOID_CORRECTIONS == (0, 0.01, 0.04)


def test_clearances_of_hot_things_are_not_for_the_builder_to_overrule():
    hot = [limit for key, limit in LIMITS.items() if key.startswith("clear.")]
    assert hot
    assert not any(limit.overridable for limit in hot)
    assert all(limit.value > 0 for limit in hot)


def test_defaults_taken_from_limits_exist():
    offered = [one for kind in CATALOGUE.values() for one in kind.inputs]
    offered += [one for kind in MISSES.values() for one in kind.inputs]
    assert {one.from_limit for one in offered if one.from_limit} <= set(LIMITS)


def test_unknown_limit_is_refused_by_name():
    with pytest.raises(FabricError) as refused:
        find_limit("airway.most")
    assert refused.value.input_name == "airway.most"


def test_a_calculation_is_no_surer_than_the_weakest_value_inside_it():
    assert calculate("ventilation", pitch=22.5, eaves=40, ridge=20, zone=7).sure == Sure.MEMORY
    assert calculate("exhaust", room="bathroom").sure == Sure.READ
    eave = {"pitch": 22.5, "heel": 100, "batt": 290}
    assert calculate("eave", **eave).sure == Sure.READ, "the airway that stands in is published"
    assert calculate("eave", **eave, airway=25).sure == Sure.DERIVED, "geometry of the house alone"
    batts = {"area": 40, "width": 430, "length": 1160}
    assert calculate("batts", **batts).sure == Sure.PRACTICE, "3 % of waste are common practice"
    assert calculate("batts", **batts, waste=0).sure == Sure.DERIVED


def test_every_value_that_a_calculation_names_is_published():
    for definition in CATALOGUE.values():
        for key in definition.limits:
            assert find_limit(key).sure, f"{definition.name}: {key}"
