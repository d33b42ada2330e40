"""What screens read: the right facts, in a fixed number of queries, of one's own builder only."""

import datetime as dt

import pytest

from coordination import clock
from coordination.sequence import bookings, holds, progress
from coordination.sequence.models import Booking
from coordination.sequence.queries import board, crew_visits, programme, read_heeds, visits_for
from tests.sequence.brick_veneer import date_of, open_office, plan_of, says
from tests.sequence.builders import say_brought_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def february(monday_morning):
    """Monday 2 February 2026, 9:00 in Hobart."""
    monday_morning.move_to(dt.datetime(2026, 2, 1, 22, 0, tzinfo=dt.UTC), tick=False)
    return monday_morning


def crews_of(office, *more):
    return {
        **{trade: office.crew(trade, f"The {trade}s") for trade in more},
        "plasterer": office.crew("plasterer", "Even Walls", capacity=2),
        "insulation-installer": office.crew("insulation-installer", "Warm Hands"),
        "board-supplier": office.crew("board-supplier", "Flat Sheets"),
    }


def report_done(house, **days):
    """Activities finished in the afternoon of that day of February 2026."""
    progress.record_progress(
        house,
        [
            progress.Report(key, last=clock.as_half_day(dt.date(2026, 2, day), "pm"))
            for key, day in days.items()
        ],
    )


# ------------------------------------------------------------------ all houses


def test_the_board_asks_the_same_few_questions_for_one_house_and_for_three(
    office, february, django_assert_num_queries
):
    crews = crews_of(office)
    office.house(crews=crews)
    with django_assert_num_queries(13):
        assert len(board(office.builder)) == 1
    office.house(crews=crews)
    office.house()
    with django_assert_num_queries(13):
        assert len(board(office.builder)) == 3


def test_the_board_says_what_a_house_waits_for_and_whether_its_linings_can_be_promised(office, february):
    house = office.house(crews=crews_of(office))
    row = board(office.builder)[0]
    assert (row.house, row.supervisor) == (house, office.supervisor.name)
    assert row.stake_name == "Plasterboard fixed"
    assert says(row.stake_start) == "2026-03-27 am"
    assert row.stake_booking is not None
    assert (row.stake_booking.crew, row.stake_booking.state) == ("Even Walls", "asked")
    assert [hold.key for hold in row.holds] == ["H1", "H2", "H3", "H4", "H5", "H6", "H7"]
    assert {hold.state for hold in row.holds} == {"not ready"}
    assert [hold.key for hold in row.stake_held_by] == ["H1", "H2", "H3", "H4", "H5"]
    assert not row.can_be_promised
    assert row.waits is not None
    assert (row.waits.kind, row.waits.key, row.waits.who) == ("work", "set-out", "Earthworks")
    assert row.next_window is not None
    assert (row.next_window.key, row.next_window.point_key) == ("d01", "H1")
    assert [span.done for span in row.stages] == [0] * len(row.stages)


def test_a_walk_whose_work_is_finished_is_what_the_house_waits_for(office, february):
    house = office.house()
    february.move_to(dt.datetime(2026, 2, 10, 22, 0, tzinfo=dt.UTC), tick=False)  # Wednesday morning
    report_done(house, **{"review": 2, "set-out": 3, "drains": 5, "slab-prep": 10})
    row = board(office.builder)[0]
    assert row.waits is not None
    assert (row.waits.kind, row.waits.key) == ("walk", "H1")
    assert (row.waits.words, row.waits.who) == ("void caps: 0 of 6 checked", "supervisor")
    assert says(row.waits.since) == "2026-02-11 am"
    assert row.next_hold is not None
    assert (row.next_hold.key, row.next_hold.state) == ("H1", "held")
    assert row.next_hold.page == f"/walks/{row.next_hold.id}/"
    assert row.under_way == ()


def test_houses_of_another_builder_and_those_handed_over_are_not_on_the_board(office, february):
    other = open_office("Tea Tree Homes")
    other.house()
    mine, old = office.house(), office.house()
    old.finished_at = clock.now()
    old.save()
    assert [row.house for row in board(office.builder)] == [mine]
    assert {row.house for row in board(office.builder, finished=True)} == {mine, old}


# ------------------------------------------------------------------ one house


def test_the_programme_of_a_house_asks_a_fixed_number_of_questions(
    office, february, django_assert_num_queries
):
    house = office.house(crews=crews_of(office))
    programme(house)  # names of stages are read once per version
    with django_assert_num_queries(16):
        shown = programme(house)
    assert shown is not None
    assert len(shown.activities) == 61
    progress.add_delay(house.activities.get(key="brick"), 6, "bricks came late", office.planner)
    with django_assert_num_queries(16):
        programme(house)


def test_the_programme_says_when_why_and_what_is_hidden(office, february):
    house = office.house(crews=crews_of(office))
    shown = programme(house)
    assert shown is not None
    rows = {row.key: row for row in shown.activities}
    linings = rows["linings"]
    assert linings is shown.stake
    assert linings.reason_words.startswith("after Insulation finishes Wed 25 Mar, morning")
    assert {"d13", "d16", "d25"} <= set(linings.hides)
    assert linings.drives_end
    assert linings.drives_stake
    assert linings.booking is not None
    assert linings.booking.crew == "Even Walls"
    assert "ceil-batts" in rows["H5"].waits_for
    assert rows["caps"].installs == ("d13", "d14", "d15")
    assert rows["caps"].float_to_stake == 3
    w2 = rows["W2"]
    assert w2.by_end_of is not None
    assert says(w2.by_end_of) == says(rows["windows"].last)
    assert rows["linings"].by_end_of is None
    assert shown.driving_chain[-1] == "defects"
    assert [key for key, _name in shown.stages] == list(dict.fromkeys(row.stage for row in shown.activities))
    saturday = clock.as_half_day(dt.date(2026, 3, 28))
    assert saturday in shown.non_working
    assert clock.as_half_day(dt.date(2026, 4, 3)) in shown.non_working, "Good Friday"
    assert clock.as_half_day(dt.date(2026, 3, 27)) not in shown.non_working


def test_windows_of_points_without_time_are_due_by_the_end_of_the_work_before(office, february):
    shown = programme(office.house())
    assert shown is not None
    windows = {one.key: one for one in shown.windows}
    rows = {row.key: row for row in shown.activities}
    perimeter = windows["d23"]
    assert (perimeter.point_key, perimeter.buried_by) == ("P2", (rows["ceil-batts"].name,))
    assert perimeter.due_by_end_of == rows["perimeter"].last
    assert windows["d16"].due_by_end_of is None
    assert [place.key for place in windows["d19"].places] == ["ensuite", "bathroom", "laundry"]
    assert not windows["d16"].installed


def test_a_visit_says_which_open_holds_stand_before_it_and_when_its_delivery_is_ordered(office, february):
    house = office.house(crews=crews_of(office))
    shown = programme(house)
    assert shown is not None
    delivery = next(visit for visit in shown.visits if "board-del" in visit.activities)
    lead = house.visits.get(key=delivery.key).order_lead
    assert delivery.delivery
    assert lead
    worked = [t for t in range(delivery.order_by or 0, delivery.start) if t not in shown.non_working]
    assert len(worked) == lead
    assert [hold.key for hold in delivery.held_by] == ["H1", "H2", "H3", "H4", "H5"]
    assert not delivery.can_be_firm
    first = next(visit for visit in shown.visits if "set-out" in visit.activities)
    assert first.can_be_firm


def test_an_earlier_revision_can_be_looked_at_and_the_list_says_what_each_moved(office, february):
    house = office.house()
    progress.add_delay(house.activities.get(key="brick"), 6, "bricks came late", office.planner)
    shown, before = programme(house), programme(house, number=1)
    assert shown is not None
    assert before is not None
    assert [(one.number, one.moved > 0) for one in shown.revisions] == [(2, True), (1, False)]
    assert before.finish < shown.finish
    assert {move.driver for move in shown.moved} == {"brick"}
    assert shown.diary[0].words.endswith("bricks came late")
    assert shown.diary[0].who == office.planner.name
    brick = next(row for row in shown.activities if row.key == "brick")
    assert (brick.half_days, brick.delays[0].why) == (22, "bricks came late")
    assert programme(house, number=9) is None


# ------------------------------------------------------------------ crews


def test_a_crew_sees_its_visits_of_all_builders_and_nobody_elses(office, february, django_assert_num_queries):
    crews = crews_of(office)
    house = office.house(crews=crews)
    other = open_office("Tea Tree Homes")
    other.builder.engagements.create(company=crews["plasterer"].company)
    away = other.house(crews={"plasterer": crews["plasterer"]}, starts_on=dt.date(2026, 2, 9))
    with django_assert_num_queries(11):
        visits = crew_visits(crews["plasterer"])
    assert {visit.house for visit in visits} == {house, away}
    assert {visit.trade_key for visit in visits} == {"plasterer"}
    starts = [visit.start or 0 for visit in visits]
    assert starts == sorted(starts)
    linings = next(visit for visit in visits if visit.house == house and visit.work[0].key == "linings")
    assert linings.start == date_of(house, "linings").start
    assert linings.finish == date_of(house, linings.work[-1].key).last + 1
    assert linings.held_by[-1] == "Insulation"
    assert linings.plan_number == plan_of(house).number


def test_a_visit_tells_its_trade_what_where_until_when_and_what_buries_it(office, february):
    crews = crews_of(office)
    house = office.house(crews=crews)
    visits = crew_visits(crews["insulation-installer"])
    details = {detail.key: detail for visit in visits for detail in visit.details}
    assert {"d16", "d23", "d25"} <= set(details)
    wet = details["d19"]
    assert [place.name for place in wet.places] == ["Ensuite", "Bathroom", "Laundry"]
    assert wet.words
    assert (wet.walk, wet.due) == ("Insulation", date_of(house, "H5").start)
    assert wet.buried_by == ("Plasterboard fixed",)
    assert wet.buried == date_of(house, "linings").start
    assert not any(detail.key == "d13" for detail in details.values()), "the carpenter's"


def test_who_installs_reads_the_instruction_and_then_the_word_for_his_trade(office, february):
    crews = crews_of(office, "plumber")
    house = office.house(crews=crews)
    pipes = house.details.get(key="d10")
    words = [
        detail.words
        for visit in crew_visits(crews["plumber"])
        for detail in visit.details
        if detail.key == "d10"
    ]
    assert words == [f"{pipes.instruction} {pipes.tells['plumber']}"]
    assert "290 mm batt" in words[0]


def test_who_covers_a_detail_reads_its_word_with_the_visit_that_covers_it(
    office, february, django_assert_num_queries
):
    trades = ("wrap-fixer", "plumber", "plasterer")
    crews = crews_of(office, "wrap-fixer", "plumber")
    house = office.house(crews=crews)
    visits = [visit for trade in trades for visit in crew_visits(crews[trade])]
    with django_assert_num_queries(3):
        heeds = read_heeds(visits)
    told = {visit.visit_key: {one.name: one.covers for one in heeds[visit.visit_id]} for visit in visits}
    assert told["wrap"] == {"Corner and junction pockets": True}, "not the wrap itself: that it installs"
    assert told["linings"]["Wall batts full depth"] is True
    plumber = [one for key, one in told.items() if key not in ("wrap", "linings")]
    heater = house.details.get(key="d06").name
    assert all(one[heater] is False for one in plumber if heater in one)
    assert any(heater in one for one in plumber), "who neither makes nor covers it is told at each visit"


def test_ended_bookings_are_shown_only_when_asked_for(office, february):
    crews = crews_of(office)
    house = office.house(crews=crews)
    booking = Booking.objects.get(house=house, visit__activities__key="linings")
    bookings.decline(booking, crews["plasterer"], "no people that week")
    states = {visit.booking.state for visit in crew_visits(crews["plasterer"])}
    assert "declined" not in states
    ended = [
        visit for visit in crew_visits(crews["plasterer"], ended=True) if visit.booking.state == "declined"
    ]
    assert [visit.uid for visit in ended] == [str(booking.uid)]
    assert visits_for(Booking.objects.filter(pk=booking.pk))[0].booking.id == booking.pk


def test_a_hold_that_was_set_aside_no_longer_stands_before_a_visit(office, february):
    crews = crews_of(office)
    house = office.house(crews=crews)
    february.move_to(dt.datetime(2026, 2, 12, 22, 0, tzinfo=dt.UTC), tick=False)
    report_done(house, **{"review": 2, "set-out": 3, "drains": 5, "slab-prep": 10, "pour": 12})
    say_brought_in(house)
    holds.set_aside(house.holds.get(point__key="H1"), by=office.planner, why="poured before this began")
    visit = crew_visits(crews["board-supplier"])[0]
    assert "Pre-pour" not in visit.held_by
    row = board(office.builder)[0]
    assert row.holds[0].state == "set aside"
    assert row.next_hold is not None
    assert row.next_hold.key == "H2"
