"""Houses forecast together: crews that they share, houses that nobody reports on, claims of workers."""

import datetime as dt

import pytest

from coordination import clock
from coordination.sequence import crew_habits, forecasting, progress
from coordination.sequence.house_network import read_house_network
from coordination.sequence.models import (
    Activity,
    Booking,
    ForecastTerms,
    GivenPromise,
    House,
    HouseForecast,
    ReservedTime,
)
from coordination.sequence.promising import share_by
from coordination.sequence.reports import Report, imagine_recorded
from coordination.sequence.unreported import read_unreported
from tests.sequence.builders import START, make_builder
from tests.sequence.fits import shared_houses
from tests.sequence.forecasts import forecast_of, pencilled, visit_prospect


@pytest.fixture
def small(db, monday_morning):
    """Lot 1 by itself, planned, with its own crews asked."""
    return shared_houses(1)[0]


# ---------------------------------------------------------------- houses that share crews


def test_one_crew_is_not_promised_to_two_houses_for_the_same_half_day(db, monday_morning):
    """Three houses alike and planned alike, each crew takes one house at a time: one after the other."""
    houses = shared_houses(3)
    rows = [forecast_of(small) for small in houses]
    for name in ("frame", "wiring", "linings"):
        prospects = [visit_prospect(row, small, name) for row, small in zip(rows, houses, strict=True)]
        promised = sorted(one["start"] for one in prospects)
        assert promised[0] < promised[1] < promised[2], name
    frames = [visit_prospect(row, small, "frame") for row, small in zip(rows, houses, strict=True)]
    # Four half-days of framing at the first house, 3 at the least: no draw has the crew free sooner.
    assert sorted(one["start"] for one in frames)[1] >= START + 3
    waiting = [one for one in frames if one["waits"]]
    assert len(waiting) == 2
    assert {one["elsewhere"] for one in waiting} <= {small.house.name for small in houses}
    # The house itself was ready at once: that is what the promise is judged by, wherever the crew was.
    assert all(share_by(one, START) == 1 for one in frames)


def test_a_house_forecast_alone_is_promised_no_later_than_with_others(db, monday_morning):
    one, two = shared_houses(2)
    together = [visit_prospect(forecast_of(small), small, "linings")["start"] for small in (one, two)]
    House.objects.filter(pk=two.house.pk).update(finished_at=clock.now())
    alone = visit_prospect(forecast_of(one), one, "linings")["start"]
    assert alone <= min(together)


def test_a_crew_told_first_comes_first(db, monday_morning):
    one, two = shared_houses(2)
    for house, told in ((one, START + 10), (two, START)):
        Booking.objects.filter(visit=house.visits["frame"]).update(
            state=Booking.State.PENCILLED, told_start=told, told_finish=told + 4
        )
    first, second = (visit_prospect(forecast_of(small), small, "frame") for small in (two, one))
    assert (first["waits"], second["waits"]) == (False, True)
    assert first["start"] == START
    assert second["elsewhere"] == two.house.name


def test_time_that_a_crew_owes_to_another_builder_is_not_promised(db, monday_morning):
    (small,) = shared_houses(1)
    before = visit_prospect(forecast_of(small), small, "frame")
    ReservedTime.objects.create(
        builder=make_builder("Other Homes"),
        crew=small.crews["frame"],
        first=START,
        end=START + 14,
        agreed_at=clock.now(),
    )
    after = visit_prospect(forecast_of(small), small, "frame")
    assert (before["start"], after["start"]) == (START, START + 14)
    assert (after["waits"], after["elsewhere"]) == (True, "")


def test_a_house_that_cannot_be_forecast_does_not_stop_the_others(db, monday_morning):
    one, two = shared_houses(2)
    Activity.objects.filter(house=one.house, key="frame").update(not_before=START + 8, not_after=START + 4)
    row = forecasting.make_forecast(one.house.pk)
    assert row is not None
    assert row.words != ""
    assert HouseForecast.objects.get(house=two.house).revision == 1


def test_how_many_houses_may_be_late_together_is_kept_with_them(db, monday_morning):
    houses = shared_houses(3)
    ForecastTerms.objects.create(builder=houses[0].builder, late_chance=0, fails_chance=0)
    result = forecast_of(houses[0]).result
    assert result["together"]["houses"] == 3
    # Each crew has three houses and each plan has the crew for itself: the last ends over a week late.
    assert 1 <= result["together"]["late"] <= 3


# ---------------------------------------------------------------- houses that nobody reports on


def test_a_forecast_begins_today_though_nothing_was_reported(small, monday_morning):
    early = forecast_of(small)
    plan = small.house.plans.latest("number")
    monday_morning.move_to(clock.starts_at(START + 42, "Australia/Hobart"))
    late = forecast_of(small)
    assert (early.result["from"], late.result["from"]) == (START, START + 42)
    assert late.revision == plan.number
    prospect = visit_prospect(late, small, "frame")
    assert prospect["start"] >= START + 42
    assert prospect["planned"] == START  # the plan keeps its dates: crews were told them
    assert late.finish_sure > early.finish_sure


def test_no_promise_is_given_from_dates_that_are_not_real(small, monday_morning):
    forecast_of(small)
    assert read_unreported([small.house]) == {}
    for half_day, unreported in ((START, False), (START + 4, False), (START + 6, True), (START + 42, True)):
        monday_morning.move_to(clock.starts_at(half_day, "Australia/Hobart"))
        assert bool(read_unreported([small.house])) is unreported, half_day - START
    pencilled(small, later=60)
    assert not GivenPromise.objects.exists()
    progress.record_up_to(small.house, START + 42)
    small.house.refresh_from_db()
    assert read_unreported([small.house]) == {}


def test_what_is_left_of_work_under_way_is_taken_to_have_gone_on(small, monday_morning):
    monday_morning.move_to(clock.starts_at(START + 2, "Australia/Hobart"))
    progress.record_progress(small.house, [Report("frame", started=START, remaining=6)])
    small.house.refresh_from_db()
    rows = read_house_network(small.house)
    later = imagine_recorded(rows, START + 5)
    assert later.by_key["frame"].remaining == 6 - 3
    assert (rows.by_key["frame"].remaining, small.house.recorded_up_to) == (6, START + 2)


def test_a_result_that_was_overtaken_is_not_kept(small, monday_morning, monkeypatch):
    """Another worker took the house up while this one was slow: the older answer must not replace its."""
    newer = clock.now() + dt.timedelta(minutes=11)
    read = crew_habits.read_assumptions

    def read_slowly(builder):
        HouseForecast.objects.update(tried_at=newer)
        return read(builder)

    monkeypatch.setattr(forecasting, "read_assumptions", read_slowly)
    row = forecasting.make_forecast(small.house.pk)
    assert row is not None
    assert (row.revision, row.tried_at) == (None, newer)


def test_a_house_asked_for_with_others_is_computed_once(small, monday_morning):
    HouseForecast.objects.create(house=small.house, asked_at=clock.now())
    assert forecasting.make_asked(small.house.pk) is not None
    assert forecasting.make_asked(small.house.pk) is None
