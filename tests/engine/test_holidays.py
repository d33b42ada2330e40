"""Public holidays against the `holidays` library and the days that states have declared."""

import datetime as dt

import holidays as library
import pytest

from coordination.engine import Refused, WorkingCalendar, as_date, as_half_day
from coordination.engine.exchange import public_holidays, resolve_holidays, restore_holidays, store_holidays


@pytest.mark.parametrize("state", ["TAS", "VIC", "NSW", "QLD", "WA"])
def test_resolved_days_are_those_of_the_library(state):
    expected = library.country_holidays("AU", subdiv=state, years=[2026, 2027], language="en_AU")
    assert resolve_holidays(f"AU-{state}", 2026, 2027) == dict(expected)


def test_names_are_australian():
    assert resolve_holidays("AU-VIC", 2026, 2026)[dt.date(2026, 3, 9)] == "Labour Day"


def test_observed_days_are_among_them():
    """Boxing Day 2026 is a Saturday; Tasmania keeps it on Monday 28 December."""
    assert dt.date(2026, 12, 28) in resolve_holidays("AU-TAS", 2026, 2026)


def test_school_and_bank_days_are_not_among_them():
    assert len(resolve_holidays("AU-TAS", 2026, 2026)) == 9


@pytest.mark.parametrize(
    ("state", "year", "days"),
    [("VIC", 2026, 251), ("VIC", 2027, 251), ("TAS", 2026, 253), ("TAS", 2027, 253), ("NSW", 2026, 252)],
)
def test_working_days_of_a_year(state, year, days):
    calendar = WorkingCalendar(holidays=public_holidays(f"AU-{state}"))
    first, last = (as_half_day(dt.date(y, 1, 1)) for y in (year, year + 1))
    assert calendar.count(first, last) == 2 * days


def test_a_country_without_states_works_too():
    assert dt.date(2026, 2, 6) in resolve_holidays("NZ", 2026, 2026)  # Waitangi Day


@pytest.mark.parametrize("place", ["AU-XX", "ZZ", "Tasmania", "-TAS"])
def test_unknown_places_are_refused_at_once(place):
    with pytest.raises(Refused, match=place):
        public_holidays(place)


def test_years_that_the_library_does_not_know_are_refused_rather_than_free_of_holidays():
    calendar = WorkingCalendar(holidays=public_holidays("AU-TAS"))
    with pytest.raises(Refused, match="known up to 2100 only"):
        calendar.before(as_half_day(dt.date(2101, 1, 1)))
    calendar.before(as_half_day(dt.date(2026, 1, 1)))
    assert calendar.kth(calendar.before(as_half_day(dt.date(2090, 1, 3)))) == as_half_day(dt.date(2090, 1, 3))


def test_no_more_years_are_asked_for_than_work_needs():
    """Sixty years of work from 2026 stay before 2100; an horizon that doubled would have asked for 2121."""
    calendar = WorkingCalendar(holidays=public_holidays("AU-TAS"))
    last = calendar.finish_of(as_half_day(dt.date(2026, 2, 2)), 31_000)
    assert dt.date(2086, 1, 1) < as_date(last)[0] < dt.date(2089, 1, 1)


def test_stored_days_stay_whatever_the_library_says_later():
    told = {2026: [dt.date(2026, 2, 9)], 2027: []}
    kept = public_holidays("AU-TAS", told)
    again = restore_holidays(store_holidays(kept))
    assert again.of_year(2026) == {dt.date(2026, 2, 9)}
    assert again.of_year(2027) == frozenset()
    assert again.of_year(2028) == set(resolve_holidays("AU-TAS", 2028, 2028))


def test_what_a_plan_has_asked_for_is_what_is_stored():
    asked = public_holidays("AU-TAS")
    WorkingCalendar(holidays=asked).before(as_half_day(dt.date(2026, 2, 2)))
    years = store_holidays(asked)["years"]
    assert "2026-03-09" in years["2026"]
    assert set(years) == {"2025", "2026", "2027", "2028"}


@pytest.mark.parametrize(
    "stored",
    [
        {"place": "AU-TAS"},
        {"place": "AU-TAS", "years": {"2026": ["9 March"]}},
        {"place": "AU-TAS", "years": {"this": []}},
        {"place": "AU-TAS", "years": {}, "extra": 1},
        {"place": "AU-XX", "years": {}},
    ],
)
def test_damaged_storage_is_refused(stored):
    with pytest.raises(Refused):
        restore_holidays(stored)


def test_a_range_of_years_backwards_is_refused():
    with pytest.raises(Refused, match="end before they start"):
        resolve_holidays("AU-TAS", 2027, 2026)
