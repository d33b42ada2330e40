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
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, fit_runs, fitting, holds
from coordination.sequence.fit_basis import read_basis
from coordination.sequence.models import Booking, Fit, FittedStart, ReservedTime
from coordination.sequence.queries import programme
from coordination.sequence.replanning import replan
from coordination.sequence.to_engine.crew_network import CrewNetwork
from tests.sequence.builders import START, book, make_builder, sign_release, small_house
from tests.sequence.fits import booking_of, computed, shared_houses, starts_of


@pytest.fixture
def two(db, monday_morning):
    return shared_houses()


def moved_house(two):
    """The house that waits, and the one that does not, in whichever order the search chose."""
    first, second = two
    return (
        (second, first) if starts_of(second, "frame")[0] > starts_of(first, "frame")[0] else (first, second)
    )


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
    row = next(one for one in programme(later.house).activities if one.key == "frame")
    assert row.reason_words == (
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


def book_firm(small, name, start=START):
    Booking.objects.filter(visit=small.visits[name]).update(
        state=Booking.State.FIRM, told_start=start, told_finish=start + 4
    )
    return booking_of(small, name)


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
    row = next(one for one in programme(two[0].house).activities if one.key == "frame")
    assert row.reason_words == f"{two[0].crews['frame'].name} was told Fri 24 Apr, morning"


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


# ---------------------------------------------------------------- refusals


def test_it_is_refused_when_a_house_changed_since(two):
    fit = computed(two)
    bookings.pencil(booking_of(two[1], "linings"), by=two[1].planner)
    with pytest.raises(WrongState) as refusal:
        fitting.apply_fit(fit, two[0].planner)
    assert two[1].house.name in refusal.value.words
    assert "Fit again" in refusal.value.words
    assert any("pencilled" in line for line in refusal.value.missing)
    fit.refresh_from_db()
    assert fit.state == Fit.State.READY
    assert not FittedStart.objects.exists()


def test_it_is_refused_when_the_crew_got_other_work_since(two):
    fit = computed(two)
    other = small_house(make_builder("Other Homes"), "lot-9")
    other.crews = two[0].crews
    book(other, "frame", told_start=START, told_finish=START + 4)
    with pytest.raises(WrongState, match="elsewhere"):
        fitting.apply_fit(fit, two[0].planner)


def test_it_is_refused_when_working_days_changed_since(two):
    fit = computed(two)
    RegionDay.objects.create(region=two[0].house.region, first_day=dt.date(2026, 4, 22), why="Show day")
    with pytest.raises(WrongState, match="working days"):
        fitting.apply_fit(fit, two[0].planner)
    assert not FittedStart.objects.exists()


def test_only_one_is_computed_at_a_time(two):
    fitting.start_fit(two[0].builder, two[0].planner)
    with pytest.raises(WrongState, match="already"):
        fitting.start_fit(two[0].builder, two[0].planner)
    other = shared_houses(1, make_builder("Other Homes"), first=9)
    assert fitting.start_fit(other[0].builder, other[0].planner).state == Fit.State.WAITING


def test_another_builders_house_is_no_house(two):
    other = small_house(make_builder("Other Homes"), "lot-9")
    with pytest.raises(BadInput):
        fitting.start_fit(two[0].builder, two[0].planner, [other.house.pk])


def test_a_task_that_is_delivered_twice_computes_once(two):
    fit = computed(two)
    assert not fit_runs.take_up(fit.pk)


def test_a_stopped_computation_leaves_no_result(two, monkeypatch):
    fit = fitting.start_fit(two[0].builder, two[0].planner)
    read = fit_runs.read_basis

    def read_and_stop(*given):
        fitting.ask_to_stop(fit)
        return read(*given)

    monkeypatch.setattr(fit_runs, "read_basis", read_and_stop)
    assert fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    assert (fit.state, fit.result) == (Fit.State.STOPPED, {})
    with pytest.raises(WrongState):
        fitting.ask_to_stop(fit)


def test_a_dead_worker_is_named_and_cleared(two, monday_morning):
    fit = fitting.start_fit(two[0].builder, two[0].planner)
    Fit.objects.filter(pk=fit.pk).update(state=Fit.State.COMPUTING, worker="gone")
    fit.refresh_from_db()
    for seconds, stale in ((119, False), (120, False), (121, True)):
        monday_morning.move_to(dt.datetime(2026, 4, 12, 21, 0, tzinfo=dt.UTC) + dt.timedelta(seconds=seconds))
        assert fitting.is_stale(fit) is stale
        if not stale:
            with pytest.raises(WrongState):
                fitting.clear_stale(fit)
    fitting.clear_stale(fit)
    fit.refresh_from_db()
    assert fit.state == Fit.State.FAILED
    # What the dead worker would still write changes nothing.
    assert not fit_runs._Run(fit, "gone").update(state=Fit.State.READY)
    assert fitting.start_fit(two[0].builder, two[0].planner).state == Fit.State.WAITING


def test_a_computation_that_breaks_down_says_so_and_frees_the_place(two, monkeypatch, caplog):
    def break_down(*_given, **_more):
        raise RuntimeError("out of order")

    monkeypatch.setattr(fit_runs, "fit_houses", break_down)
    fit = fitting.start_fit(two[0].builder, two[0].planner)
    with pytest.raises(RuntimeError):
        fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    assert fit.state == Fit.State.FAILED
    assert "broke down" in fit.words
    assert "out of order" in caplog.text


# ---------------------------------------------------------------- take back


def test_it_is_taken_back_as_one_act(two):
    before = [starts_of(one, "frame", "wiring", "linings") for one in two]
    fit = fitting.apply_fit(computed(two), two[0].planner)
    fitting.undo_fit(fit, two[0].planner)
    assert [starts_of(one, "frame", "wiring", "linings") for one in two] == before
    fit.refresh_from_db()
    assert fit.state == Fit.State.UNDONE
    with pytest.raises(WrongState):
        fitting.undo_fit(fit, two[0].planner)


def test_taking_back_restores_the_starts_of_the_fit_before(two):
    first = fitting.apply_fit(computed(two), two[0].planner)
    stood = sorted(FittedStart.objects.values_list("activity", "not_before", "fit"))
    later, sooner = moved_house(two)
    bookings.stand_down(booking_of(sooner, "frame"), "another crew", sooner.planner)
    second = fitting.apply_fit(computed(two), two[0].planner)
    assert fitting.find_in_the_way(first)
    fitting.undo_fit(second, two[0].planner)
    assert sorted(FittedStart.objects.values_list("activity", "not_before", "fit")) == stood
    assert starts_of(later, "frame") == [START + 4]


def test_an_act_on_a_moved_visit_stands_in_the_way(two):
    fit = fitting.apply_fit(computed(two), two[0].planner)
    later, sooner = moved_house(two)
    bookings.pencil(booking_of(sooner, "board"), by=sooner.planner)
    assert fitting.find_in_the_way(fit) == []
    bookings.pencil(booking_of(later, "frame"), by=later.planner)
    [line] = fitting.find_in_the_way(fit)
    assert later.house.name in line
    assert "pencilled" in line
    with pytest.raises(WrongState):
        fitting.undo_fit(fit, two[0].planner)
    assert starts_of(later, "frame") == [START + 4]


def test_the_guard_is_not_passed_by_a_fit(two):
    """Firm linings behind a released hold stay; closing the hold again lets them fall, as ever."""
    holds.lift(two[0].hold, sign_release(two[0]), by=two[0].supervisor)
    book_firm(two[0], "linings", START + 16)
    fitting.apply_fit(computed(two), two[0].planner)
    assert booking_of(two[0], "linings").state == Booking.State.FIRM
    holds.close_again(two[0].hold, place_names=["Bed 1"], reason="a batt was moved", by=two[0].supervisor)
    assert booking_of(two[0], "linings").state == Booking.State.PENCILLED
