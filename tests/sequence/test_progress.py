"""Reports of fact move the plan; nonsense is refused by name and leaves everything as it was."""

import datetime as dt

import pytest

from coordination import clock
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, progress
from coordination.sequence.models import Change, Plan
from coordination.sequence.progress import Report
from tests.sequence.brick_veneer import date_of, plan_of, says

pytestmark = pytest.mark.django_db


def half_day(day, half="am"):
    return clock.as_half_day(dt.date.fromisoformat(day), half)


@pytest.fixture
def at(monday_morning):
    """Moves the clock to a day of 2026, 9:00 or 13:00 in Hobart (eleven hours ahead in February)."""

    def move(day, half="am"):
        hour = 9 if half == "am" else 13
        moment = dt.datetime.fromisoformat(day).replace(hour=hour, tzinfo=clock.zone("Australia/Hobart"))
        monday_morning.move_to(moment, tick=False)

    move("2026-02-02")
    return move


@pytest.fixture
def house(office, at):
    return office.house()


def activity(house, key):
    return house.activities.get(key=key)


def test_work_that_ends_early_lets_the_next_begin_early(office, house, at):
    at("2026-02-03")
    progress.report_finished(activity(house, "set-out"), half_day("2026-02-03"), by=office.planner)
    assert says(date_of(house, "drains").start) == "2026-02-03 pm"
    assert date_of(house, "set-out").reason == {"kind": "finished", "at": half_day("2026-02-03")}
    row = activity(house, "set-out")
    assert (says(row.actual_start), says(row.actual_finish)) == ("2026-02-02 am", "2026-02-03 pm")
    house.refresh_from_db()
    # The record does not run ahead into the afternoon: others still work this morning.
    assert says(house.recorded_up_to) == "2026-02-03 am"
    line = house.changes.get(what="finished")
    assert (line.by, line.about) == (office.planner, f"activity:{row.pk}")
    assert "finished Tue 3 Feb, morning" in line.words


def test_a_point_passed_in_its_own_half_day_moves_nobody(office, house, at):
    for key in ("set-out", "drains", "slab-prep"):
        last = date_of(house, key).last
        day, half = clock.as_date(last)
        at(day.isoformat(), half)
        progress.report_finished(activity(house, key), last, by=office.planner)
    walk = date_of(house, "H1").start
    day, half = clock.as_date(walk)
    at(day.isoformat(), half)
    progress.record_up_to(house, walk, by=office.planner)
    before = {one.key: date_of(house, one.key).start for one in house.activities.all()}
    progress.point_passed(activity(house, "H1"), walk, by=office.supervisor)
    assert {one.key: date_of(house, one.key).start for one in house.activities.all()} == before


def test_what_is_not_reported_as_started_is_planned_after_what_is_recorded(house, at):
    at("2026-02-10")
    progress.report_started(activity(house, "set-out"), half_day("2026-02-09"))
    assert date_of(house, "drains").start > half_day("2026-02-10")
    assert date_of(house, "set-out").start == half_day("2026-02-09")
    review = date_of(house, "review")
    assert (says(review.start), review.reason["kind"]) == ("2026-02-10 am", "recorded")


def test_work_done_together_is_reported_together(house, at):
    at("2026-02-06")
    progress.record_progress(
        house,
        [
            Report("review", started=half_day("2026-02-02"), last=half_day("2026-02-02")),
            Report("set-out", last=half_day("2026-02-03", "pm")),
            Report("drains", started=half_day("2026-02-04"), last=half_day("2026-02-05")),
            Report("slab-prep", started=half_day("2026-02-05", "pm")),
        ],
    )
    assert Plan.objects.filter(house=house).count() == 2
    assert plan_of(house).cause == "4 activities reported"
    assert says(date_of(house, "H1").start) == "2026-02-10 pm", "as planned at set-out"


def test_one_wrong_report_among_several_saves_none(house, at):
    at("2026-02-06")
    with pytest.raises(BadInput, match="future"):
        progress.record_progress(
            house,
            [
                Report("set-out", last=half_day("2026-02-03")),
                Report("drains", started=half_day("2026-03-01")),
            ],
        )
    assert activity(house, "set-out").actual_finish is None
    assert not Change.objects.filter(what="finished").exists()
    assert Plan.objects.count() == 1


def test_out_of_sequence_is_a_fact_and_the_diary_says_so(office, house, at):
    at("2026-02-03")
    progress.report_started(activity(house, "drains"), half_day("2026-02-03"))
    line = house.changes.get(what="started")
    assert line.facts["out_of_sequence"] == ["set-out"]
    assert "though not finished: Set-out" in line.words


def test_the_remaining_half_days_are_worked_from_what_is_recorded(house, at):
    at("2026-02-03")
    progress.report_started(activity(house, "set-out"), half_day("2026-02-02"))
    assert says(date_of(house, "set-out").last) == "2026-02-03 pm", "half of four is left"
    progress.report_remaining(activity(house, "set-out"), 5)
    assert says(date_of(house, "set-out").last) == "2026-02-05 am"
    at("2026-02-04")
    progress.record_up_to(house, half_day("2026-02-04"))
    assert activity(house, "set-out").remaining == 3, "two of the five have passed"
    assert says(date_of(house, "set-out").last) == "2026-02-05 am"
    progress.add_delay(activity(house, "set-out"), 2, "rock", None)
    assert says(date_of(house, "set-out").last) == "2026-02-06 am"


def test_the_record_goes_no_further_than_now_and_never_back(house, at):
    at("2026-02-04", "pm")
    with pytest.raises(BadInput, match="at the latest Wed 4 Feb, afternoon"):
        progress.record_up_to(house, half_day("2026-02-05"))
    progress.record_up_to(house, half_day("2026-02-04", "pm"))
    with pytest.raises(BadInput, match="already"):
        progress.record_up_to(house, half_day("2026-02-04"))


@pytest.mark.parametrize(
    ("report", "error", "words"),
    [
        (Report("set-out", started=half_day("2026-02-04", "pm")), BadInput, "future"),
        (Report("set-out", last=half_day("2026-02-04", "pm")), BadInput, "future"),
        (Report("set-out", started=half_day("2026-02-03"), last=half_day("2026-02-02")), BadInput, "before"),
        (Report("set-out", remaining=2), WrongState, "not started"),
        (Report("set-out", started=half_day("2026-02-03"), remaining=0), BadInput, "as finished"),
        (
            Report("set-out", started=half_day("2026-02-03"), remaining=2, last=half_day("2026-02-03")),
            BadInput,
            "nothing left",
        ),
        (Report("set-out"), BadInput, "Say when"),
        (Report("roofs", started=half_day("2026-02-03")), BadInput, "no such activity"),
        (Report("H1", last=half_day("2026-02-03")), WrongState, "released or re-opened"),
    ],
)
def test_nonsense_is_refused_by_name_and_nothing_is_saved(house, at, report, error, words):
    at("2026-02-04")
    with pytest.raises(error) as refused:
        progress.record_progress(house, [report])
    assert words in str(refused.value)
    assert not house.activities.filter(actual_start__isnull=False).exists()
    assert Plan.objects.count() == 1


def test_the_last_half_day_that_can_be_reported_is_the_present_one(house, at):
    at("2026-02-04")
    progress.report_finished(activity(house, "set-out"), half_day("2026-02-04"))
    assert says(date_of(house, "drains").start) == "2026-02-04 pm"


def test_what_was_reported_is_not_reported_twice(house, at):
    at("2026-02-04")
    progress.report_started(activity(house, "set-out"), half_day("2026-02-02"))
    with pytest.raises(WrongState, match="started Mon 2 Feb, morning already"):
        progress.report_started(activity(house, "set-out"), half_day("2026-02-03"))
    progress.report_finished(activity(house, "set-out"), half_day("2026-02-03"))
    with pytest.raises(WrongState, match="finished Tue 3 Feb, morning already"):
        progress.report_finished(activity(house, "set-out"), half_day("2026-02-03"))
    with pytest.raises(WrongState, match="Nothing can delay it"):
        progress.add_delay(activity(house, "set-out"), 2, "rain", None)


def test_a_report_is_taken_back_finish_first_then_start_and_the_diary_keeps_both(office, house, at):
    at("2026-02-04")
    before = date_of(house, "drains").start
    progress.report_finished(activity(house, "set-out"), half_day("2026-02-02"), up_to=half_day("2026-02-02"))
    progress.take_back(activity(house, "set-out"), "wrong house", by=office.planner)
    assert activity(house, "set-out").actual_finish is None
    progress.take_back(activity(house, "set-out"), "wrong house", by=office.planner)
    assert activity(house, "set-out").actual_start is None
    with pytest.raises(WrongState, match="Nothing was reported"):
        progress.take_back(activity(house, "set-out"), "wrong house", by=office.planner)
    with pytest.raises(BadInput, match="why"):
        progress.take_back(activity(house, "set-out"), " ", by=office.planner)
    assert house.changes.filter(what="taken back").count() == 2
    assert house.changes.filter(what="finished").count() == 1
    assert date_of(house, "drains").start == before + 1, "work is recorded up to Monday's end"


def test_a_delay_needs_half_days_and_a_reason_and_takes_off_no_more_than_there_is(house):
    brick = activity(house, "brick")
    for half_days, why, words in (
        (0, "rain", "from 1"),
        (2, "  ", "Say why"),
        (-17, "two crews", "more half-days than the work has"),
        (9999, "rain", "from 1"),
    ):
        with pytest.raises(BadInput, match=words):
            progress.add_delay(brick, half_days, why, None)
    progress.add_delay(brick, -16, "bought as panels", None)
    assert date_of(house, "brick").es == date_of(house, "brick").ef


def test_a_passed_point_lets_what_waits_follow_and_a_reopened_one_is_planned_again(office, house, at):
    planned = date_of(house, "pour").start
    at("2026-02-06", "pm")
    h1 = activity(house, "H1")
    progress.point_passed(h1, half_day("2026-02-06", "pm"), by=office.supervisor)
    h1.refresh_from_db()
    assert (says(h1.actual_start), says(h1.actual_finish)) == ("2026-02-06 pm", "2026-02-07 am")
    assert says(date_of(house, "pour").start) == "2026-02-09 am"
    with pytest.raises(WrongState, match="already"):
        progress.point_passed(h1, half_day("2026-02-06", "pm"))
    progress.point_reopened(h1, by=office.supervisor)
    h1.refresh_from_db()
    assert h1.actual_start is None
    assert date_of(house, "pour").start > planned
    assert house.changes.filter(what__in=("point passed", "point reopened")).count() == 2


def test_a_witness_point_takes_no_time(house, at):
    at("2026-03-06")
    w2 = activity(house, "W2")
    progress.point_passed(w2, half_day("2026-03-06"))
    w2.refresh_from_db()
    assert w2.actual_start == w2.actual_finish == half_day("2026-03-06")


def test_work_is_no_point_and_a_point_does_not_lie_in_the_future(house, at):
    with pytest.raises(WrongState, match="no point"):
        progress.point_passed(activity(house, "brick"), half_day("2026-02-02"))
    with pytest.raises(WrongState, match="no point"):
        progress.point_reopened(activity(house, "brick"))
    with pytest.raises(BadInput, match="future"):
        progress.point_passed(activity(house, "H1"), half_day("2026-02-02", "pm"))


def test_a_crew_reports_its_own_visits_only(office, at):
    digger, plumber = office.crew("earthworks", "Deep Cut"), office.crew("plumber", "Blue Pipes")
    house = office.house(crews={"earthworks": digger, "plumber": plumber})
    at("2026-02-04")
    with pytest.raises(NotAllowed, match="Deep Cut"):
        progress.report_started(activity(house, "drains"), half_day("2026-02-04"), crew=digger)
    progress.report_finished(activity(house, "set-out"), half_day("2026-02-03", "pm"), crew=digger)
    assert house.changes.get(what="finished").crew == digger
    assert plan_of(house).cause.startswith("Deep Cut: ")


def test_a_visit_is_begun_and_done_as_one(office, at):
    house = office.house()
    visit = activity(house, "set-out").visit
    assert visit is not None
    at("2026-02-04")
    assert progress.visit_started(visit, half_day("2026-02-03")) is not None
    assert progress.visit_started(visit, half_day("2026-02-04")) is None
    assert progress.visit_done(visit, half_day("2026-02-04")) is not None
    assert progress.visit_done(visit, half_day("2026-02-04")) is None
    row = activity(house, "set-out")
    assert (says(row.actual_start), says(row.actual_finish)) == ("2026-02-03 am", "2026-02-04 pm")


def test_a_crew_that_says_done_has_finished_the_work_of_its_visit(office, at):
    digger = office.crew("earthworks", "Deep Cut")
    house = office.house(crews={"earthworks": digger})
    booking = house.bookings.get(visit__activities__key="set-out")
    at("2026-02-02", "pm")
    bookings.report_under_way(booking, crew=digger)
    assert says(activity(house, "set-out").actual_start) == "2026-02-02 pm"
    at("2026-02-05")
    bookings.report_done(booking, crew=digger)
    assert says(activity(house, "set-out").actual_finish) == "2026-02-05 pm"
    assert says(date_of(house, "drains").start) == "2026-02-05 pm"
