"""Which checks a house gets, in which order, and what a changed feature asks anew."""

from collections import defaultdict

import pytest

from coordination.sequence.misses_told import weight_of
from coordination.sequence.models import Hold
from coordination.sequence.set_out import resolve_for, resolved_of
from hold_points.facts import load_point
from hold_points.models import Check, Inspection, Reopening
from hold_points.port import HoldPointsPort
from hold_points.queries import list_rooms
from hold_points.walking_order import SURFACE_STEP
from tests.sequence.brick_veneer import open_office
from tests.sequence.builders import say_changed, say_rewriting


def test_every_point_has_one_inspection(site):
    points = set(site.house.activities.filter(is_point=True).values_list("key", flat=True))
    assert points == set(Inspection.objects.filter(house=site.house).values_list("point__key", flat=True))


def test_checks_are_set_out_place_by_place_with_their_limits(site):
    airway = site.check("airway", "bath")
    assert (airway.compare, airway.limit, airway.unit, airway.evidence) == (
        "at least",
        25,
        "mm",
        "photo with tape",
    )
    assert Check.objects.filter(inspection__house=site.house, key="full").count() == 3
    assert site.check("dry").place is None
    assert site.check("pipe-off").section == "pipes"
    assert site.check("pipe-off").caution == "Never cut or notch a truss."
    assert site.check("airway").drawing == "eave"


def test_the_walk_goes_through_the_rooms_and_ends_in_the_garage(site):
    rooms = list_rooms(load_point(site.point("H5")), "Whole house")
    assert [room.name for room in rooms] == ["Whole house", "Bath", "Bed 1", "Garage"]


def test_setting_out_is_the_same_each_time(site):
    first = list(Check.objects.filter(inspection__house=site.house).values_list("key", "place__key", "order"))
    from tests.hold_points.houses import make_site

    other = make_site("lot-8", "wattle")
    second = list(
        Check.objects.filter(inspection__house=other.house).values_list("key", "place__key", "order")
    )
    assert sorted(first) == sorted(second)


def change(site, **features):
    resolved = resolve_for(site.house.sequence_version, {**site.house.features, **features}, [])
    return follow(site.house, resolved)


def follow(house, resolved):
    """As within a change of the house."""
    say_rewriting(house)
    words = HoldPointsPort().on_change(house, resolved)
    say_changed(house)
    return words


def test_only_the_check_whose_limit_changed_is_asked_anew(site):
    site.pass_checks("H5")
    words = change(site, airway=30)
    assert words == ["Insulation: 1 checks asked anew (Bath)"]
    states = load_point(site.point("H5")).readiness.states
    assert [one.check.key for one in states if not one.passes] == ["airway"]
    versions = Check.objects.filter(inspection__house=site.house, key="airway").order_by("version")
    assert [(one.version, one.limit, one.withdrawn_at is None) for one in versions] == [
        (1, 25, False),
        (2, 30, True),
    ]
    assert not Reopening.objects.exists()


def test_a_change_after_release_closes_the_hold_again(site):
    site.release_all("H3", "H4", "H5")
    assert not Hold.objects.get(pk=site.hold("H5").pk).is_open
    assert change(site, airway=30) == ["Insulation re-opened: 1 checks (Bath)"]
    assert site.hold("H5").is_open
    assert not site.hold("H4").is_open


def test_nothing_changed_asks_nothing(site):
    before = list(Check.objects.values_list("pk", "version"))
    assert change(site) == []
    assert list(Check.objects.values_list("pk", "version")) == before


@pytest.mark.django_db
def test_what_a_change_drops_is_withdrawn_and_missed_by_nobody(site):
    resolved = resolve_for(site.house.sequence_version, site.house.features, [])
    import dataclasses

    fewer = dataclasses.replace(resolved, checks=tuple(one for one in resolved.checks if one.id != "full"))
    follow(site.house, fewer)
    assert "full" not in {one.check.key for one in load_point(site.point("H5")).readiness.states}


def test_on_one_surface_danger_comes_first_then_what_costs_most_to_miss(db, monday_morning):
    """Of the shipped sequence: danger, mould before heat, the larger loss, the file's order among equals."""
    house = open_office().house()
    file_order = {check.id: number for number, check in enumerate(resolved_of(house).checks)}
    checks = Check.objects.filter(inspection__house=house).select_related("detail").order_by("order")
    bands = defaultdict(list)
    for check in checks:
        weight = weight_of(check.detail.miss) if check.detail else 0.0
        rank = (not check.safety, -weight)
        bands[check.inspection_id, check.place_id, check.order // SURFACE_STEP].append((rank, check.key))
    for band in bands.values():
        assert band == sorted(band, key=lambda one: (one[0], file_order[one[1]]))
    turned = [band for band in bands.values() if band != sorted(band, key=lambda one: file_order[one[1]])]
    assert turned, "somewhere the price changes the order"


def test_two_lintels_of_the_house_are_opened_in_rooms_that_no_crew_can_know(db, monday_morning):
    """All are seen and two opened: common practice. A tenth of nine rooms would be one."""
    house = open_office().house()
    opened = Check.objects.filter(inspection__house=house, key="d18-opened")
    seen = Check.objects.filter(inspection__house=house, key="d18-filled")
    assert opened.count() == seen.count() > 2
    assert sum(one.sample["drawn"] for one in opened) == 2
    assert not any(one.sample for one in seen)


def test_a_longer_eave_is_looked_at_more_often_where_no_sample_is_settled(db, monday_morning):
    house = open_office().house()
    sides = Check.objects.filter(inspection__house=house, key="d23-airway").order_by("place")
    # One for each 6 m of 40 m, and of 80 m.
    assert [one.sample["least"] for one in sides] == [7, 7]
    north = sides[0]
    north.sample |= {"severity": "normal", "size": 4}
    north.save()
    follow(house, resolve_for(house.sequence_version, {**house.features, "eaves_length": 80}, []))
    assert [one.sample["least"] for one in sides.all()] == [7, 14]
    assert [one.version for one in sides.all()] == [1, 1], "nothing is asked anew"
