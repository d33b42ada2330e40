"""When a crew is told. The rules of timing are the trade's practice (no source).

Working days are checked with NumPy.
"""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coordination import clock
from coordination.reminders.due import (
    SiteDays,
    Times,
    VisitFacts,
    Window,
    due_messages,
    is_quiet,
)

HOBART = ZoneInfo("Australia/Hobart")
TIMES = Times(zone="Australia/Hobart", digest_at=dt.time(15, 30))


def at(text: str) -> dt.datetime:
    """A moment in Hobart: '2026-03-10 15:30'."""
    return dt.datetime.fromisoformat(text).replace(tzinfo=HOBART)


def visit(start: str = "2026-03-13", half_days: int = 6, **changes: Any) -> VisitFacts:
    """The plumber's visit, told for Friday 13 March 2026 unless said otherwise."""
    first = clock.as_half_day(dt.date.fromisoformat(start))
    facts: dict[str, Any] = {
        "booking": 1,
        "crew": 7,
        "builder": 3,
        "house": "Lot 7",
        "visit": "Rough-in",
        "state": "pencilled",
        "told_start": first,
        "told_finish": first + half_days,
    }
    return VisitFacts(**(facts | changes))


def kinds(visits, now, times=TIMES):
    return [due.kind for due in due_messages(visits, times, now)]


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ("2026-03-10 15:29", []),
        ("2026-03-10 15:30", ["visit"]),
        ("2026-03-11 10:00", ["visit"]),
        ("2026-03-12 15:29", ["visit"]),
    ],
)
def test_the_visit_reminder_is_due_three_working_days_before_at_the_hour_of_the_digest(now, expected):
    assert kinds([visit()], at(now)) == expected


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ("2026-03-12 15:30", ["eve", "look-ahead"]),
        ("2026-03-13 10:59", ["eve", "look-ahead"]),
        ("2026-03-13 11:00", ["look-ahead"]),
    ],
)
def test_the_eve_takes_the_reminders_place_until_the_first_half_day_is_over(now, expected):
    assert kinds([visit()], at(now)) == expected


def test_a_monday_visit_is_announced_on_the_friday_before():
    monday = visit("2026-03-16")
    assert "eve" not in kinds([monday], at("2026-03-13 15:29"))
    assert "eve" in kinds([monday], at("2026-03-13 15:30"))


def test_easter_is_no_working_day_before_a_visit():
    # Good Friday and Easter Monday 2026 are 3 and 6 April (public holidays of Tasmania).
    easter = SiteDays(off=frozenset({dt.date(2026, 4, 3), dt.date(2026, 4, 6)}))
    tuesday = visit("2026-04-07", days=easter)
    assert "eve" not in kinds([tuesday], at("2026-04-02 15:29"))
    assert "eve" in kinds([tuesday], at("2026-04-02 15:30"))


@pytest.mark.parametrize("state", ["done", "declined", "stood down"])
def test_nothing_is_said_of_a_visit_that_is_over_or_off(state):
    assert kinds([visit(state=state)], at("2026-03-12 16:00")) == []


def test_nothing_is_said_before_a_visit_that_has_begun():
    assert kinds([visit(started=True, state="under way")], at("2026-03-12 16:00")) == []


def test_a_window_is_called_half_way_and_on_the_last_half_day():
    told = visit(start="2026-03-09", half_days=2)
    walk = clock.as_half_day(dt.date(2026, 3, 19))
    window = Window("pipes", "d10", due=walk, buried=walk + 4, walk="Services")
    open_visit = visit(start="2026-03-09", half_days=2, windows=(window,), started=True)
    half_way = told.told_finish + (walk - told.told_finish) // 2
    half_day, _half = clock.as_date(half_way)
    assert half_day == dt.date(2026, 3, 14), "a Saturday, so it is said on the Friday"
    assert kinds([open_visit], at("2026-03-13 06:59")) == []
    assert kinds([open_visit], at("2026-03-13 07:00")) == ["window"]
    assert [due.version for due in due_messages([open_visit], TIMES, at("2026-03-18 07:00"))] == [
        f"half:{walk}",
        f"last:{walk}",
    ]
    assert kinds([open_visit], at("2026-03-19 07:00")) == [], "the walk has begun"


def test_a_window_is_silent_once_the_work_is_done():
    walk = clock.as_half_day(dt.date(2026, 3, 19))
    window = Window("pipes", "d10", due=walk, buried=walk + 4, walk="Services", done=True)
    assert kinds([visit(start="2026-03-09", windows=(window,), started=True)], at("2026-03-18 08:00")) == []


def test_one_look_ahead_per_crew_on_thursday_lists_ten_working_days_in_order():
    visits = [
        visit("2026-03-26", booking=1),
        visit("2026-03-13", booking=2),
        visit("2026-03-27", booking=3),
        visit("2026-03-16", booking=4, crew=8),
    ]
    found = [due for due in due_messages(visits, TIMES, at("2026-03-12 15:30")) if due.kind == "look-ahead"]
    assert [(due.crew, due.bookings) for due in found] == [(7, (2, 1)), (8, (4,))]
    assert [due.kind for due in due_messages(visits, TIMES, at("2026-03-12 15:29"))] == ["visit", "visit"]


def test_asking_twice_gives_the_same_keys():
    visits = [visit(), visit("2026-03-16", booking=2)]
    first = due_messages(visits, TIMES, at("2026-03-12 15:30"))
    second = due_messages(reversed(visits), TIMES, at("2026-03-12 15:31"))
    assert [(due.kind, due.about, due.version) for due in first] == [
        (due.kind, due.about, due.version) for due in second
    ]


@pytest.mark.parametrize(
    ("now", "quiet"),
    [
        ("2026-03-12 17:59", False),
        ("2026-03-12 18:00", True),
        ("2026-03-13 06:29", True),
        ("2026-03-13 06:30", False),
        ("2026-03-14 10:00", False),
        ("2026-03-15 10:00", True),
        ("2026-04-03 10:00", True),
    ],
)
def test_nights_sundays_and_holidays_are_quiet(now, quiet):
    holidays = SiteDays(off=frozenset({dt.date(2026, 4, 3)}))
    assert (
        is_quiet(
            at(now),
            zone="Australia/Hobart",
            quiet_from=dt.time(18),
            quiet_until=dt.time(6, 30),
            days=holidays,
        )
        is quiet
    )


@pytest.mark.parametrize(
    ("start", "utc_hour"),
    [
        # Clocks in Hobart go back on Sunday 5 April 2026 and forward on Sunday 4 October 2026 (IANA tz
        # database): the same 15:30 is 4:30 UTC in summer and 5:30 UTC in winter.
        ("2026-04-06", 4),
        ("2026-04-09", 5),
        ("2026-10-05", 5),
        ("2026-10-08", 4),
    ],
)
def test_the_hour_of_the_digest_stays_the_same_on_the_wall_when_clocks_change(start, utc_hour):
    found = due_messages([visit(start)], TIMES, at("2026-12-01 00:00"))
    assert found == [], "long past"
    day = dt.date.fromisoformat(start)
    [first, *_rest] = due_messages([visit(start)], TIMES, at(f"{day - dt.timedelta(days=1)} 23:00"))
    moment = first.at.astimezone(dt.UTC)
    assert (moment.hour, moment.minute) == (utc_hour, 30)


dates = st.dates(dt.date(2026, 1, 1), dt.date(2027, 12, 31))


@given(day=dates, count=st.integers(1, 30), off=st.frozensets(dates, max_size=12))
def test_working_days_back_and_ahead_agree_with_numpy(day, count, off):
    # numpy.busday_offset is the outside judge. Rolling first makes the two conventions meet.
    days = SiteDays(off=off)
    listed = sorted(off)
    back = np.busday_offset(day, -count, roll="following", holidays=listed)
    ahead = np.busday_offset(day, count, roll="preceding", holidays=listed)
    assert days.back(day, count) == back.astype(dt.date)
    assert days.ahead(day, count) == ahead.astype(dt.date)
