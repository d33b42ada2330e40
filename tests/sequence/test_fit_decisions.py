"""A fit decided: refused when something changed, stopped, given up, taken back; and the guard beside it."""

import datetime as dt

import pytest

from coordination import clock
from coordination.people.models import RegionDay
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, fit_runs, fitting, holds
from coordination.sequence.fit_basis import read_basis
from coordination.sequence.models import Booking, Fit, FittedStart
from tests.sequence.builders import START, book, make_builder, sign_release, small_house
from tests.sequence.fits import book_firm, booking_of, computed, moved_house, shared_houses, starts_of


@pytest.fixture
def two(db, monday_morning):
    return shared_houses()


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


def test_it_is_refused_when_a_date_to_be_moved_has_come_near(two, monday_morning):
    """Told for Monday in a week with a freeze of five working days: free to move today, not tomorrow."""
    for one in two:
        Booking.objects.filter(visit=one.visits["frame"]).update(
            state=Booking.State.PENCILLED, told_start=START, told_finish=START + 4
        )
    fit = computed(two)
    assert fit.result["told"] == 1
    monday_morning.move_to(clock.starts_at(START - 12, "Australia/Hobart"))
    with pytest.raises(WrongState, match="so near") as refusal:
        fitting.apply_fit(fit, two[0].planner)
    assert [line for line in refusal.value.missing if "Frame" in line]
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

    def read_and_stop(*given):
        fitting.ask_to_stop(fit)
        return read_basis(*given)

    monkeypatch.setattr("coordination.sequence.fit_runs.read_basis", read_and_stop)
    assert fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    assert (fit.state, fit.result) == (Fit.State.STOPPED, {})
    with pytest.raises(WrongState):
        fitting.ask_to_stop(fit)


def test_a_worker_that_is_going_puts_the_fit_back_for_another(two):
    fit = fitting.start_fit(two[0].builder, two[0].planner)
    assert fit_runs.take_up(fit.pk, stopping=lambda: True)
    fit.refresh_from_db()
    assert (fit.state, fit.worker, fit.result) == (Fit.State.WAITING, "", {})
    Fit.objects.update(seconds=0)
    assert fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    assert fit.state == Fit.State.READY


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
    assert not fit_runs._Run(fit, "gone", lambda: False).update(state=Fit.State.READY)
    assert fitting.start_fit(two[0].builder, two[0].planner).state == Fit.State.WAITING


def test_a_computation_that_breaks_down_says_so_and_frees_the_place(two, monkeypatch, heard):
    def break_down(*_given, **_more):
        raise RuntimeError("out of order")

    monkeypatch.setattr(fit_runs, "fit_houses", break_down)
    fit = fitting.start_fit(two[0].builder, two[0].planner)
    with pytest.raises(RuntimeError):
        fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    assert fit.state == Fit.State.FAILED
    assert "broke down" in fit.words
    assert any("out of order" in one for one in heard)


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
