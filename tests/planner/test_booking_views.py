"""The planner's acts on bookings: each refusal says what is missing and changes nothing."""

import pytest
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.sequence import bookings
from coordination.sequence.models import Booking, Change, House, ReservedTime
from tests.planner.conftest import booking_of, linings_visit, release_before_linings, text_of
from tests.sequence.brick_veneer import Office, plan_of

pytestmark = pytest.mark.django_db


def address(house: House, act: str = "") -> str:
    return f"/houses/{house.pk}/visits/{linings_visit(house).pk}/{act}"


def pencilled(house: House, office: Office) -> Booking:
    return bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)


def test_making_firm_behind_a_hold_lists_what_is_missing_and_changes_nothing(
    planner: Client, house: House, office: Office
) -> None:
    booking = pencilled(house, office)
    lines, told = Change.objects.count(), Message.objects.count()
    answer = planner.post(address(house, "firm/"))
    assert answer.status_code == 409
    words = text_of(answer)
    assert "cannot be firm" in words
    assert "Still missing:" in words
    for hold in house.holds.filter(before__visit=booking.visit):
        assert hold.label in words
    assert words.count("Services and air seal:") > 3  # each open check of the walk by itself
    assert "Nothing was changed." in words
    booking.refresh_from_db()
    assert booking.state == Booking.State.PENCILLED
    assert (Change.objects.count(), Message.objects.count()) == (lines, told)


def test_linings_become_firm_when_every_hold_before_them_is_released(
    planner: Client, house: House, office: Office
) -> None:
    release_before_linings(house, office.supervisor)
    booking = pencilled(house, office)
    answer = planner.post(address(house, "firm/"), follow=True)
    booking.refresh_from_db()
    assert booking.state == Booking.State.FIRM
    assert f"is firm {clock.say_half_day(booking.told_start)}. The crew is told." in text_of(answer)


def test_pencil_takes_the_planned_date_or_the_one_that_was_chosen(planner: Client, house: House) -> None:
    planner.post(address(house, "pencil/"))
    booking = booking_of(house, linings_visit(house).key)
    planned = plan_of(house).dates.get(activity__is_stake=True).start
    assert (booking.state, booking.told_start) == (Booking.State.PENCILLED, planned)
    later, half = clock.as_date(planned + 14)
    planner.post(address(house, "pencil/"), {"start_0": later.isoformat(), "start_1": half})
    booking.refresh_from_db()
    assert booking.told_start == planned + 14


def test_date_that_the_plan_cannot_keep_is_refused_in_words(planner: Client, house: House) -> None:
    answer = planner.post(address(house, "pencil/"), {"start_0": "2026-04-14", "start_1": "am"})
    assert answer.status_code == 422
    assert "By the plan it cannot start before" in text_of(answer)
    assert booking_of(house, linings_visit(house).key).told_start is None


@pytest.mark.parametrize("day", ["0206-04-14", "9999-12-31"])
def test_year_with_a_wrong_digit_is_refused_at_its_field(planner: Client, house: House, day: str) -> None:
    answer = planner.post(address(house, "pencil/"), {"start_0": day, "start_1": "pm"})
    assert "Look at the year" in text_of(answer)
    assert booking_of(house, linings_visit(house).key).told_start is None


def test_standing_down_wants_a_reason(planner: Client, house: House, office: Office) -> None:
    booking = pencilled(house, office)
    planner.post(address(house, "stand-down/"), {"why": ""})
    booking.refresh_from_db()
    assert booking.state == Booking.State.PENCILLED
    planner.post(address(house, "stand-down/"), {"why": "frame is late"})
    booking.refresh_from_db()
    assert (booking.state, booking.stand_down_reason) == (Booking.State.STOOD_DOWN, "frame is late")


def test_another_crew_is_shown_with_its_effect_first_and_takes_over_then(
    planner: Client, house: House, office: Office
) -> None:
    # Ten half-days of word instead of three: the linings must move, and the page says so before.
    slow = office.crew("plasterer", "Kestrel Linings", word_time=10)
    pencilled(house, office)
    before = plan_of(house).number
    look = planner.post(address(house, "crew/"), {"crew": slow.pk, "why": "the other is ill"})
    assert look.status_code == 200
    words = text_of(look)
    assert "nothing is saved yet" in words
    assert "Give it to Kestrel Linings" in words
    assert "Banksia Linings (pencilled) is stood down." in words
    assert "Plasterboard fixed" in words
    assert plan_of(house).number == before
    planner.post(address(house, "crew/"), {"crew": slow.pk, "why": "the other is ill", "apply": "1"})
    booking = booking_of(house, linings_visit(house).key)
    assert (booking.crew, booking.state) == (slow, Booking.State.ASKED)
    old = Booking.objects.get(visit=booking.visit, state=Booking.State.STOOD_DOWN)
    assert old.stand_down_reason == "the other is ill"
    assert plan_of(house).number > before


def test_visit_without_a_crew_is_given_to_one(planner: Client, house: House, office: Office) -> None:
    visit = house.visits.filter(trade__key="frame-carpenter")[0]
    crew = office.crew("frame-carpenter", "Hillside Frames")
    link = f"/houses/{house.pk}/visits/{visit.pk}/crew/"
    assert planner.post(link, {"crew": crew.pk}).status_code == 200
    planner.post(link, {"crew": crew.pk, "apply": "1"})
    assert booking_of(house, visit.key).crew == crew


def test_crew_of_another_trade_cannot_be_chosen(planner: Client, house: House, office: Office) -> None:
    sparks = booking_of(house, house.visits.filter(trade__key="electrician")[0].key).crew
    answer = planner.post(address(house, "crew/"), {"crew": sparks.pk, "apply": "1"})
    assert "Select a valid choice" in text_of(answer)
    assert booking_of(house, linings_visit(house).key).crew.name == "Banksia Linings"


def test_booking_draws_on_time_reserved_with_its_crew(planner: Client, house: House, office: Office) -> None:
    booking = pencilled(house, office)
    assert booking.told_start is not None
    assert booking.told_finish is not None
    time = ReservedTime.objects.create(
        builder=office.builder,
        crew=booking.crew,
        first=booking.told_start,
        end=booking.told_finish,
        agreed_at=clock.now(),
    )
    planner.post(address(house, f"reserve/{time.pk}/"))
    booking.refresh_from_db()
    assert booking.reserved_time == time


@pytest.mark.parametrize("act", ["firm/", "pencil/", "stand-down/", "crew/"])
def test_only_the_builders_own_planner_may_act(
    supervisor: Client, stranger: Client, house: House, act: str
) -> None:
    assert supervisor.post(address(house, act), {"why": "x"}).status_code == 403
    assert stranger.post(address(house, act), {"why": "x"}).status_code == 404
    assert booking_of(house, linings_visit(house).key).state == Booking.State.ASKED


def test_acts_answer_only_to_forms(planner: Client, house: House) -> None:
    for act in ("firm/", "pencil/", "stand-down/", "crew/"):
        assert planner.get(address(house, act)).status_code == 405


def test_form_without_its_token_is_refused(house: House, office: Office) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(office.planner)
    assert strict.post(address(house, "pencil/")).status_code == 403
    assert booking_of(house, linings_visit(house).key).told_start is None


def test_supervisor_sees_a_visit_without_its_forms(supervisor: Client, house: House) -> None:
    page = supervisor.get(address(house))
    assert page.status_code == 200
    assert "Stand down" not in text_of(page)


def test_visit_of_another_house_does_not_exist_here(planner: Client, house: House, office: Office) -> None:
    other = office.house()
    visit = other.visits.all()[0]
    assert planner.get(f"/houses/{house.pk}/visits/{visit.pk}/").status_code == 404


def test_crew_that_could_come_earlier_is_offered_and_not_told(
    planner: Client, house: House, office: Office
) -> None:
    later = plan_of(house).dates.get(activity__is_stake=True).start + 14
    booking = bookings.pencil(booking_of(house, linings_visit(house).key), later, by=office.planner)
    words = text_of(planner.get(f"/houses/{house.pk}/visits/"))
    assert "Could come earlier, if the crew is asked" in words
    assert f"told {clock.say_half_day(later)}, possible from {clock.say_half_day(later - 14)}" in words
    booking.refresh_from_db()
    assert booking.told_start == later
