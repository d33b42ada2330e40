"""Calendars of a house: which rule wins, what is kept, what is refused. Holidays from `holidays`."""

import datetime as dt

import pytest

from coordination import clock
from coordination.people.models import Region, WorkingCalendar
from coordination.people.refusals import BadInput
from coordination.sequence.calendars import calendar_key, half_days_of, read_stored, resolve_calendars
from coordination.sequence.moves import count_working
from tests.sequence.builders import make_builder

pytestmark = pytest.mark.django_db

GOOD_FRIDAY = clock.as_half_day(dt.date(2026, 4, 3))


@pytest.fixture
def region():
    return Region.objects.create(builder=make_builder(), key="south", name="South")


@pytest.fixture
def weekdays(region):
    return WorkingCalendar.objects.create(builder=region.builder, key="weekdays", name="Weekdays")


def resolve(region, calendar, outdoor=False, **extra):
    days = resolve_calendars(region, [calendar.pk], [2026], **extra)
    return days.calendars[calendar_key(calendar.pk, outdoor=outdoor)]


def test_a_public_holiday_is_not_worked_and_says_its_name(region, weekdays):
    calendar = resolve(region, weekdays)
    worked = {t: calendar.works(t) for t in (GOOD_FRIDAY - 1, GOOD_FRIDAY, GOOD_FRIDAY + 1)}
    assert worked == {GOOD_FRIDAY - 1: True, GOOD_FRIDAY: False, GOOD_FRIDAY + 1: False}
    assert calendar.why_not(GOOD_FRIDAY) == "Good Friday"


def test_a_holiday_that_the_region_does_not_keep_is_a_day_of_the_week_again(region, weekdays):
    region.days.create(
        first_day=dt.date(2026, 4, 3), last_day=dt.date(2026, 4, 5), worked=True, why="not here"
    )
    calendar = resolve(region, weekdays)
    assert calendar.works(GOOD_FRIDAY)
    assert not calendar.works(GOOD_FRIDAY + 2), "a Saturday stays a Saturday"


def test_a_calendars_own_day_wins_over_week_and_region(region, weekdays):
    region.days.create(first_day=dt.date(2026, 4, 11), why="regatta")
    weekdays.days.create(first_day=dt.date(2026, 4, 11), first_half="am", worked=True, why="to catch up")
    saturday = clock.as_half_day(dt.date(2026, 4, 11))
    calendar = resolve(region, weekdays)
    assert (calendar.works(saturday), calendar.works(saturday + 1)) == (True, False)
    assert calendar.on == {saturday}


def test_rain_is_known_to_the_outdoor_variant_alone(region, weekdays):
    region.days.create(first_day=dt.date(2026, 4, 8), first_half="pm", outdoor_only=True, why="rain")
    afternoon = clock.as_half_day(dt.date(2026, 4, 8), "pm")
    assert resolve(region, weekdays).works(afternoon)
    outdoors = resolve(region, weekdays, outdoor=True)
    assert not outdoors.works(afternoon)
    assert outdoors.works(afternoon - 1)
    assert outdoors.why_not(afternoon) == "rain"


def test_a_week_of_mornings_has_no_afternoons(region, weekdays):
    weekdays.week = [1, 1, 1, 1, 1, 0, 0]
    weekdays.save()
    monday = clock.as_half_day(dt.date(2026, 4, 13))
    calendar = resolve(region, weekdays)
    assert count_working(calendar, monday, monday + 14) == 5
    assert count_working(calendar, monday + 14, monday) == -5


def test_what_is_stored_reads_back_and_keeps_its_holidays(region, weekdays):
    weekdays.days.create(first_day=dt.date(2026, 12, 21), last_day=dt.date(2026, 12, 24), why="shutdown")
    days = resolve_calendars(region, [weekdays.pk], [2026])
    stored = days.as_stored()
    assert read_stored(stored) == dict(days.calendars)
    stored["public_holidays"]["2026"] = {"2026-04-01": "a day that no library knows"}
    calendar = resolve(region, weekdays, stored=stored)
    assert calendar.works(GOOD_FRIDAY)
    assert not calendar.works(clock.as_half_day(dt.date(2026, 4, 1)))
    later = resolve_calendars(region, [weekdays.pk], [2026, 2027], stored)
    assert "2027-03-26" in later.public_holidays[2027]
    assert later.last_year == 2027


def test_spans_are_half_a_day_a_day_or_several(region):
    monday = dt.date(2026, 4, 13)
    first = clock.as_half_day(monday)
    for given, expected in (
        ({"first_half": "am"}, range(first, first + 1)),
        ({"first_half": "pm"}, range(first + 1, first + 2)),
        ({}, range(first, first + 2)),
        ({"last_day": dt.date(2026, 4, 14)}, range(first, first + 4)),
    ):
        assert half_days_of(region.days.model(region=region, first_day=monday, why="x", **given)) == expected
    with pytest.raises(BadInput, match="Swap them"):
        half_days_of(region.days.model(first_day=monday, last_day=dt.date(2026, 4, 12), why="x"))


@pytest.mark.parametrize("week", [[2, 2, 2], [3, 2, 2, 2, 2, 0, 0], [0] * 7, "2222200"])
def test_a_calendar_that_never_works_or_has_no_week_is_named(region, weekdays, week):
    weekdays.week = week
    weekdays.save()
    with pytest.raises(BadInput, match="calendar Weekdays"):
        resolve(region, weekdays)


def test_an_unknown_country_or_state_is_named(region, weekdays):
    region.country, region.subdivision = "XX", ""
    with pytest.raises(BadInput, match="region South: No public holidays are known for XX"):
        resolve(region, weekdays)
