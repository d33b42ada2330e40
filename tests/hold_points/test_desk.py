"""The office's page and what stands behind it: rates with intervals, odd walks, what needs a walk."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from coordination.sequence import bookings
from coordination.sequence.models import Activity, Detail, House
from hold_points.desk import list_rework
from hold_points.models import Check, Evidence, Nonconformity
from hold_points.plausibility import Judged, Picture, find_fast, find_same_numbers, find_seen_before
from hold_points.rates import Rate, count_rates
from tests.hold_points.houses import make_site
from tests.visits.test_misses_on_the_page import STORED

START = dt.datetime(2026, 4, 13, 9, 0, tzinfo=dt.UTC)
DESK = "/walks/desk/"


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_is_that_of_scipy(counts):
    met, looked_at = counts
    reference = binomtest(met, looked_at).proportion_ci(confidence_level=0.95, method="wilson")
    assert Rate(met, looked_at).interval == pytest.approx((reference.low, reference.high), abs=1e-9)


def test_few_looks_come_after_many_bad_ones():
    looks = [("few", False)] * 2 + [("many", False)] * 20 + [("good", True)] * 20
    assert list(count_rates(looks)) == ["many", "few", "good"]
    assert (Rate(0, 0).interval, Rate(0, 0).percent) == ((0.0, 1.0), 0)


def walk(count, seconds, by=1, value=None):
    step = dt.timedelta(seconds=seconds / max(count - 1, 1))
    return [Judged(7, by, "airway", n, START + n * step, value, value is not None) for n in range(count)]


@pytest.mark.parametrize(
    ("count", "seconds", "odd"), [(40, 240, True), (39, 240, False), (40, 300, False), (60, 200, True)]
)
def test_forty_checks_in_four_minutes_are_odd(count, seconds, odd):
    found = find_fast(walk(count, seconds))
    assert [one.count for one in found] == ([count] if odd else [])


def test_two_people_on_one_walk_are_not_added_up():
    assert find_fast([*walk(30, 200, by=1), *walk(30, 200, by=2)]) == []


def test_the_same_number_in_all_places_is_odd_and_one_other_number_ends_that():
    assert [one.value for one in find_same_numbers(walk(4, 900, value=31.5))] == [31.5]
    assert find_same_numbers(walk(3, 900, value=31.5)) == []
    other = Judged(7, 1, "airway", 0, START + dt.timedelta(hours=1), 30.0, True)
    assert find_same_numbers([*walk(4, 900, value=31.5), other]) == []


def test_a_picture_of_another_house_is_found_at_the_later_one():
    later = START + dt.timedelta(days=1)
    pictures = [Picture(8, 2, "a", later), Picture(7, 1, "a", START), Picture(9, 2, "b", later)]
    assert [(one.inspection, one.house) for one in find_seen_before(pictures)] == [(8, 1)]


def test_the_page_lists_what_waits_for_whom_and_odd_walks_for_the_assessor_alone(site, client):
    site.release_all("H3")
    site.find(site.check("pipe-off"), "not met", note="rests on the chord")
    bookings.report_under_way(site.pencil("batts"), crew=site.crews["installer"])
    first = Evidence.objects.filter(house=site.house, inspection__isnull=False).first()
    assert first is not None
    other = make_site_of_same_builder(site)
    first.pk, first.house, first.outcome, first.check_shown = None, other, None, None
    first.received_at += dt.timedelta(days=1)
    first.inspection = other.inspections.get(point__key="H3")
    first.save()
    client.force_login(site.planner)
    page = client.get(DESK).content.decode()
    assert "Saltbush Plumber crew" in page
    assert "No pipe rests on a chord." in page
    assert "Went past a hold point" in page
    assert "Pockets" in page
    assert "20–100 %" in page, "one look of one says nearly nothing: Wilson's interval is 0.207 to 1"
    assert "Walks to ask about" not in page
    client.force_login(site.assessor)
    assert "photographs were sent for Lot 7, Saltbush Rise before" in client.get(DESK).content.decode()


def make_site_of_same_builder(site):
    from coordination.people.models import Region, WorkingCalendar
    from coordination.sequence.set_out import SetOut, set_out

    return set_out(
        SetOut(
            builder=site.builder,
            version=site.house.sequence_version,
            key="lot-9",
            name="Lot 9",
            region=Region.objects.get(builder=site.builder),
            calendar=WorkingCalendar.objects.get(builder=site.builder),
            starts_on=dt.date(2026, 4, 13),
            supervisor=site.supervisor,
            crews=site.crews,
        ),
        site.planner,
    )


def test_an_open_hold_that_is_being_covered_needs_a_walk(site, client):
    client.force_login(site.supervisor)
    assert "No open hold point is being covered" in client.get(DESK).content.decode()
    Activity.objects.filter(house=site.house, key="batts").update(actual_start=1, actual_finish=2)
    page = client.get(DESK).content.decode()
    assert "Services and air seal" in page
    assert "Covering has begun: Batts. Not yet: Plasterboard fixed." in page


def test_another_builders_people_see_nothing_of_it(site, client):
    site.find(site.check("pipe-off"), "not met")
    client.force_login(make_site("lot-8", "wattle").assessor)
    assert "Saltbush" not in client.get(DESK).content.decode()


def test_what_is_dearest_to_leave_stands_first_in_the_list_of_rework(site, client):
    """Safety, then the miss that costs most: not what was found first."""
    details = Detail.objects.filter(house=site.house)
    details.filter(key="d-pipes").update(miss={**STORED, "loss": 4.0, "mould": False})
    details.filter(key="d-lagging").update(miss={**STORED, "loss": 0.3, "mould": False})
    for key in ("lagged", "pipe-off", "hot"):
        check = Check.objects.filter(inspection__house=site.house, key=key, withdrawn_at=None).first()
        assert check is not None
        site.find(check, "not met")
    Nonconformity.objects.update(crew=site.crews["plumber"])
    [group] = list_rework(House.objects.filter(pk=site.house.pk))
    assert [one.failed.key for one in group.items] == ["hot", "pipe-off", "lagged"]
    client.force_login(site.planner)
    page = client.get(DESK).content.decode()
    shown = [page.index(one.failed.text) for one in group.items]
    assert shown == sorted(shown)
    assert "Each void left open loses 4 W/K" in page
