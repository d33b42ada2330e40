"""The two-storey entry: floor zone over the garage, release by zone, cladding upstairs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coordination.sequence.library.entry import Check, Detail, ResolvedSequence
from coordination.sequence.standard import (
    FeatureErrors,
    holds_before,
    limit_for,
    places_for,
    read_sequence,
    resolve,
)
from tests.sequence.test_standard_shipped import FOLDER

TWO_STOREYS = read_sequence(FOLDER / "two_storey_brick_veneer_90.toml")


def check_of(resolved: ResolvedSequence, key: str) -> Check:
    return next(one for one in resolved.checks if one.id == key)


def upstairs(**features: object):
    return resolve(TWO_STOREYS, features)


@pytest.mark.parametrize(
    ("depth", "total"), [(300, 290), (305, 305), (320, 305), (340, 340), (365, 365), (380, 380), (400, 400)]
)
def test_floor_zone_is_filled_with_the_best_pair(depth: int, total: int):
    # Pairs tried by hand over the stock 75, 90, 140, 165, 200, 250, 290 mm; nothing is squeezed.
    resolved = upstairs(floor_zone_depth=depth)
    limit = limit_for(check_of(resolved, "d32-fill"), resolved.features)
    assert limit is not None
    assert limit.value == total
    words = next(one.instruction for one in resolved.details if one.id == "d32")
    left = f"{depth - total} mm of air stay below" if depth > total else "strapped up. No air above"
    assert left in words


def test_zone_under_a_duct_has_its_own_fill_or_none():
    resolved = upstairs(floor_zone_under_duct=170)
    limit = limit_for(check_of(resolved, "d37-fill"), resolved.features)
    assert limit is not None
    assert limit.value == 165
    without = upstairs(floor_zone_under_duct=0)
    assert "d37" not in {one.id for one in without.details}
    with pytest.raises(FeatureErrors, match="holds no batt of the stock") as refused:
        upstairs(floor_zone_under_duct=40)
    assert "floor_zone_under_duct" in refused.value.errors


def test_insulation_walk_is_released_zone_by_zone():
    resolved = upstairs()
    point = resolved.activity("H5")
    assert point.sections == ("Upper floor", "Ground floor", "Garage", "Whole house")
    for check in resolved.checks_of("H5"):
        places = places_for(check, resolved.entry.places, resolved.entry)
        zone = check.section.split()[0].lower()
        if zone == "whole":
            assert places is None or not {one.zone for one in places} & {"upper", "ground", "garage"}
        else:
            assert {one.zone for one in places or ()} <= {zone}, check.id
    # Nothing is lost by the split: the same checks in the same places as when it is released whole.
    whole = read_sequence(resolved.entry.text.replace('zones = ["upper", "ground", "garage"]\n', "", 1))
    asked = [
        (check.text, place.key)
        for check in resolve(whole, {}).checks_of("H5")
        for place in places_for(check, whole.places, whole) or ()
    ]
    split = [
        (check.text, place.key)
        for check in resolved.checks_of("H5")
        for place in places_for(check, whole.places, whole) or ()
    ]
    assert sorted(split) == sorted(asked)
    assert len(asked) > 80


def test_garage_ceiling_waits_for_its_own_hold():
    before = holds_before(upstairs())
    assert "H5g" in before["garage-lining"]
    assert "H5g" not in before["linings"]
    assert {"H4", "H5"} <= before["garage-lining"]


def test_house_without_a_room_over_the_garage_has_no_floor_zone():
    resolved = upstairs(room_over_garage=False, abutment=False)
    ids = {one.id for one in resolved.activities}
    assert not ids & {"floor-batts", "H5g", "abutment", "P3"}
    assert not {"d31", "d32", "d33", "d37"} & {one.id for one in resolved.details}
    assert ("board-del", "garage-lining") in {
        (one.predecessor, one.successor) for one in resolved.relationships
    }
    with pytest.raises(ValueError, match="floor over outside air"):
        upstairs(garage_attached=False)


@pytest.mark.parametrize("storeys", [1, 3])
def test_other_numbers_of_storeys_are_refused(storeys: int):
    with pytest.raises(ValueError, match="this entry is for two storeys"):
        upstairs(storeys=storeys)


def test_storeys_share_no_place_and_no_check_and_leave_none_out():
    """What stands outside parts a detail: together its parts are asked where the whole one was."""
    resolved = resolve(TWO_STOREYS, {})
    details = {one.id: one for one in resolved.details}
    parts = [key for key in details if key.endswith("-upper")]
    assert "d16-upper" in parts
    assert "d38-upper" not in parts, "no stair stands against an upper outside wall"
    for key in parts:
        base = key.removesuffix("-upper")
        whole = next(one for one in TWO_STOREYS.details if one.id == base)
        where = [
            {place.key for place in places_for(one, TWO_STOREYS.places, TWO_STOREYS) or ()}
            for one in (details[base], details[key], whole)
        ]
        assert where[0] | where[1] == where[2]
        assert not where[0] & where[1]
        assert where[1] == {
            one.key for one in TWO_STOREYS.places if one.key in where[2] and one.zone == "upper"
        }
    for one in resolved.checks:
        upper = one.places is not None and str(one.places).endswith('zone == "upper"')
        if one.detail in parts or one.detail in {key.removesuffix("-upper") for key in parts}:
            assert one.once or upper == one.detail.endswith("-upper"), one.id


def test_where_ducts_alone_run_no_pipe_is_looked_for():
    resolved = resolve(TWO_STOREYS, {})
    rooms = {
        "pipes": replace(
            TWO_STOREYS.places[0],
            key="a",
            kind="room",
            zone="ground",
            attributes={"services_above": True, "only_pipes_above": True},
        ),
        "ducts": replace(
            TWO_STOREYS.places[0],
            key="b",
            kind="room",
            zone="ground",
            attributes={"services_above": True, "only_ducts_above": True},
        ),
        "cold": replace(
            TWO_STOREYS.places[0],
            key="c",
            kind="room",
            zone="ground",
            attributes={"services_above": True, "cold_pipes_above": True},
        ),
    }
    rows: dict[str, Detail | Check] = {one.id: one for one in resolved.details}
    rows |= {one.id: one for one in resolved.checks}
    asked = {
        key: [name for name, place in rooms.items() if places_for(rows[key], [place], TWO_STOREYS)]
        for key in ("d35", "d35-lagging-cool", "d36", "d36-sealed")
    }
    assert asked == {
        "d35": ["pipes", "cold"],
        "d35-lagging-cool": ["pipes"],
        "d36": ["ducts", "cold"],
        "d36-sealed": ["ducts", "cold"],
    }


def test_light_cladding_brings_its_warning_to_every_trade_behind_it():
    detail = next(one for one in upstairs().details if one.id == "d39")
    assert {"electrician", "plumber", "cladder"} == set(detail.tells)
    # AS/NZS 3000:2018 3.9.4, read in a secondary list of clauses: 50 mm.
    assert "50 mm" in detail.instruction
    assert check_of(upstairs(), "d39-stated").safety


def asked_in(resolved: ResolvedSequence, key: str) -> set[str]:
    """Usual places in which a check, or its parts by zone, is asked."""
    found: set[str] = set()
    for check in resolved.checks:
        if check.id == key or check.id.startswith((f"{key}-upper", f"{key}-ground", f"{key}-garage")):
            places = places_for(check, resolved.entry.places, resolved.entry)
            assert places is not None, key
            found |= {one.key for one in places}
    return found


def test_under_an_upper_floor_nobody_asks_for_the_roof_space():
    resolved = upstairs()
    places = {one.key: one for one in TWO_STOREYS.places}
    under_floor = {key for key, one in places.items() if one.attributes.get("roof_above") is False}
    assert {"kitchen", "entry", "powder-room"} <= under_floor
    # What closes to, clears from or lies in the roof space; the kitchen has bulkhead and lamps all the same.
    for key in (
        "d22-closed",
        "d13-sealed",
        "d13-heat",
        "d09-clearance",
        "h5-heat",
        "d25-plane",
        "d10-chords",
    ):
        assert asked_in(resolved, key), key
        assert not asked_in(resolved, key) & under_floor, key
    # Caps that are looked for room by room are as many as the plan's, which are counted once.
    caps = sum(int(places[key].attributes["void_caps"]) for key in asked_in(resolved, "d13-sealed"))
    assert caps == resolved.features["void_cap_count"]


def test_lagging_is_asked_where_heated_pipes_run():
    assert asked_in(upstairs(), "d10-lagging-cool") == {"ensuite", "bathroom", "bedroom-3"}
    single = resolve(read_sequence(FOLDER / "brick_veneer_90.toml"), {})
    assert asked_in(single, "d10-lagging-cool") == {"ensuite", "bathroom", "laundry", "kitchen"}
    assert asked_in(single, "d10-chords") > asked_in(single, "d10-lagging-cool")


def test_ridge_slot_is_asked_at_the_roof_that_has_one():
    assert asked_in(upstairs(), "d04-clean") == {"roof-east", "roof-west"}
