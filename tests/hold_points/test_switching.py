"""Samples tightened and eased over a crew's houses, detail by detail.

The pattern (tighten after misses, ease after a run of accepted lots, reduce after a longer run, one miss
ends a reduction) is that of ISO 2859-1, clause on switching; the counts of houses are common practice, from
memory.
"""

import json
import secrets

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from hold_points.facts import load_point
from hold_points.models import Check, RecordEntry
from hold_points.port import HoldPointsPort
from hold_points.sampling import draw_spots, find_switches, settle_samples, switch_of
from hold_points.switching import Lot, Severity, find_severity, size_of
from tests.hold_points.houses import TEXT, make_site

SAMPLED = TEXT.replace(
    'text = "Batts fill the frame."\n',
    'text = "Batts fill the frame."\nsampling = {number = 3, least = 6, of = "bays"}\n',
)


def lots(*missed):
    return [Lot(f"Lot {number}", rooms) for number, rooms in enumerate(missed, 1)]


@pytest.mark.parametrize(
    ("missed", "severity", "clean"),
    [
        ((), "normal", 0),
        ((1,), "normal", 0),
        ((2,), "tightened", 0),
        ((0, 0, 0, 0), "normal", 4),
        ((0, 0, 0, 0, 0), "reduced", 5),
        ((0, 0, 0, 0, 0, 0), "reduced", 6),
        ((0, 0, 0, 0, 0, 1), "normal", 0),
        ((0, 0, 0, 0, 0, 2), "tightened", 0),
        ((0, 0, 0, 1, 0), "normal", 1),
        ((2, 0, 0), "tightened", 2),
        ((2, 0, 0, 0), "normal", 0),
        ((2, 0, 0, 1, 0, 0), "tightened", 2),
        ((2, 0, 0, 2, 0, 0, 0), "normal", 0),
        ((2, 0, 0, 0, 0, 0, 0, 0), "normal", 4),
        ((2, 0, 0, 0, 0, 0, 0, 0, 0), "reduced", 5),
    ],
)
def test_a_crews_houses_tighten_and_ease_its_next(missed, severity, clean):
    found = find_severity(lots(*missed))
    assert (found.severity, found.clean_in_a_row) == (severity, clean)


def test_the_house_that_tightened_is_named():
    since = find_severity(lots(0, 3, 0)).since
    assert since == Lot("Lot 2", 3)


def test_the_counts_are_the_builders():
    assert find_severity(lots(2, 0), tightened_for=1).severity is Severity.NORMAL
    assert find_severity(lots(0, 0), reduced_after=2).severity is Severity.REDUCED


@given(st.lists(st.integers(0, 4), max_size=30))
def test_reduced_is_never_reached_while_anything_was_missed_lately(missed):
    found = find_severity(lots(*missed))
    if found.severity is Severity.REDUCED:
        assert missed[-5:] == [0] * 5
    if missed and missed[-1] >= 2:
        assert found.severity is Severity.TIGHTENED
    if found.severity is Severity.TIGHTENED:
        assert any(rooms >= 2 for rooms in missed)


@given(st.integers(0, 50))
def test_a_sample_is_doubled_or_halved_and_never_nothing(normal):
    assert size_of(normal, Severity.NORMAL) == max(1, normal)
    assert size_of(normal, Severity.TIGHTENED) == max(1, 2 * normal)
    assert 1 <= size_of(normal, Severity.REDUCED) <= max(1, (normal + 1) // 2)


@pytest.mark.parametrize(("safety", "severity"), [(False, "reduced"), (True, "normal")])
def test_what_guards_against_harm_is_never_looked_at_less(safety, severity):
    switches = {1: (find_severity(lots(0, 0, 0, 0, 0)), "Batt crew")}
    switch, crew = switch_of(Check(detail_id=1, safety=safety), switches)
    assert (switch.severity, switch.clean_in_a_row, crew) == (severity, 5, "Batt crew")
    assert switch_of(Check(detail_id=2, safety=True), switches)[0].severity is Severity.NORMAL


# ---------------------------------------------------------------- on houses


@pytest.fixture
def site(db, monday_morning, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return make_site(text=SAMPLED)


def next_house(site, number):
    """Another house of the same builder, of the same version and crews."""
    import datetime as dt
    from dataclasses import replace

    from coordination.sequence.set_out import SetOut, set_out

    house = set_out(
        SetOut(
            builder=site.builder,
            version=site.house.sequence_version,
            key=f"lot-{number}",
            name=f"Lot {number}",
            region=site.house.region,
            calendar=site.house.calendar,
            starts_on=dt.date(2026, 4, 13),
            supervisor=site.supervisor,
            crews=site.crews,
        ),
        site.planner,
    )
    return replace(site, house=house, pictures=site.pictures + 100 * number)


def walk_batts(site, *missed):
    """Look at the batts of every room; those named are not met."""
    for place in ("bath", "bed", "garage"):
        site.find(site.check("full", place), "not met" if place in missed else "met")


def sample_of(site):
    return site.check("full", "bed").sample


def test_two_rooms_missed_double_the_crews_next_sample_and_the_record_says_why(site, client):
    walk_batts(site, "bath", "bed")
    after = next_house(site, 8)
    client.force_login(site.supervisor)
    address = reverse("hold_points:check", args=[after.check("full", "bed").pk])
    foreseen = client.get(address).content.decode()
    assert "Look at 6 of the bays" in foreseen
    assert "severity" not in sample_of(after), "looking settles nothing"
    HoldPointsPort().call_ready(visit_id=after.visit("batts").pk, crew=after.crews["installer"])
    assert (sample_of(after)["severity"], sample_of(after)["size"]) == ("tightened", 6)
    facts = json.loads(RecordEntry.objects.get(house=after.house, kind="sampling").text)["facts"]
    why = "twice as many: Saltbush Insulation installer crew missed it in 2 rooms at Lot 7, Saltbush Rise"
    assert (facts["check"], facts["size"], facts["why"]) == ("full", 6, why)
    assert f"So many because: {why}." in client.get(address).content.decode()
    after.find(after.check("full", "bed"))
    text = RecordEntry.objects.get(house=after.house, kind="outcome").text
    assert json.loads(text)["facts"]["sample"]["severity"] == "tightened"
    assert RecordEntry.objects.filter(house=after.house, kind="sampling").count() == 1, "settled once"


def test_three_clean_houses_ease_and_five_more_reduce(site, monday_morning):
    walk_batts(site, "bath", "bed")
    sizes = []
    for number in range(8, 18):
        monday_morning.shift(60)
        house = next_house(site, number)
        walk_batts(house)
        sizes.append(sample_of(house)["size"])
    # Three houses of three rooms tightened, five at the usual number, then half of it.
    assert sizes == [6, 6, 6, 3, 3, 3, 3, 3, 2, 2]


def test_what_nobody_saw_is_no_clean_house_and_hides_no_miss(site, monday_morning):
    for place in ("bath", "bed", "garage"):
        site.find(site.check("full", place), "not seen", note="boards before it")
    after = next_house(site, 8)
    detail = after.check("full", "bed").detail
    assert find_switches([detail], after.house)[detail.pk][0].clean_in_a_row == 0
    monday_morning.shift(60)
    walk_batts(site, "bath", "bed")
    assert find_switches([detail], after.house)[detail.pk][0].severity is Severity.TIGHTENED


def test_another_crew_and_another_builder_are_judged_by_their_own_houses(site):
    walk_batts(site, "bath", "bed")
    other = make_site("lot-8", "wattle", text=SAMPLED)
    detail = other.check("full", "bed").detail
    assert detail is not None
    assert find_switches([detail], other.house)[detail.pk][0].severity is Severity.NORMAL


def test_one_miss_opens_its_room_and_two_the_whole_house(site):
    def spots(place):
        check = site.check("full", place)
        found = draw_spots(check, load_point(check.inspection))
        assert found is not None
        return found

    assert (spots("bed").size, spots("bed").everything) == (3, "")
    site.find(site.check("full", "bath"), "not met")
    assert (spots("bath").everything, spots("bed").everything) == ("here", "")
    site.find(site.check("full", "bed"), "not met")
    assert spots("garage").everything == "everywhere"


def test_a_sample_by_rooms_draws_more_or_fewer_rooms(site, monkeypatch):
    checks = list(Check.objects.filter(inspection=site.point("H5"), key="full").order_by("pk"))
    for number, one in enumerate(checks):
        one.sample = {"number": 0, "least": 0, "of": "", "drawn": number == 0}
    Check.objects.bulk_update(checks, ["sample"])
    site.builder.tightened_houses = 3
    drawn = {}
    for severity, missed in (("tightened", 2), ("normal", 0)):
        Check.objects.bulk_update(checks, ["sample"])
        found = find_severity(lots(missed))
        assert found.severity == severity
        detail = checks[0].detail_id
        monkeypatch.setattr(
            "hold_points.sampling.find_switches",
            lambda details, house, found=found, detail=detail: {detail: (found, "crew")},
        )
        settle_samples(site.point("H5"), site.house)
        kept = Check.objects.filter(pk__in=[one.pk for one in checks])
        drawn[severity] = sum(one.sample["drawn"] for one in kept)
        assert checks[0].pk in {one.pk for one in kept if one.sample["drawn"]}
    assert drawn == {"tightened": 2, "normal": 1}


def test_where_to_look_cannot_be_known_beforehand(site, settings):
    """Another secret, another draw: of fifty installations hardly two choose the same three spots."""
    check = site.check("full", "bed")
    rows = load_point(check.inspection)
    draws = set()
    for _turn in range(50):
        settings.SECRET_KEY = secrets.token_hex(20)
        spots = draw_spots(check, rows)
        assert spots is not None
        draws.add(spots.percents)
        assert all(0 <= one < 100 for one in spots.percents)
    assert len(draws) > 45
