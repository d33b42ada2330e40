"""A told date moves only if it must, then the crew is told once (rule 7); reserved time is not overdrawn."""

import pytest

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.refusals import WrongState
from coordination.sequence import bookings, told_dates
from coordination.sequence.models import Activity, Booking, ReservedTime, ToldDate
from tests.sequence.builders import START, book, make_builder, plan_visit, sign_release, small_house

State = Booking.State
TOLD = (START + 14, START + 18)


def waiting(small, name="linings"):
    return Message.objects.filter(
        recipient=f"crew:{small.crews[name].pk}", superseded_at__isnull=True, sent_at__isnull=True
    )


def replanned(small, start, finish=None, number=1):
    plan = plan_visit(small, {"linings": (start, finish or start + 4)}, number)
    return bookings.tell_moved(small.house, plan)


def pencil(small):
    booking = book(small, "linings", State.ASKED, told_start=None, told_finish=None)
    return bookings.pencil(booking, *TOLD)


@pytest.mark.parametrize(("later", "told"), [(0, False), (1, False), (2, True), (3, True)])
def test_a_date_moves_when_the_plan_is_later_by_the_threshold(small, later, told):
    """Just before, at, and after the smallest told move of 2 half-days."""
    booking = book(small, "linings", confirmed_at=clock.now())
    moved = replanned(small, TOLD[0] + later)
    booking.refresh_from_db()
    assert bool(moved) is told
    assert booking.told_start == TOLD[0] + (later if told else 0)
    assert waiting(small).count() == (1 if told else 0)
    assert (booking.confirmed_at is None) is told


def test_the_message_says_old_new_and_why(small):
    book(small, "linings")
    replanned(small, TOLD[0] + 2)
    [message] = waiting(small)
    assert "Tue 28 Apr, morning" in message.body
    assert "Was Mon 27 Apr, morning." in message.body
    assert "Why: rain on Tuesday." in message.body
    assert ToldDate.objects.get().why == "rain on Tuesday"


def test_a_longer_visit_is_told_too(small):
    booking = book(small, "linings")
    replanned(small, TOLD[0], TOLD[1] + 2)
    booking.refresh_from_db()
    assert (booking.told_start, booking.told_finish) == (TOLD[0], TOLD[1] + 2)


@pytest.mark.parametrize(("earlier", "offered"), [(1, False), (2, True), (6, True)])
def test_earlier_is_offered_and_never_told(small, earlier, offered):
    booking = book(small, "linings")
    assert replanned(small, TOLD[0] - earlier) == []
    booking.refresh_from_db()
    assert booking.told_start == TOLD[0]
    assert Message.objects.count() == 0
    offers = bookings.find_offers(small.house, {small.visits["linings"].pk: (TOLD[0] - earlier, TOLD[1])})
    assert [(one.booking.pk, one.earlier_by) for one in offers] == (
        [(booking.pk, earlier)] if offered else []
    )


def test_planning_again_tells_nothing_twice(small):
    book(small, "linings")
    replanned(small, TOLD[0] + 2)
    assert replanned(small, TOLD[0] + 2, number=2) == []
    assert waiting(small).count() == 1


def test_two_moves_before_sending_are_one_message_with_the_last_date(small):
    book(small, "linings")
    replanned(small, TOLD[0] + 2)
    replanned(small, TOLD[0] + 6, number=2)
    assert waiting(small).get().facts["told_start"] == TOLD[0] + 6


def test_a_move_that_is_moved_back_before_it_was_sent_is_never_heard_of(small):
    booking = pencil(small)
    Message.objects.update(sent_at=clock.now())
    replanned(small, TOLD[0] + 4)
    assert waiting(small).count() == 1
    replanned(small, TOLD[0], number=2)
    booking.refresh_from_db()
    assert (booking.told_start, booking.told_finish) == TOLD
    assert waiting(small).count() == 0


def test_a_move_that_was_sent_is_not_taken_back(small):
    booking = pencil(small)
    replanned(small, TOLD[0] + 4)
    Message.objects.update(sent_at=clock.now())
    replanned(small, TOLD[0], number=2)
    booking.refresh_from_db()
    assert booking.told_start == TOLD[0] + 4


@pytest.mark.parametrize(("days", "moves"), [(9, True), (10, True), (11, False)])
def test_inside_the_freeze_the_office_decides(small, days, moves):
    """The told start lies ten working days ahead: a freeze of 10 days does not reach it, one of 11 does."""
    small.builder.freeze_days = days
    small.builder.save()
    booking = book(small, "linings")
    replanned(small, TOLD[0] + 4)
    booking.refresh_from_db()
    assert (booking.told_start != TOLD[0]) is moves
    assert waiting(small).count() == (1 if moves else 0)
    notices = Message.objects.filter(kind="notice")
    assert notices.count() == (0 if moves else 2)
    replanned(small, TOLD[0] + 4, number=2)
    assert Message.objects.filter(kind="notice").count() == notices.count()


@pytest.mark.parametrize(
    "state", [State.ASKED, State.UNDER_WAY, State.DONE, State.STOOD_DOWN, State.DECLINED]
)
def test_only_pencilled_and_firm_bookings_move(small, state):
    book(small, "linings", state)
    assert replanned(small, TOLD[0] + 8) == []


def test_work_that_has_started_keeps_its_told_date(small):
    Activity.objects.filter(key="linings").update(actual_start=TOLD[0])
    book(small, "linings")
    assert replanned(small, TOLD[0] + 8) == []


def test_a_firm_booking_stays_firm_at_its_new_date(small):
    from coordination.sequence import holds

    holds.lift(small.hold, sign_release(small))
    booking = book(small, "linings", State.FIRM)
    replanned(small, TOLD[0] + 4)
    booking.refresh_from_db()
    assert (booking.state, booking.told_start) == (State.FIRM, TOLD[0] + 4)
    assert waiting(small).get().facts["state"] == "firm"


# ---------------------------------------------------------------- reserved time


def reserve(small, units=1, first=TOLD[0], end=TOLD[1], **extra):
    return ReservedTime.objects.create(
        **{
            "builder": small.builder,
            "crew": small.crews["linings"],
            "first": first,
            "end": end,
            "units": units,
            "agreed_at": clock.now(),
            **extra,
        }
    )


def second_house(small):
    other = small_house(small.builder, "lot-8")
    return book(other, "linings", crew=small.crews["linings"])


@pytest.mark.parametrize(("units", "fits"), [(1, False), (2, True)])
def test_reserved_time_is_never_drawn_beyond_its_units(small, units, fits):
    reserved = reserve(small, units)
    bookings.draw_reserved_time(book(small, "linings"), reserved, small.planner)
    other = second_house(small)
    if fits:
        assert bookings.draw_reserved_time(other, reserved).reserved_time == reserved
        return
    with pytest.raises(WrongState, match="all 1 of the reserved time is used"):
        bookings.draw_reserved_time(other, reserved)


def test_one_unit_serves_two_houses_one_after_the_other(small):
    reserved = reserve(small, 1, TOLD[0], TOLD[1] + 4)
    bookings.draw_reserved_time(book(small, "linings"), reserved)
    other = second_house(small)
    Booking.objects.filter(pk=other.pk).update(told_start=TOLD[1], told_finish=TOLD[1] + 4)
    assert bookings.draw_reserved_time(other, reserved).reserved_time == reserved


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"agreed_at": None}, "not agreed"),
        ({"first": TOLD[0] + 1}, "Move one of them"),
        ({"end": TOLD[1] - 1}, "Move one of them"),
    ],
)
def test_time_that_is_not_agreed_or_does_not_cover_the_date_is_refused(small, change, words):
    with pytest.raises(WrongState, match=words):
        bookings.draw_reserved_time(book(small, "linings"), reserve(small, **change))


def test_another_crews_or_builders_time_is_refused(small):
    booking = book(small, "linings")
    for extra in ({"crew": small.crews["wiring"]}, {"builder": make_builder("Other Homes")}):
        with pytest.raises(WrongState, match="another crew, or by another builder"):
            bookings.draw_reserved_time(booking, reserve(small, **extra))


@pytest.mark.parametrize(("later", "keeps"), [(2, True), (6, False)])
def test_moving_a_booking_out_of_the_reserved_time_frees_it(small, later, keeps):
    reserved = reserve(small, end=TOLD[1] + 4)
    booking = bookings.draw_reserved_time(book(small, "linings"), reserved)
    replanned(small, TOLD[0] + later)
    booking.refresh_from_db()
    assert (booking.reserved_time is not None) is keeps


@pytest.mark.parametrize("act", [lambda one: bookings.stand_down(one, "late"), bookings.decline])
def test_a_booking_that_ends_frees_its_reserved_time(small, act):
    reserved = reserve(small)
    act(bookings.draw_reserved_time(book(small, "linings"), reserved))
    assert bookings.draw_reserved_time(second_house(small), reserved).reserved_time == reserved


def test_the_planned_window_of_a_visit_spans_its_activities(small):
    plan = plan_visit(small, {"linings": (TOLD[0], TOLD[1]), "frame": (START, START + 8)})
    assert told_dates.planned_windows(plan)[small.visits["frame"].pk] == (START, START + 8)
    assert told_dates.planned_window(small.visits["linings"]) == TOLD
    assert told_dates.planned_window(small.visits["board"]) is None
