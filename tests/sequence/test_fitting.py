"""Fit to the crews: what is computed, what a preview says, what applying does, and what stands in the way.

Dates of the small houses are counted by hand: frame 4 half-days from Monday 20 April, wiring 4, the walk 1,
boards 1 and linings 3 half-days of word later, 4 each; one crew of each trade takes one house at once.
"""

import datetime as dt

import pytest

from coordination import clock, engine
from coordination.engine.verify_crews import find_crew_faults
from coordination.outbox.models import Message
from coordination.people.models import RegionDay
from coordination.sequence import bookings, fitting
from coordination.sequence.fit_basis import read_basis
from coordination.sequence.models import Booking, Fit, FittedStart, ReservedTime
from coordination.sequence.replanning import replan
from coordination.sequence.to_engine.crew_network import CrewNetwork
from tests.sequence.builders import START, book, make_builder, small_house
from tests.sequence.fits import (
    book_firm,
    booking_of,
    computed,
    moved_house,
    reason_of,
    shared_houses,
    starts_of,
)


@pytest.fixture
def two(db, monday_morning):
    return shared_houses()


def test_two_houses_at_one_crew_are_put_one_after_the_other(two):
    assert starts_of(two[0], "frame") == starts_of(two[1], "frame") == [START]
    fit = computed(two)
    assert (fit.state, fit.words) == (Fit.State.READY, "")
    assert [starts_of(one, "frame") for one in two] == [[START], [START]]  # nothing moved yet
    fitting.apply_fit(fit, two[0].planner)
    later, sooner = moved_house(two)
    assert starts_of(sooner, "frame", "wiring", "linings") == [START, START + 4, START + 16]
    # The frame crew is free after 4 half-days, the electrician after 8: nothing waits twice.
    assert starts_of(later, "frame", "wiring") == [START + 4, START + 8]


def test_preview_says_which_visit_moves_by_how_much_and_why(two):
    fit = computed(two)
    results = [row.result for row in fit.houses.all()]
    [moved] = [row for row in results if row["visits"]]
    frame = moved["visits"][0]
    assert (frame["name"], frame["was"], frame["now"], frame["by"]) == (
        "Frame", [START, START + 4], [START + 4, START + 8], 4,
    )  # fmt: skip
    assert frame["reason"]["kind"] == "busy"
    assert moved["finish_fitted"] > moved["finish_free"] == moved["finish_planned"]
    assert fit.result["moved"] == len(moved["visits"])
    assert fit.result["crews"][0]["name"] == two[0].crews["frame"].name
    assert fit.result["crews"][0]["half_days"] == 4
    assert fit.result["told"] == 0


def test_the_reason_names_crew_house_and_day(two):
    fitting.apply_fit(computed(two), two[0].planner)
    later, sooner = moved_house(two)
    assert reason_of(later, "frame") == (
        f"waits for {two[0].crews['frame'].name}, who are at {sooner.house.name} until Tue 21 Apr, afternoon"
    )


def test_applied_dates_stand_before_the_judge_of_crews(db, monday_morning):
    """The judge counts crews half-day by half-day in dictionaries of its own."""
    houses = shared_houses(5)
    fitting.apply_fit(computed(houses), houses[0].planner)
    basis = read_basis(houses[0].builder, [one.house.pk for one in houses])
    whole = CrewNetwork(basis)
    network = whole.network(set())
    dates = {piece.id: (piece.start, piece.finish) for piece in whole.pieces.values()}
    anchors = {a.id: (whole.data_date, whole.data_date) for a in network.activities if a.id not in dates}
    crowded = find_crew_faults(network, {**dates, **anchors}, data_date=whole.data_date)
    assert crowded, "without fitted starts the five houses must clash"
    planned = {}
    for one in basis.houses:
        plan = one.house.plans.order_by("-number")[0]
        for date in plan.dates.select_related("activity"):
            planned[whole.id_of(one, date.activity.key)] = (date.es, date.ef)
    assert find_crew_faults(network, {**planned, **anchors}, data_date=whole.data_date) == []
    assert engine.find_faults(network, {**planned, **anchors}, data_date=whole.data_date) == []


def test_a_later_replan_keeps_the_fitted_starts(two):
    fitting.apply_fit(computed(two), two[0].planner)
    later, _sooner = moved_house(two)
    before = starts_of(later, "frame", "wiring", "linings")
    replan(later.house, cause="looked again")
    assert starts_of(later, "frame", "wiring", "linings") == before


def test_a_crew_that_gives_the_visit_back_holds_it_no_more(two):
    fitting.apply_fit(computed(two), two[0].planner)
    later, _sooner = moved_house(two)
    bookings.stand_down(booking_of(later, "frame"), "does another job", later.planner)
    assert starts_of(later, "frame") == [START]


def test_a_visit_that_is_let_go_starts_when_its_work_allows(two):
    fitting.apply_fit(computed(two), two[0].planner)
    later, _sooner = moved_house(two)
    assert fitting.let_go(later.visits["frame"], later.planner)
    assert starts_of(later, "frame") == [START]
    assert not fitting.let_go(later.visits["frame"], later.planner)


def test_fitting_again_moves_nothing_and_writes_nothing(two):
    fitting.apply_fit(computed(two), two[0].planner)
    lines = [one.house.changes.count() for one in two]
    plans = [one.house.plans.count() for one in two]
    again = computed(two)
    assert again.result["moved"] == 0
    fitting.apply_fit(again, two[0].planner)
    assert [one.house.plans.count() for one in two] == plans
    assert [one.house.changes.count() for one in two] == lines


# ---------------------------------------------------------------- what stays


def test_a_firm_booking_stays_and_the_other_house_waits(two):
    book_firm(two[1], "frame")
    fit = computed(two)
    fitting.apply_fit(fit, two[0].planner)
    assert starts_of(two[1], "frame") == [START]
    assert starts_of(two[0], "frame") == [START + 4]
    firm = booking_of(two[1], "frame")
    assert (firm.state, firm.told_start, firm.told_finish) == ("firm", START, START + 4)


def test_what_leads_up_to_a_firm_date_stays_too(two):
    """The frame of the second house would have to wait; then its firm wiring could not be kept."""
    book_firm(two[1], "wiring", START + 4)
    fitting.apply_fit(computed(two), two[0].planner)
    assert starts_of(two[1], "frame", "wiring") == [START, START + 4]
    assert starts_of(two[0], "frame") == [START + 4]


def test_two_firm_bookings_that_clash_are_named_and_stay(two):
    for one in two:
        book_firm(one, "frame")
    fit = computed(two)
    [clash] = fit.result["overbooked"]
    assert (clash["crew"], clash["half_day"]) == (two[0].crews["frame"].name, START)
    assert {house for _visit, house in clash["visits"]} == {one.house.name for one in two}
    fitting.apply_fit(fit, two[0].planner)
    assert [starts_of(one, "frame") for one in two] == [[START], [START]]


@pytest.mark.parametrize(("freeze", "stays"), [(4, False), (5, False), (6, True)])
def test_a_near_told_date_stays(two, freeze, stays):
    """Told for Monday in a week: 10 half-days of weekdays ahead; a freeze of 5 days ends just before it."""
    two[0].builder.freeze_days = freeze
    two[0].builder.save()
    Booking.objects.filter(visit=two[0].visits["frame"]).update(
        state=Booking.State.PENCILLED, told_start=START, told_finish=START + 4
    )
    basis = read_basis(two[0].builder, [one.house.pk for one in two])
    [first] = [one for one in basis.houses if one.house.pk == two[0].house.pk]
    assert (two[0].visits["frame"].pk in first.stays) is stays


def test_a_crew_comes_no_earlier_than_it_was_told(two):
    """Told for two days after the work could start: what follows is planned after that, and says why."""
    Booking.objects.filter(visit=two[0].visits["frame"]).update(
        state=Booking.State.PENCILLED, told_start=START + 8, told_finish=START + 12, confirmed_at=clock.now()
    )
    fitting.apply_fit(computed(two), two[0].planner)
    assert starts_of(two[0], "frame", "wiring") == [START + 8, START + 16]
    assert reason_of(two[0], "frame") == f"{two[0].crews['frame'].name} was told Fri 24 Apr, morning"


def test_told_dates_that_change_are_counted_and_told_once(two):
    two[0].builder.freeze_days = 0
    two[0].builder.save()
    for one in two:
        Booking.objects.filter(visit=one.visits["frame"]).update(
            state=Booking.State.PENCILLED, told_start=START, told_finish=START + 4
        )
    fit = computed(two)
    assert fit.result["told"] == 1
    fitting.apply_fit(fit, two[0].planner)
    later, sooner = moved_house(two)
    assert booking_of(later, "frame").told_start == START + 4
    assert booking_of(sooner, "frame").told_start == START
    waiting = Message.objects.filter(recipient=f"crew:{two[0].crews['frame'].pk}", superseded_at=None)
    [message] = waiting
    assert "Fitted to the crews" in message.body
    replan(later.house, cause="looked again")
    assert waiting.count() == 1


def test_other_houses_work_of_the_crew_is_kept_free(two):
    """Only the second house is chosen; the first has the frame crew from Monday to Tuesday."""
    fit = computed(two[1:])
    fitting.apply_fit(fit, two[0].planner)
    assert starts_of(two[0], "frame") == [START]
    assert starts_of(two[1], "frame") == [START + 4]


def test_time_reserved_by_another_builder_is_kept_free_and_not_named(two):
    other = make_builder("Other Homes")
    ReservedTime.objects.create(
        builder=other, crew=two[0].crews["frame"], first=START, end=START + 6, units=1, agreed_at=clock.now()
    )
    fitting.apply_fit(computed(two[:1]), two[0].planner)
    # Also the unchosen second house is at the crew on Monday and Tuesday, which the same time covers.
    assert starts_of(two[0], "frame") == [START + 6]
    held = FittedStart.objects.get(activity=two[0].activities["frame"])
    assert (held.where, held.until) == ("", START + 5)


def test_another_builders_house_is_kept_free_and_not_named(two):
    other = small_house(make_builder("Other Homes"), "lot-9")
    other.crews = two[0].crews
    book(other, "frame", told_start=START, told_finish=START + 10)
    fitting.apply_fit(computed(two[:1]), two[0].planner)
    assert starts_of(two[0], "frame") == [START + 14]
    assert FittedStart.objects.get(activity=two[0].activities["frame"]).where == ""


def test_a_day_off_of_the_region_is_worked_around(two):
    RegionDay.objects.create(region=two[0].house.region, first_day=dt.date(2026, 4, 22), why="Show day")
    for one in two:
        replan(one.house, cause="show day")
    fitting.apply_fit(computed(two), two[0].planner)
    later, _sooner = moved_house(two)
    assert starts_of(later, "frame", "wiring") == [START + 6, START + 14]


def test_a_house_finished_later_than_wanted_says_so(two):
    """Wanted by the day it could be done without crews: a fitted start after that is no typing error."""
    for one in two:
        one.house.required_by = dt.date(2026, 4, 21)
        one.house.save()
        replan(one.house, cause="wanted")
    fitting.apply_fit(computed(two), two[0].planner)
    later, _sooner = moved_house(two)
    warnings = later.house.plans.order_by("-number")[0].warnings
    assert {"linings", "board"} <= {one["key"] for one in warnings if one["kind"] == "late"}
