"""Forecasts of houses: what they say, when they are made, when they are stale, and promises scored."""

import datetime as dt
import math

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy import integrate, stats

from coordination import clock
from coordination.sequence import crew_habits, forecasting, progress, tasks
from coordination.sequence.models import (
    Activity,
    Booking,
    ForecastTerms,
    GivenPromise,
    HouseForecast,
)
from coordination.sequence.promising import share_by
from coordination.sequence.replanning import replan
from coordination.sequence.reports import Report
from coordination.sequence.to_engine import score_by_confidence, score_together
from tests.sequence.builders import START, make_builder
from tests.sequence.fits import shared_houses
from tests.sequence.forecasts import forecast_of, pencilled, visit_prospect
from tests.waiting import wait_until


@pytest.fixture
def small(db, monday_morning):
    """Lot 1, planned, with its own crews asked."""
    return shared_houses(1)[0]


def test_a_forecast_speaks_of_the_plan_it_was_made_from(small):
    row = forecast_of(small)
    assert row.revision == small.house.plans.latest("number").number
    replan(small.house, cause="looked again")
    row.refresh_from_db()
    assert row.revision != small.house.plans.latest("number").number


def test_promised_dates_are_as_sure_as_asked_and_never_before_the_plan(small):
    row = forecast_of(small)
    assert len(row.result["visits"]) == 4
    for prospect in row.result["visits"].values():
        assert prospect["planned"] <= prospect["likely"] <= prospect["start"]
        assert prospect["share"] >= 0.8
        assert share_by(prospect, prospect["start"]) == pytest.approx(prospect["share"], abs=1e-4)
        assert share_by(prospect, prospect["start"] - 1) < 0.8 or prospect["start"] == prospect["first"]
    assert row.finish_likely <= row.finish_sure


def test_each_closed_hold_names_the_visits_behind_it(small):
    row = forecast_of(small)
    assert {(one["point"], one["visit"]) for one in row.result["holds"]} == {
        (small.activities["H5"].pk, small.visits[name].pk) for name in ("linings", "board")
    }


def test_a_builder_that_wants_to_be_surer_promises_later(small):
    ForecastTerms.objects.create(builder=small.builder, confidence=60)
    sixty = visit_prospect(forecast_of(small), small, "linings")["start"]
    ForecastTerms.objects.update(confidence=95)
    row = forecast_of(small)
    assert row.confidence == 95
    assert visit_prospect(row, small, "linings")["start"] > sixty


def test_readiness_falls_as_the_beta_distribution_says(small):
    """The electrician waits for four half-days of framing alone, of 3 to 8 with mode 4 (0.8 to 1.8 of four).

    The share that is ready by each half-day is computed by SciPy: PERT's beta with shape 4, a length rounded
    up or down by chance. 1,000 draws: four standard errors.
    """
    ForecastTerms.objects.create(builder=small.builder, late_chance=0, fails_chance=0)
    prospect = visit_prospect(forecast_of(small), small, "wiring")
    low, mode, high = 3, 4, 8
    rise = 4 * (mode - low) / (high - low)
    length = stats.beta(1 + rise, 5 - rise, loc=low, scale=high - low)
    for worked in range(low, high):

        def rounded_down(x, worked=worked):
            return (worked + 1 - x) * length.pdf(x)

        expected = length.cdf(worked) + integrate.quad(rounded_down, worked, worked + 1)[0]
        error = 4 * math.sqrt(expected * (1 - expected) / 1000) + 1e-9
        assert share_by(prospect, START + worked) == pytest.approx(expected, abs=error), worked


def test_why_so_late_is_nothing_when_nothing_can_go_wrong_but_the_work(small):
    ForecastTerms.objects.create(builder=small.builder, late_chance=0, fails_chance=0)
    assert {one["cause"] for one in forecast_of(small).result["costs"]} == {"longer"}
    ForecastTerms.objects.update(late_chance=60, late_least=4, late_most=8)
    costs = {one["cause"]: one["half_days"] for one in forecast_of(small).result["costs"]}
    assert costs["late"] > costs["longer"]


def test_a_house_that_cannot_be_planned_says_why(small):
    Activity.objects.filter(house=small.house, key="frame").update(not_before=START + 8, not_after=START + 4)
    row = forecasting.make_forecast(small.house.pk)
    assert row is not None
    assert "not_after" in row.words or "lies before" in row.words
    assert row.revision is None


# ---------------------------------------------------------------- when


def test_a_new_house_is_due_at_once_and_a_stale_one_by_night(small, monday_morning):
    assert forecasting.find_due(small.builder) == [small.house.pk]
    tasks.make_forecast_rounds()
    assert forecasting.find_due(small.builder) == []
    replan(small.house, cause="looked again")
    assert forecasting.find_due(small.builder) == []
    for hour, minute, due in ((0, 59, False), (1, 0, True), (4, 59, True), (5, 0, False)):
        moment = dt.datetime(2026, 4, 14, hour, minute, tzinfo=clock.zone("Australia/Hobart"))
        monday_morning.move_to(moment)
        assert bool(forecasting.find_due(small.builder)) is due, (hour, minute)
    monday_morning.move_to(dt.datetime(2026, 4, 15, 2, 0, tzinfo=clock.zone("Australia/Hobart")))
    tasks.make_forecast_rounds()
    assert forecasting.find_due(small.builder) == []
    assert HouseForecast.objects.get().revision == small.house.plans.latest("number").number


def test_what_is_due_is_asked_for_in_one_row_per_house_however_often_it_was_planned(small):
    forecast_of(small)
    for _again in range(5):
        replan(small.house, cause="looked again")
    with CaptureQueriesContext(connection) as asked:
        assert forecasting.find_due(small.builder) == []
    said = [one["sql"] for one in asked.captured_queries if one["sql"].startswith("SELECT")]
    assert any("sequence_plan" in sql for sql in said)
    with connection.cursor() as cursor:
        for sql in said:
            cursor.execute(sql)
            assert len(cursor.fetchall()) <= 1, sql
            assert '"sequence_houseforecast"."result"' not in sql


def test_a_house_that_another_worker_has_is_left_to_it(small, monday_morning):
    HouseForecast.objects.create(house=small.house, tried_at=clock.now())
    assert forecasting.make_forecast(small.house.pk) is None
    monday_morning.move_to(clock.now() + dt.timedelta(minutes=11))
    assert forecasting.make_forecast(small.house.pk) is not None


@pytest.mark.django_db(transaction=True)
def test_a_forecast_asked_for_is_made_by_the_worker(transactional_db, celery_worker):
    with time_machine.travel(dt.datetime(2026, 4, 12, 22, tzinfo=dt.UTC), tick=True):
        small = shared_houses(1)[0]
        row = forecasting.ask_for_forecast(small.house)
        assert forecasting.is_asked(row)

        def is_computed():
            row.refresh_from_db()
            return row.computed_at is not None

        wait_until("the worker made the forecast", is_computed)
        assert row.revision == 1
        assert not forecasting.is_asked(row)


# ---------------------------------------------------------------- promises


def test_a_date_told_is_a_promise_as_sure_as_the_forecast_says(small):
    prospect = visit_prospect(forecast_of(small), small, "wiring")
    booking = pencilled(small, later=1)
    promise = GivenPromise.objects.get()
    assert (promise.booking, promise.promised, promise.crew) == (booking, START + 5, small.crews["wiring"])
    assert promise.confidence == pytest.approx(share_by(prospect, START + 5))
    assert not promise.stale


def test_without_a_forecast_nothing_is_promised(small):
    pencilled(small)
    assert not GivenPromise.objects.exists()


def test_a_promise_from_an_older_forecast_is_marked(small):
    forecast_of(small)
    replan(small.house, cause="looked again")
    pencilled(small)
    assert GivenPromise.objects.get().stale


@pytest.mark.parametrize(("last", "kept"), [(START + 3, True), (START + 4, True), (START + 5, False)])
def test_a_promise_is_scored_when_the_work_begins(small, monday_morning, last, kept):
    """Promised for the half-day START + 5; ready with the half-day after the frame's last."""
    forecast_of(small)
    pencilled(small, later=1)
    monday_morning.move_to(clock.starts_at(START + 8, "Australia/Hobart"))
    progress.record_progress(
        small.house,
        [Report("frame", started=START, last=last), Report("wiring", started=last + 2)],
    )
    promise = GivenPromise.objects.get()
    assert (promise.kept, promise.started) == (kept, last + 2)
    assert promise.ready == last + 1
    before = promise.scored_at
    replan(small.house, cause="looked again")
    promise.refresh_from_db()
    assert promise.scored_at == before


def test_work_that_begins_before_its_turn_was_ready(small, monday_morning):
    forecast_of(small)
    pencilled(small, later=1)
    monday_morning.move_to(clock.starts_at(START + 8, "Australia/Hobart"))
    progress.record_progress(small.house, [Report("wiring", started=START + 2)])
    promise = GivenPromise.objects.get()
    assert (promise.ready, promise.kept) == (START + 2, True)


def make_scored(small, confidence, kept, number):
    booking = Booking.objects.get(visit=small.visits["wiring"], state__in=Booking.LIVE)
    return GivenPromise.objects.create(
        booking=booking,
        house=small.house,
        crew=small.crews["wiring"],
        promised=START + number,
        confidence=confidence,
        revision=1,
        given_at=clock.now(),
        ready=START + number + (0 if kept else 2),
        started=START + number + 2,
        kept=kept,
        scored_at=clock.now(),
    )


def test_promises_are_scored_by_how_sure_they_were(small):
    """9 of 12 at about 80 %: Wilson's interval (1927) of that share, from SciPy's own."""
    rows = [make_scored(small, 0.78 + 0.005 * (n % 4), n >= 3, n) for n in range(12)]
    rows += [make_scored(small, 0.97, True, 20 + n) for n in range(3)]
    eighty, sure = score_by_confidence(rows)
    assert (eighty.confidence, eighty.count, eighty.kept, eighty.verdict) == (0.8, 12, 9, "fits")
    wilson = stats.binomtest(9, 12).proportion_ci(method="wilson")
    assert (eighty.low, eighty.high) == pytest.approx((wilson.low, wilson.high), abs=1e-4)
    assert (sure.confidence, sure.verdict) == (0.95, "too few")
    together = score_together(rows)
    assert together is not None
    assert (together.kept, together.count) == (12, 15)


def test_crews_that_come_late_are_learnt_from_promises_that_were_kept(small):
    for number in range(30):
        # Never over a weekend, so that each start is two working half-days late.
        make_scored(small, 0.8, True, 14 * (number // 8) + number % 8)
    habits = crew_habits.read_assumptions(small.builder).of(small.crews["wiring"].pk)
    assert habits.starts == 30
    # All thirty were late, beside three of ten that are assumed.
    assert habits.late_chance == pytest.approx((30 + 3) / (30 + 10))
    assert crew_habits.read_assumptions(small.builder).of(None).late_chance == pytest.approx(0.3)


def test_how_long_a_crews_work_takes_is_learnt_from_its_finished_works(small, monday_morning):
    monday_morning.move_to(clock.starts_at(START + 30, "Australia/Hobart"))
    book_done = Booking.objects.filter(visit=small.visits["frame"])
    book_done.update(state=Booking.State.DONE)
    progress.record_progress(small.house, [Report("frame", started=START, last=START + 7)])
    habits = crew_habits.read_assumptions(small.builder).of(small.crews["frame"].pk)
    assert habits.works == 1
    # One work of four half-days took eight: the ranges lean that way, from 1.0.
    assert habits.likeliest > 1.0


def test_another_builders_promises_are_not_ours(small):
    make_scored(small, 0.8, True, 1)
    other = make_builder("Other Homes")
    assert small.crews["wiring"].pk not in crew_habits.read_assumptions(other).crews
