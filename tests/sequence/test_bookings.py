"""Bookings: from asked to done, firm only behind released holds, every change told once."""

import pytest
from django.db import IntegrityError

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Company
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, guard, holds
from coordination.sequence.models import Activity, Booking, Change, Plan, ToldDate
from tests.sequence.builders import START, book, make_builder, make_crew, plan_visit, sign_release

State = Booking.State


def lift(small):
    return holds.lift(small.hold, sign_release(small))


def waiting(small, name):
    return Message.objects.filter(
        recipient=f"crew:{small.crews[name].pk}", superseded_at__isnull=True, sent_at__isnull=True
    )


def send_all():
    Message.objects.filter(sent_at__isnull=True).update(sent_at=clock.now())


# ---------------------------------------------------------------- ask


def test_asking_books_a_crew_without_telling_it_a_date(small):
    booking = bookings.ask(small.visits["linings"], small.crews["linings"], small.planner)
    assert (booking.state, booking.told_start, booking.sequence) == (State.ASKED, None, 0)
    assert Message.objects.count() == ToldDate.objects.count() == 0
    assert Change.objects.get().words == "Linings lot-7 asked for Linings"


def test_asking_re_plans_a_house_that_has_a_plan(small):
    plan_visit(small, {"linings": (START + 14, START + 18)})
    bookings.ask(small.visits["linings"], small.crews["linings"], small.planner)
    assert Plan.objects.latest("number").cause == "Linings lot-7 asked for Linings"


def test_a_visit_has_one_live_booking(small):
    bookings.ask(small.visits["linings"], small.crews["linings"])
    with pytest.raises(WrongState, match="booked with Linings lot-7 \\(asked\\)"):
        bookings.ask(small.visits["linings"], small.crews["linings"])


def test_a_crew_of_another_trade_is_refused_by_name(small):
    with pytest.raises(BadInput, match=r"Sparks lot-7.*another trade.*plasterer"):
        bookings.ask(small.visits["linings"], small.crews["wiring"])


def test_a_crew_whose_company_does_not_work_for_the_builder_is_refused(small):
    stranger = make_crew(make_builder("Other Homes"), "plasterer", "Strangers")
    with pytest.raises(BadInput, match="does not work for Saltbush Homes"):
        bookings.ask(small.visits["linings"], stranger)


# ---------------------------------------------------------------- pencil


def test_pencilling_tells_the_planned_date(small):
    plan_visit(small, {"linings": (START + 14, START + 18)})
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    bookings.pencil(booking, by=small.planner)
    booking.refresh_from_db()
    assert (booking.state, booking.told_start, booking.told_finish) == ("pencilled", START + 14, START + 18)
    assert (booking.sequence, ToldDate.objects.get().state) == (1, "pencilled")
    [message] = waiting(small, "linings")
    assert message.body == (
        "Saltbush Homes, Lot 7, Saltbush Rise: Linings pencilled Mon 27 Apr, morning to Tue 28 Apr, "
        "afternoon. Please answer."
    )
    assert (message.needs_answer, message.urgent) == (True, False)


def test_pencilling_the_same_date_again_says_nothing(small):
    booking = book(small, "linings")
    bookings.pencil(booking, START + 14, START + 18)
    assert Message.objects.count() == 0


def test_without_a_plan_a_date_must_be_given(small):
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    with pytest.raises(BadInput, match="no plan"):
        bookings.pencil(booking)
    assert bookings.pencil(booking, START + 14).told_finish == START + 15


@pytest.mark.parametrize(
    ("start", "finish", "words"),
    [
        (START - 20, None, "has passed"),
        (START + 16, START + 16, "ends? before"),
        (START + 13, None, "planned|plan"),
    ],
)
def test_nonsense_dates_are_refused(small, start, finish, words):
    plan_visit(small, {"linings": (START + 14, START + 18)})
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    with pytest.raises(BadInput, match=words):
        bookings.pencil(booking, start, finish)
    booking.refresh_from_db()
    assert booking.state == State.ASKED


def test_a_firm_booking_that_is_pencilled_elsewhere_loses_its_confirmation(small):
    lift(small)
    booking = book(small, "linings", State.FIRM, confirmed_at=clock.now())
    bookings.pencil(booking, START + 16, START + 20, why="board is late")
    booking.refresh_from_db()
    assert (booking.state, booking.confirmed_at) == (State.PENCILLED, None)
    [message] = waiting(small, "linings")
    assert "Was Mon 27 Apr, morning." in message.body
    assert "board is late" in message.body


def test_a_second_date_before_the_first_was_sent_replaces_it(small):
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    bookings.pencil(booking, START + 14, START + 18)
    bookings.pencil(booking, START + 16, START + 20)
    [message] = waiting(small, "linings")
    assert message.facts["told_start"] == START + 16


@pytest.mark.parametrize(("half_days", "urgent"), [(4, True), (5, False)])
def test_a_date_within_two_working_days_is_told_at_once(small, half_days, urgent):
    """Just at and just after: the clock stands at Monday morning, four half-days on is Wednesday morning."""
    now = clock.current_half_day("Australia/Hobart")
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    bookings.pencil(booking, now + half_days)
    assert waiting(small, "linings").get().urgent is urgent


# ---------------------------------------------------------------- confirm, decline


def test_confirming_is_written_down_and_answers_the_question(small):
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    bookings.pencil(booking, START + 14)
    send_all()
    bookings.confirm(booking, small.crews["linings"])
    booking.refresh_from_db()
    assert (booking.state, booking.confirmed_at) == (State.PENCILLED, clock.now())
    assert Message.objects.get().acknowledged_at == clock.now()


def test_another_crew_neither_confirms_nor_declines(small):
    booking = book(small, "linings")
    for act in (bookings.confirm, bookings.decline):
        with pytest.raises(NotAllowed):
            act(booking, small.crews["wiring"])


def test_declining_tells_the_office_and_frees_the_visit(small):
    booking = book(small, "linings")
    bookings.decline(booking, small.crews["linings"], "on another house")
    booking.refresh_from_db()
    assert booking.state == State.DECLINED
    notices = Message.objects.filter(kind="notice")
    assert {one.person for one in notices} == {small.planner, small.supervisor}
    assert all("on another house" in one.body for one in notices)
    assert bookings.ask(small.visits["linings"], small.crews["linings"]).state == State.ASKED


# ---------------------------------------------------------------- firm (rule 1)


def test_booking_is_refused_while_insulation_is_unreleased(small, answering_port):
    booking = book(small, "linings")
    with pytest.raises(WrongState, match="Linings cannot be firm: Insulation not released") as refusal:
        bookings.make_firm(booking, small.planner)
    assert refusal.value.missing == (
        "Insulation: pockets: 3 of 14 checked",
        "Insulation: void caps: not seen",
    )
    booking.refresh_from_db()
    assert booking.state == State.PENCILLED
    assert Message.objects.count() == Change.objects.count() == 0


def test_without_the_judging_package_nothing_behind_a_hold_is_firm(small, settings):
    settings.COORDINATION_INSPECTION_PORT = ""
    with pytest.raises(WrongState, match="No package answers"):
        bookings.make_firm(book(small, "linings"))


def test_a_point_without_its_hold_keeps_the_whole_house_from_firm(small, answering_port):
    """None missing means none lifted by omission."""
    lift(small)
    Activity.objects.create(
        house=small.house,
        key="H6",
        name="Wet areas",
        order=30,
        half_days=1,
        is_point=True,
        point_kind=Activity.PointKind.HOLD,
    )
    booking = book(small, "frame")
    with pytest.raises(WrongState, match="cannot be firm") as refusal:
        bookings.make_firm(booking)
    assert refusal.value.missing[0].startswith("Wet areas has no hold")
    with pytest.raises(IntegrityError, match="has no hold"):
        Booking.objects.filter(pk=booking.pk).update(state=State.FIRM)


def test_a_released_booking_becomes_firm_and_is_told(small, answering_port):
    lift(small)
    booking = book(small, "linings")
    firm = bookings.make_firm(booking, small.planner)
    assert (firm.state, firm.sequence) == (State.FIRM, 1)
    [message] = waiting(small, "linings")
    assert message.subject == "Saltbush Homes, Lot 7, Saltbush Rise: Linings firm Mon 27 Apr, morning"
    assert ToldDate.objects.get().state == "firm"


def test_a_visit_without_a_hold_before_it_becomes_firm_at_once(small, answering_port):
    assert bookings.make_firm(book(small, "wiring")).state == State.FIRM


def test_the_triggers_refuse_what_changes_after_the_rules_were_asked(small, answering_port, monkeypatch):
    """The second line: the services believe that nothing is before the visit."""
    monkeypatch.setattr(bookings, "_refuse_behind_hold", lambda booking: None)
    with pytest.raises(WrongState, match="hold point before this visit is open"):
        bookings.make_firm(book(small, "linings"))
    assert Message.objects.count() == Change.objects.count() == 0


@pytest.mark.parametrize("state", [State.ASKED, State.FIRM, State.DONE, State.DECLINED])
def test_only_a_pencilled_booking_becomes_firm(small, answering_port, state):
    lift(small)
    with pytest.raises(WrongState, match="Only a pencilled booking"):
        bookings.make_firm(book(small, "linings", state))


@pytest.mark.parametrize(
    ("planned", "refused"), [(START + 13, False), (START + 14, False), (START + 15, True)]
)
def test_a_told_date_before_the_plan_with_word_time_is_not_made_firm(small, answering_port, planned, refused):
    lift(small)
    plan_visit(small, {"linings": (planned, planned + 4)})
    booking = book(small, "linings")
    if not refused:
        assert bookings.make_firm(booking).state == State.FIRM
        return
    with pytest.raises(WrongState, match=r"it starts Mon 27 Apr, afternoon\. Pencil that date first"):
        bookings.make_firm(booking)


def test_a_told_date_that_has_passed_is_not_made_firm(small, answering_port, monday_morning):
    lift(small)
    booking = book(small, "linings")
    monday_morning.shift(30 * 24 * 3600)
    with pytest.raises(WrongState, match="has passed"):
        bookings.make_firm(booking)


# ---------------------------------------------------------------- stand down, change of crew


def test_standing_down_cancels_the_entry_and_tells_why(small):
    booking = book(small, "linings")
    bookings.stand_down(booking, "slab is late", small.planner)
    booking.refresh_from_db()
    assert (booking.state, booking.sequence) == (State.STOOD_DOWN, 1)
    [message] = waiting(small, "linings")
    assert "stood down" in message.body
    assert "slab is late" in message.body


def test_a_crew_that_never_heard_of_a_visit_hears_nothing_of_its_end(small):
    asked = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    bookings.stand_down(asked, "slab is late")
    told = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    bookings.pencil(told, START + 14)
    bookings.stand_down(told, "slab is late")
    assert waiting(small, "linings").count() == 0


def test_standing_down_needs_a_reason_and_a_live_booking(small):
    booking = book(small, "linings")
    with pytest.raises(BadInput, match="reason"):
        bookings.stand_down(booking, " ")
    bookings.stand_down(booking, "slab is late")
    with pytest.raises(WrongState, match="stood down"):
        bookings.stand_down(booking, "again")


def test_another_crew_is_a_new_booking_and_the_old_crew_is_told_once(small):
    plan_visit(small, {"linings": (START + 14, START + 18)})
    old = book(small, "linings")
    other = make_crew(small.builder, "plasterer", "Second Linings")
    new = bookings.change_crew(small.visits["linings"], other, small.planner)
    old.refresh_from_db()
    assert (old.state, new.state, new.told_start) == (State.STOOD_DOWN, State.ASKED, None)
    assert new.uid != old.uid
    [message] = waiting(small, "linings")
    assert message.facts["state"] == "stood down"
    assert Message.objects.filter(crew=other).count() == 0
    assert Plan.objects.latest("number").cause == "Linings given to Second Linings"


def test_a_crew_is_not_changed_for_itself_nor_after_the_work(small):
    book(small, "linings")
    with pytest.raises(WrongState, match="has this visit already"):
        bookings.change_crew(small.visits["linings"], small.crews["linings"])
    book(small, "board", State.DONE)
    with pytest.raises(WrongState, match="Board is done"):
        bookings.change_crew(
            small.visits["board"], make_crew(small.builder, "board-supplier", "Other Boards")
        )


# ---------------------------------------------------------------- reports of fact


@pytest.mark.parametrize("state", State.values)
@pytest.mark.parametrize("act", ["report_under_way", "report_done"])
def test_reports_are_accepted_from_any_state(small, state, act):
    if state == State.FIRM:
        lift(small)
    booking = book(small, "linings", state)
    getattr(bookings, act)(booking, crew=small.crews["linings"])
    booking.refresh_from_db()
    assert booking.state == (State.DONE if act == "report_done" else State.UNDER_WAY)
    assert booking.went_past_hold is (state != State.FIRM)


def test_going_past_an_open_hold_is_written_down_and_told(small):
    bookings.report_under_way(book(small, "linings"), crew=small.crews["linings"])
    notices = Message.objects.filter(kind="notice")
    assert {one.person for one in notices} == {small.planner, small.supervisor}
    assert all(one.urgent and "went past hold point Insulation" in one.body for one in notices)
    assert Change.objects.get().facts["went_past"] == [small.hold.pk]


def test_a_report_on_a_visit_of_another_crew_by_now_is_refused(small):
    old = book(small, "linings", State.STOOD_DOWN)
    other = make_crew(small.builder, "plasterer", "Second Linings")
    book(small, "linings", State.PENCILLED, crew=other)
    with pytest.raises(WrongState, match="booked with Second Linings now"):
        bookings.report_done(old)


def test_a_delivery_that_is_done_is_on_site(small):
    lift(small)
    assert bookings.report_done(book(small, "board", State.FIRM)).on_site
    assert not bookings.report_done(book(small, "linings", State.FIRM)).on_site


def test_done_stops_what_was_not_sent_yet(small):
    booking = book(small, "wiring", State.ASKED, told_start=None, told_finish=None)
    bookings.pencil(booking, START + 14)
    bookings.report_done(booking)
    assert waiting(small, "wiring").count() == 0


def test_calling_ready_asks_the_judging_package_in_the_same_transaction(small, answering_port):
    booking = book(small, "wiring")
    assert bookings.call_ready(booking, "all done", crew=small.crews["wiring"]) == ["Insulation"]
    booking.refresh_from_db()
    assert booking.ready_at == clock.now()
    assert answering_port.calls == [
        {"visit_id": small.visits["wiring"].pk, "crew": small.crews["wiring"], "note": "all done"}
    ]


# ---------------------------------------------------------------- texts


def test_long_names_and_reasons_are_cut_and_the_first_sixty_characters_stand_alone(small):
    small.house.builder.name = "Very Long Builder's Name of the Whole South Coast Proprietary Limited"
    small.house.builder.phone = "03 0000 0000"
    small.house.builder.save()
    small.house.name = "Lot 1234567, The Longest Street Name That Anyone Has Ever Seen"
    small.house.save()
    booking = book(small, "linings")
    bookings.stand_down(Booking.objects.get(pk=booking.pk), "because " * 60)
    [message] = waiting(small, "linings")
    assert len(message.body) <= 300
    assert message.body.endswith("Ring 03 0000 0000.")
    assert message.body[:60].startswith("Very Long Builder's Name")
    assert "Lot 1234567" in message.body[:60]


def test_other_integrity_errors_are_not_taken_for_the_guard(small):
    with pytest.raises(IntegrityError), guard.speaking():
        Company.objects.create(pk=small.crews["linings"].company_id, name="twice")
