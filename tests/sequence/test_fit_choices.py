"""A fit that begins from the present, chooses crews for visits without one, and lets a house go first.

Dates of the small houses are counted by hand, as in `test_fitting`.
"""

import datetime as dt

import pytest

from coordination import clock
from coordination.people.models import Engagement
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, fit_runs, fitting
from coordination.sequence.fit_basis import read_basis
from coordination.sequence.models import Booking, Fit, FittedStart, PlannedDate
from coordination.sequence.replanning import replan
from tests.sequence.builders import START, make_builder, make_crew
from tests.sequence.fits import booking_of, computed, moved_house, reason_of, shared_houses, starts_of

MAY = clock.as_half_day(dt.date(2026, 5, 4))
"""Monday 4 May, two weeks after the houses should have begun."""


@pytest.fixture
def two(db, monday_morning):
    return shared_houses()


@pytest.fixture
def late(two, monday_morning):
    """The same houses two weeks later: nobody has reported anything."""
    monday_morning.move_to(clock.now() + dt.timedelta(days=21))
    assert clock.current_half_day(two[0].builder.time_zone) == MAY
    return two


# ---------------------------------------------------------------- from the present on


def test_nothing_that_has_not_begun_is_placed_in_the_past(late):
    fit = computed(late)
    assert fit.words == ""
    assert all(visit["now"][0] >= MAY for row in fit.houses.all() for visit in row.result["visits"])
    fitting.apply_fit(fit, late[0].planner)
    later, sooner = moved_house(late)
    assert starts_of(sooner, "frame", "wiring", "linings") == [MAY, MAY + 4, MAY + 16]
    assert starts_of(later, "frame", "wiring") == [MAY + 4, MAY + 8]
    assert not FittedStart.objects.filter(not_before__lt=MAY).exists()
    for one in late:
        plan = one.house.plans.order_by("-number")[0]
        assert not PlannedDate.objects.filter(plan=plan, es__lt=MAY).exists()
    assert reason_of(sooner, "frame") == "not before Mon 4 May, morning: not reported as begun by then"


def test_houses_that_nobody_reported_on_are_named(late):
    recorded = {one.house.pk: one.house.recorded_up_to for one in late}
    assert dict(computed(late).result["unreported"]) == recorded


def test_work_under_way_is_left_where_it_is(late):
    """The frame began on 20 April; what follows it and has not begun comes no earlier than now."""
    frame = late[0].activities["frame"]
    frame.actual_start = START
    frame.save()
    replan(late[0].house, cause="begun")
    fitting.apply_fit(computed(late), late[0].planner)
    assert starts_of(late[0], "frame", "wiring") == [START, MAY]


def test_a_confirmed_date_that_has_passed_holds_nothing(late):
    Booking.objects.filter(visit=late[0].visits["frame"]).update(
        state=Booking.State.PENCILLED, told_start=START, told_finish=START + 4, confirmed_at=clock.now()
    )
    basis = read_basis(late[0].builder, [one.house.pk for one in late])
    assert all(late[0].visits["frame"].pk not in one.stays for one in basis.houses)
    fit = computed(late)
    [visit] = [
        visit
        for row in fit.houses.filter(house=late[0].house)
        for visit in row.result["visits"]
        if visit["name"] == "Frame"
    ]
    assert (visit["passed"], visit["tells"]) == (True, False)
    fitting.apply_fit(fit, late[0].planner)
    # Inside the freeze the office is asked; the told date stands until somebody decides.
    assert booking_of(late[0], "frame").told_start == START


def test_dates_that_passed_while_somebody_looked_are_not_applied(late, monday_morning):
    fit = computed(late)
    monday_morning.move_to(clock.now() + dt.timedelta(days=1))
    with pytest.raises(WrongState, match="have passed since"):
        fitting.apply_fit(fit, late[0].planner)
    assert not FittedStart.objects.exists()


# ---------------------------------------------------------------- visits without a crew


@pytest.fixture
def crewless(two):
    """Both frames without a crew; the builder has two crews of carpenters."""
    for one in two:
        bookings.stand_down(booking_of(one, "frame"), "does another job", one.planner)
    Engagement.objects.filter(company__crews__trade__key="carpenter").delete()
    names = ("Ridge Carpenters", "Valley Carpenters")
    return two, [make_crew(two[0].builder, "carpenter", name) for name in names]


def test_two_visits_without_a_crew_go_to_two_crews_at_once(crewless):
    two, carpenters = crewless
    fit = computed(two)
    assert (fit.result["proposed"], fit.result["without_crew"]) == (2, 0)
    proposed = [crew for row in fit.houses.all() for crew in row.result["proposed"].values()]
    assert sorted(proposed) == sorted(crew.pk for crew in carpenters)
    shown = {v["crew"] for row in fit.houses.all() for v in row.result["visits"] if v["proposed"]}
    assert shown == {"Ridge Carpenters", "Valley Carpenters"}
    assert not Booking.objects.filter(crew__in=carpenters).exists()
    fitting.apply_fit(fit, two[0].planner)
    assert [starts_of(one, "frame") for one in two] == [[START], [START]]
    asked = [booking_of(one, "frame") for one in two]
    assert {one.crew_id for one in asked} == {crew.pk for crew in carpenters}
    assert {one.state for one in asked} == {Booking.State.ASKED}


def test_taking_it_back_stands_the_chosen_crews_down(crewless):
    two, carpenters = crewless
    fit = computed(two)
    fitting.apply_fit(fit, two[0].planner)
    fitting.undo_fit(fit, two[0].planner)
    assert not Booking.objects.filter(crew__in=carpenters, state__in=Booking.LIVE).exists()


def test_a_chosen_crew_that_was_pencilled_since_stands_in_the_way(crewless):
    two, _carpenters = crewless
    fit = computed(two)
    fitting.apply_fit(fit, two[0].planner)
    bookings.pencil(booking_of(two[0], "frame"), by=two[0].planner)
    with pytest.raises(WrongState) as refusal:
        fitting.undo_fit(fit, two[0].planner)
    assert any("pencilled" in line for line in refusal.value.missing)
    assert booking_of(two[0], "frame").state == Booking.State.PENCILLED


def test_one_crew_of_the_trade_does_them_one_after_the_other(crewless):
    """Nobody's time is unlimited: of one crew the second house has to wait."""
    two, carpenters = crewless
    Engagement.objects.filter(company=carpenters[1].company).delete()
    fitting.apply_fit(computed(two), two[0].planner)
    later, sooner = moved_house(two)
    assert starts_of(sooner, "frame") == [START]
    assert starts_of(later, "frame") == [START + 4]
    assert {booking_of(one, "frame").crew_id for one in two} == {carpenters[0].pk}


def test_another_builders_crews_are_not_chosen(crewless):
    two, carpenters = crewless
    companies = [crew.company for crew in carpenters]
    Engagement.objects.filter(company__in=companies).update(builder=make_builder("Other Homes"))
    fit = computed(two)
    assert (fit.result["proposed"], fit.result["without_crew"]) == (0, 2)


# ---------------------------------------------------------------- which house goes first


def _fit_weighed(two, weights):
    fit = fitting.start_fit(two[0].builder, two[0].planner, weights=weights)
    Fit.objects.filter(pk=fit.pk).update(seconds=0)
    assert fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    fitting.apply_fit(fit, two[0].planner)


@pytest.mark.parametrize("first", [0, 1])
@pytest.mark.parametrize(("one", "other"), [("first", "usual"), ("usual", "waits")])
def test_the_house_that_goes_first_gets_the_crew(two, first, one, other):
    weights = {two[first].house.pk: one, two[1 - first].house.pk: other}
    _fit_weighed(two, weights)
    assert starts_of(two[first], "frame") == [START]
    assert starts_of(two[1 - first], "frame") == [START + 4]


def test_a_weight_that_does_not_exist_is_refused(two):
    with pytest.raises(BadInput, match="words offered"):
        fitting.start_fit(two[0].builder, two[0].planner, weights={two[0].house.pk: "now"})
    assert not Fit.objects.exists()


def test_the_same_houses_come_out_the_same(db, monday_morning):
    houses = shared_houses(5)
    found = [[row.result for row in computed(houses).houses.all()] for _time in range(2)]
    assert found[0] == found[1]
