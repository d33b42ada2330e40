"""Re-planning: published slips, what moved and why, holidays that stay, told dates that follow."""

import datetime as dt

import holidays
import pytest

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import CalendarDay
from coordination.people.refusals import BadInput
from coordination.sequence import bookings, calendars, told_dates
from coordination.sequence.house_network import WhatIf
from coordination.sequence.models import Delay, Plan
from coordination.sequence.moves import read_moves
from coordination.sequence.progress import add_delay
from coordination.sequence.reasons import say_reason, say_warning
from coordination.sequence.replanning import current_plan, preview, replan
from tests.sequence.brick_veneer import date_of, plan_of, says, working_half_days

pytestmark = pytest.mark.django_db

SLIPS = [
    ({"H5": 2}, 78, 139),
    ({"caps": 2}, 76, 139),
    ({"caps": 6}, 79, 139),
    ({"caps": 8}, 81, 144),
    ({"brick": 6}, 82, 145),
    ({"H2": 2}, 78, 139),
    ({"plumb": 4}, 76, 139),
    ({"roof": 4}, 77, 139),
    ({"brick": 6, "caps": 6}, 82, 145),
]
"""Published with the sequence: delays, then half-days from the start to linings and end (no holidays)."""


@pytest.mark.parametrize(("delays", "linings", "end"), SLIPS)
def test_slips_move_linings_and_end_as_published(office_without_holidays, delays, linings, end):
    house = office_without_holidays.house()
    for key, half_days in delays.items():
        add_delay(house.activities.get(key=key), half_days, "rain", office_without_holidays.planner)
    assert working_half_days(house, date_of(house, "linings").es) == linings
    assert working_half_days(house, plan_of(house).finish) == end


def test_a_preview_says_the_same_as_the_slip_itself_and_saves_nothing(office_without_holidays):
    house = office_without_holidays.house()
    for delays, linings, end in SLIPS:
        seen = preview(house, WhatIf(delays=delays))
        assert working_half_days(house, seen.stake_after) == linings
        assert working_half_days(house, seen.finish_after) == end
        assert (seen.stake_before, seen.finish_before) == (plan_of(house).stake_start, plan_of(house).finish)
    assert (Plan.objects.count(), Delay.objects.count()) == (1, 0)


def test_a_preview_names_what_moves_whose_it_is_and_the_change_that_drives_it(office_without_holidays):
    house = office_without_holidays.house()
    seen = {move.key: move for move in preview(house, WhatIf(delays={"caps": 6})).moved}
    assert {"caps", "H4", "perimeter", "ceil-batts", "wall-batts", "linings"} <= set(seen)
    assert "plumb" not in seen
    linings = seen["linings"]
    assert (linings.by, linings.driver, linings.trade) == (3, "caps", "plasterer")
    assert linings.start_before == date_of(house, "linings").start
    assert working_half_days(house, linings.start_after) == 79
    assert (seen["caps"].by, seen["caps"].start_before) == (6, seen["caps"].start_after)


def test_the_next_plan_keeps_what_moved_against_the_one_before(office_without_holidays):
    house = office_without_holidays.house()
    first = plan_of(house)
    add_delay(house.activities.get(key="brick"), 6, "bricks came late", office_without_holidays.planner)
    second = plan_of(house)
    assert (first.number, second.number, first.moved) == (1, 2, [])
    moved = {move.key: move for move in read_moves(second.moved)}
    assert moved["linings"].driver == "brick"
    assert moved["linings"].by == 6
    assert "caps" not in moved
    assert "bricks came late" in second.cause
    assert second.by == office_without_holidays.planner
    add_delay(house.activities.get(key="brick"), -6, "they came after all", None)
    back = {move.key: move for move in read_moves(plan_of(house).moved)}
    assert back["linings"].by == -6
    assert back["linings"].driver == "brick"
    assert plan_of(house).finish == first.finish


def test_an_unknown_activity_or_visit_in_a_preview_is_refused(office):
    house = office.house()
    with pytest.raises(BadInput, match="no such activity"):
        preview(house, WhatIf(delays={"roofs": 2}))
    with pytest.raises(BadInput, match="no such visit"):
        preview(house, WhatIf(crews={"roofs": office.crew("roof-plumber", "High Tin")}))


def test_a_preview_of_another_crew_counts_its_calendar(office_without_holidays):
    """A crew of mornings only takes sixteen days for sixteen half-days of brick."""
    house = office_without_holidays.house()
    slow = office_without_holidays.crew("bricklayer", "Half Day Bricks")
    slow.calendar.week = [1, 1, 1, 1, 1, 0, 0]
    slow.calendar.save()
    visit = house.activities.get(key="brick").visit
    assert visit is not None
    seen = preview(house, WhatIf(crews={visit.key: slow}))
    brick = next(move for move in seen.moved if move.key == "brick")
    mornings = sum(t % 2 == 0 and t // 2 % 7 < 5 for t in range(brick.start_after, brick.last_after + 1))
    assert mornings == 16
    assert brick.last_after % 2 == 0
    assert (seen.stake_after or 0) > (seen.stake_before or 0)


# ------------------------------------------------------------------ calendars


def test_a_shutdown_and_the_holidays_around_it_are_not_worked(office):
    """Published: start Mon 5 Oct 2026, shutdown 21 Dec to 8 Jan: linings 26 Nov, end Mon 1 Feb 2027."""
    CalendarDay.objects.create(
        calendar=office.calendar,
        first_day=dt.date(2026, 12, 21),
        last_day=dt.date(2027, 1, 8),
        why="summer shutdown",
    )
    house = office.house(starts_on=dt.date(2026, 10, 5))
    assert says(date_of(house, "linings").start)[:10] == "2026-11-26"
    assert says(plan_of(house).finish - 1)[:10] == "2027-02-01"
    assert set(plan_of(house).calendars["public_holidays"]) == {"2026", "2027"}


def test_another_library_of_holidays_moves_no_date_of_a_year_that_was_resolved(office, monkeypatch):
    house = office.house()
    before = list(plan_of(house).dates.order_by("activity").values_list("es", "ef"))
    told = holidays.country_holidays

    def with_one_more(*args, **kwargs):
        return {**told(*args, **kwargs), dt.date(2026, 2, 3): "Day of the upgrade"}

    monkeypatch.setattr(holidays, "country_holidays", with_one_more)
    replan(house, cause="the library was upgraded")
    assert list(plan_of(house).dates.order_by("activity").values_list("es", "ef")) == before
    replan(house, cause="its holidays are taken over", fresh_holidays=True)
    assert says(date_of(house, "drains").start) == "2026-02-05 am"


def test_a_region_that_moves_to_another_state_gets_that_states_holidays(office):
    house = office.house()
    office.region.subdivision = "VIC"
    office.region.save()
    plan = replan(house, cause="the region was corrected")
    assert plan.calendars["holidays_key"] == "AU-VIC"
    assert "2026-11-03" in plan.calendars["public_holidays"]["2026"], "the Cup is run in Melbourne"


def test_a_day_of_the_region_counts_at_once_and_rain_reaches_outdoor_work_only(office_without_holidays):
    house = office_without_holidays.house()
    plumb, brick = date_of(house, "plumb"), date_of(house, "brick")
    day, _half = clock.as_date(plumb.last)
    assert brick.start < plumb.last < brick.last
    house.region.days.create(first_day=day, outdoor_only=True, why="rain")
    replan(house, cause="rain")
    assert date_of(house, "plumb").last == plumb.last
    assert working_half_days(house, date_of(house, "brick").ef) == working_half_days(house, brick.ef) + 2
    house.region.days.create(first_day=day, why="regatta")
    replan(house, cause="regatta")
    assert working_half_days(house, date_of(house, "plumb").ef) == working_half_days(house, plumb.ef) + 2


def test_the_half_days_off_are_kept_with_the_plan_and_their_reason(office):
    house = office.house()
    stored = calendars.read_stored(plan_of(house).calendars)
    weekdays = stored[calendars.calendar_key(office.calendar.pk)]
    friday = clock.as_half_day(dt.date(2026, 4, 3))
    assert weekdays.why_not(friday) == "Good Friday"
    assert not weekdays.works(friday)
    assert weekdays.works(friday - 1)
    assert not weekdays.works(friday + 2), "a Saturday"


# ------------------------------------------------------------------ reasons in words


def test_reasons_are_said_in_the_words_of_the_trade(office, monday_morning):
    house = office.house()
    names = dict(house.activities.values_list("key", "name"))

    def said(key):
        return say_reason(date_of(house, key).reason, names)

    assert said("set-out") == "not before Mon 2 Feb, morning"
    assert said("H5").startswith("after Wall batts")
    assert said("H5").endswith("finishes Tue 24 Mar, afternoon")
    assert (
        said("linings") == "after Insulation finishes Wed 25 Mar, morning, and 1½ days of word for the crew"
    )
    assert said("frame-del").endswith("and 5 days more, weekends counted")


def test_a_start_held_up_by_a_holiday_says_which(office, monday_morning):
    """Bricks end on Thu 2 Apr: what follows waits for Good Friday and Easter Monday to pass."""
    house = office.house()
    names = dict(house.activities.values_list("key", "name"))
    brick = date_of(house, "brick")
    late = sum(1 for t in range(brick.ef, clock.as_half_day(dt.date(2026, 4, 3))) if t // 2 % 7 < 5)
    add_delay(house.activities.get(key="brick"), late, "bricks came late", None)
    assert says(date_of(house, "brick").last) == "2026-04-02 pm"
    assert say_reason(date_of(house, "eaves").reason, names) == (
        "after Brick veneer finishes Thu 2 Apr, afternoon; "
        "no work from Fri 3 Apr to Mon 6 Apr (Good Friday, Easter Monday)"
    )


def test_a_house_wanted_too_early_has_negative_float_and_a_warning(office):
    house = office.house(required_by=dt.date(2026, 5, 8))
    assert date_of(house, "defects").total_float == -5
    assert date_of(house, "set-out").critical
    names = dict(house.activities.values_list("key", "name"))
    late = [one for one in plan_of(house).warnings if one["kind"] == "late"]
    assert [one["key"] for one in late] == ["defects"]
    assert "wanted by Fri 8 May" in say_warning(late[0], names, {})


# ------------------------------------------------------------------ told dates, transactions


def test_a_told_date_follows_and_the_crew_is_told_once(office_without_holidays, monday_morning):
    monday_morning.move_to(dt.datetime(2026, 2, 1, 22, 0, tzinfo=dt.UTC), tick=False)
    bricks = office_without_holidays.crew("bricklayer", "Red Courses")
    house = office_without_holidays.house(crews={"bricklayer": bricks})
    booking = bookings.pencil(house.bookings.get(crew=bricks), by=office_without_holidays.planner)
    start = booking.told_start
    Message.objects.all().delete()
    seen = preview(house, WhatIf(delays={"windows": 4}))
    assert [(one.booking.pk, one.frozen) for one in seen.told] == [(booking.pk, False)]
    add_delay(house.activities.get(key="windows"), 4, "glass broken", office_without_holidays.planner)
    booking.refresh_from_db()
    assert booking.told_start == date_of(house, "brick").start == seen.told[0].start
    assert start is not None
    assert booking.told_start > start
    told = Message.objects.filter(crew=bricks)
    assert told.count() == 1
    add_delay(house.activities.get(key="external"), 1, "soft ground", None)
    assert Message.objects.filter(crew=bricks).count() == 1, "what does not move is not told"


def test_nothing_is_saved_when_telling_fails(office, monkeypatch):
    house = office.house()

    def fail(house, plan):
        raise RuntimeError("no more messages")

    monkeypatch.setattr(told_dates, "tell_moved", fail)
    with pytest.raises(RuntimeError):
        add_delay(house.activities.get(key="brick"), 2, "rain", None)
    assert (Plan.objects.count(), Delay.objects.count(), house.changes.filter(what="delay").count()) == (
        1,
        0,
        0,
    )


def test_the_current_plan_is_the_latest(office):
    house = office.house()
    second = replan(house, cause="a second look")
    assert second.number == 2
    assert current_plan(house) == second
