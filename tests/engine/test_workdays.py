"""Working calendars against NumPy's business days and against counting one by one."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination.engine import (
    BeyondTime,
    Holidays,
    Refused,
    WorkingCalendar,
    as_date,
    as_half_day,
    write_half_day,
)
from coordination.engine.workdays import END_OF_TIME, FIRST_INSTANT, add_lag, take_lag
from tests.engine.networks import MONDAY
from tests.engine.strategies import calendars

GOOD_FRIDAY = dt.date(2026, 4, 3)
EASTER_MONDAY = dt.date(2026, 4, 6)
EASTER = (GOOD_FRIDAY, EASTER_MONDAY)
quick = settings(max_examples=200, derandomize=True)


def numpy_day(half_day):
    return np.datetime64(as_date(half_day)[0])


def test_the_axis_begins_on_monday_5_january_1970_with_even_mornings():
    assert as_half_day(dt.date(1970, 1, 5)) == 0
    assert as_date(0)[0].weekday() == 0
    assert [as_date(t) for t in (-1, 1)] == [(dt.date(1970, 1, 4), "pm"), (dt.date(1970, 1, 5), "pm")]
    assert write_half_day(MONDAY + 1) == "2026-02-02 pm"


@quick
@given(st.integers(0, 900), st.integers(0, 300))
def test_counts_of_whole_days_agree_with_numpy_busday_count(offset, length):
    calendar = WorkingCalendar(holidays=EASTER)
    start = MONDAY + 2 * offset
    finish = start + 2 * length
    days = np.busday_count(numpy_day(start), numpy_day(finish), holidays=list(EASTER))
    assert calendar.count(start, finish) == 2 * days
    assert calendar.count(finish, start) == -2 * days


@quick
@given(st.integers(0, 900), st.integers(1, 300), st.sampled_from(["1111100", "1111110", "1010101"]))
def test_finishes_of_whole_days_agree_with_numpy_busday_offset(offset, days, mask):
    calendar = WorkingCalendar([2 * int(c) for c in mask], holidays=EASTER)
    first = calendar.next_start(MONDAY + 2 * offset, 1)
    last = np.busday_offset(numpy_day(first), days - 1, weekmask=mask, holidays=list(EASTER))
    assert numpy_day(calendar.finish_of(first, 2 * days) - 1) == last


def test_the_roll_over_easter_counts_from_the_next_working_day():
    """NumPy's forward roll: Good Friday + 1 is Wednesday 8 April; a backward roll would give Tuesday."""
    calendar = WorkingCalendar(holidays=EASTER)
    tuesday = calendar.next_start(as_half_day(GOOD_FRIDAY), 2)
    assert as_date(tuesday) == (dt.date(2026, 4, 7), "am")
    assert numpy_day(tuesday + 2) == np.busday_offset(GOOD_FRIDAY, 1, roll="forward", holidays=list(EASTER))


@quick
@given(calendars("a"), st.integers(MONDAY - 300, MONDAY + 300))
def test_before_and_kth_agree_with_counting_one_by_one(made, t):
    calendar, axis = made
    origin = MONDAY - 310
    assert calendar.before(t) - calendar.before(origin) == axis.count(origin, t)
    k = calendar.before(t)
    assert calendar.kth(k) == min(u for u in axis.worked if u >= t)
    assert calendar.before(calendar.kth(k)) == k
    assert calendar.works(t) == (t in axis.worked)


@quick
@given(calendars("a"), st.lists(st.integers(MONDAY - 900, MONDAY + 900), max_size=20))
def test_arrays_answer_like_single_questions(made, instants):
    calendar, _ = made
    counts = calendar.before_each(np.array(instants, dtype=np.int64))
    assert counts.tolist() == [calendar.before(t) for t in instants]
    assert calendar.kth_each(counts).tolist() == [calendar.kth(k) for k in counts.tolist()]


@quick
@given(calendars("a"), st.integers(MONDAY - 100, MONDAY + 100), st.integers(-12, 12))
def test_a_lag_is_the_least_instant_and_its_mirror_the_greatest(made, t, n):
    calendar, axis = made
    added = calendar.add(t, n)
    assert added == (axis.walk(t, n) if n else t)
    back = calendar.take(t, n)
    assert calendar.add(back, n) <= t < calendar.add(back + 1, n)


@quick
@given(calendars("a"), st.integers(MONDAY - 50, MONDAY + 50), st.integers(1, 12))
def test_bounds_on_a_finish_are_bounds_on_the_start(made, t, n):
    calendar, axis = made
    starts = sorted(u for u in axis.worked if abs(u - t) < 300)
    finishes = {u: axis.finish(u, n) for u in starts}
    assert calendar.start_to_finish_from(t, n) == min(u for u in starts if finishes[u] >= t)
    assert calendar.start_to_finish_by(t, n) == max(u for u in starts if finishes[u] <= t)
    assert calendar.last_start(t, n) == max(u for u in starts if u <= t)
    assert calendar.finish_of(starts[0], n) == finishes[starts[0]]


def test_milestones_lie_on_any_instant():
    calendar = WorkingCalendar()
    saturday = MONDAY + 10
    assert calendar.next_start(saturday, 0) == calendar.last_start(saturday, 0) == saturday
    assert calendar.start_to_finish_from(saturday, 0) == calendar.start_to_finish_by(saturday, 0) == saturday
    assert calendar.finish_of(saturday, 0) == saturday


def test_a_lag_counts_as_if_it_were_work():
    """Friday-afternoon finish + 10 in a five-day week: the end of next Friday."""
    calendar = WorkingCalendar()
    saturday = MONDAY + 10
    assert add_lag(saturday, 10, calendar) == saturday + 14
    assert add_lag(saturday, 0, calendar) == take_lag(saturday, 0, calendar) == saturday
    assert add_lag(saturday, 3, None) == saturday + 3
    assert take_lag(saturday, 3, None) == saturday - 3
    # One half-day back from Monday morning: everything of Friday afternoon is undone.
    assert add_lag(MONDAY, -1, calendar) == MONDAY - 5


def test_half_days_on_win_over_half_days_off_and_these_over_the_week():
    wednesday = MONDAY + 4
    calendar = WorkingCalendar(off={wednesday, wednesday + 1}, on={wednesday + 1, MONDAY + 10})
    assert [calendar.works(wednesday + n) for n in (0, 1)] == [False, True]
    assert calendar.count(MONDAY, MONDAY + 14) == 10 - 1 + 1


def test_one_in_the_week_is_the_morning_only():
    calendar = WorkingCalendar([2, 2, 2, 2, 2, 1, 0])
    assert [calendar.works(MONDAY + t) for t in (10, 11, 12)] == [True, False, False]


def test_the_horizon_extends_both_ways_and_counts_keep_their_value():
    calendar = WorkingCalendar()
    counts = [calendar.before(t) for t in (MONDAY, MONDAY + 14)]
    far = calendar.before(MONDAY + 14 * 2000)
    back = calendar.before(MONDAY - 14 * 2000)
    assert [calendar.before(t) for t in (MONDAY, MONDAY + 14)] == counts
    assert (far - counts[0], counts[0] - back) == (20_000, 20_000)
    assert calendar.kth(counts[0] + 1_000_000) == MONDAY + 1_400_000


def test_dates_outside_the_years_1_to_9999_are_refused():
    calendar = WorkingCalendar()
    assert calendar.before(END_OF_TIME) > calendar.before(FIRST_INSTANT)
    for t in (FIRST_INSTANT - 1, END_OF_TIME + 1):
        with pytest.raises(BeyondTime, match="9999"):
            calendar.before(t)
    for t in (FIRST_INSTANT - 1, END_OF_TIME):
        with pytest.raises(BeyondTime, match="cannot be written"):
            as_date(t)
    assert as_date(END_OF_TIME - 1) == (dt.date(9999, 12, 31), "pm")
    with pytest.raises(BeyondTime, match="'rare'"):
        WorkingCalendar([0] * 7, on={MONDAY}, name="rare").finish_of(MONDAY, 2)


@pytest.mark.parametrize(
    "week", [[2] * 6, [2] * 8, [3, 0, 0, 0, 0, 0, 0], [True] * 7, ["2"] * 7, [-1, 2, 2, 2, 2, 2, 2]]
)
def test_a_week_that_is_none_is_refused(week):
    with pytest.raises(Refused, match=r"'crew'.*seven counts"):
        WorkingCalendar(week, name="crew")


def test_a_calendar_without_working_time_is_refused():
    with pytest.raises(Refused, match="'crew' has no working time"):
        WorkingCalendar([0] * 7, name="crew")


def test_holidays_of_a_year_not_known_are_refused_rather_than_none():
    calendar = WorkingCalendar(holidays=Holidays("here", {2026: frozenset(EASTER)}))
    with pytest.raises(Refused, match="'here' are not known for 20"):
        calendar.before(MONDAY)


def test_calendars_are_the_same_when_their_rules_are():
    known = Holidays("here", {2026: frozenset(EASTER)})
    assert WorkingCalendar(off={3}).same_as(WorkingCalendar(off=[3]))
    assert not WorkingCalendar(off={3}).same_as(WorkingCalendar())
    assert not WorkingCalendar().same_as(WorkingCalendar([2] * 7))
    more = Holidays("here", {**known.years, 2027: frozenset()})
    assert WorkingCalendar(holidays=known).same_as(WorkingCalendar(holidays=more))
    other = Holidays("here", {2026: frozenset([GOOD_FRIDAY])})
    assert not WorkingCalendar(holidays=known).same_as(WorkingCalendar(holidays=other))
    assert not WorkingCalendar(holidays=known).same_as(WorkingCalendar(holidays=EASTER))
