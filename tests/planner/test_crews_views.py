"""Crews by week, a crew's link, word time and reserved time."""

import re

import pytest
from django.test import Client

from coordination import clock
from coordination.people.models import Builder, Crew, CrewLink, Engagement
from coordination.planner.crew_weeks import Stay, list_mondays, spread
from coordination.sequence import bookings
from coordination.sequence.models import House, ReservedTime
from tests.planner.conftest import STARTS, booking_of, linings_visit, text_of
from tests.sequence.brick_veneer import Office, plan_of

MONDAY = clock.as_half_day(STARTS)


def stay(start: int, finish: int, state: str = "pencilled", **more: object) -> Stay:
    facts = {"told": True, "confirmed": False, "house": "Lot 7", "visit": "Linings", "link": "/"} | more
    return Stay(1, MONDAY + start, MONDAY + finish, state, **facts)  # type: ignore[arg-type]


def test_half_day_with_more_houses_than_the_crew_takes_is_double_booked() -> None:
    mondays = list_mondays(MONDAY + 3, 2)
    assert mondays == [MONDAY, MONDAY + 14]
    apart = spread([stay(0, 4), stay(4, 8)], 1, mondays)
    assert apart.double_booked == ""
    meeting = spread([stay(0, 5), stay(4, 8)], 1, mondays)
    assert meeting.double_booked == clock.say_half_day(MONDAY + 4)
    assert spread([stay(0, 5), stay(4, 8)], 2, mondays).double_booked == ""


def test_clash_that_nobody_was_told_is_counted_apart_from_one_that_was() -> None:
    mondays = list_mondays(MONDAY, 1)
    planned = spread([stay(0, 5, "asked", told=False), stay(4, 8, "asked", told=False)], 1, mondays)
    assert (planned.double_booked, planned.planned_double) == ("", clock.say_half_day(MONDAY + 4))
    half = spread([stay(0, 5), stay(4, 8, "asked", told=False)], 1, mondays)
    assert (half.double_booked, half.planned_double) == ("", clock.say_half_day(MONDAY + 4))
    told = spread([stay(0, 5, "under way", told=False), stay(4, 8), stay(0, 1, told=False)], 1, mondays)
    assert (told.double_booked, told.planned_double) == (clock.say_half_day(MONDAY + 4), "")


def test_stays_that_share_only_a_weekend_do_not_clash() -> None:
    # Friday afternoon to Monday morning, and one that is told Saturday: nobody works either then.
    weeks = spread([stay(9, 15), stay(10, 14)], 1, list_mondays(MONDAY, 2))
    assert weeks.double_booked == ""


def test_weeks_without_a_visit_are_idle_and_unanswered_dates_are_counted_once() -> None:
    weeks = spread([stay(8, 16), stay(16, 18, confirmed=True)], 1, list_mondays(MONDAY, 3))
    assert weeks.idle_weeks == 1
    assert weeks.unconfirmed == 1  # the visit over two weeks is one


@pytest.mark.django_db
def test_page_shows_the_crew_in_the_week_of_its_visit(planner: Client, house: House, office: Office) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    starts = plan_of(house).dates.get(activity__is_stake=True).start
    page = planner.get(f"/crews/{crew.pk}/")
    assert f"{house.name} Plasterboard: fix and set" in text_of(page)
    assert clock.say_day(starts) in text_of(page)
    assert "not told yet" in text_of(page)
    bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)
    assert "not confirmed" in text_of(planner.get(f"/crews/{crew.pk}/"))
    everyone = planner.get("/crews/")
    assert everyone.status_code == 200
    assert crew.name in text_of(everyone)


@pytest.mark.django_db
def test_crew_with_two_houses_at_once_is_double_booked_once_it_was_told_so(
    planner: Client, house: House, office: Office
) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    other = office.house(starts_on=STARTS, crews={"plasterer": crew})
    own, all_crews = f"/crews/{crew.pk}/", f"/crews/?from={clock.as_date(linings_start(house))[0]}"
    assert "Double-booked from" not in text_of(planner.get(own))
    assert "As planned it would be wanted at too many houses from" in text_of(planner.get(own))
    words = text_of(planner.get(all_crews))
    assert "told too many houses at once 0 Planned so, but not told 1" in words
    assert "planned at too many houses: " in words
    for one in (house, other):
        bookings.pencil(booking_of(one, linings_visit(one).key), by=office.planner)
    assert "Double-booked from" in text_of(planner.get(own))
    words = text_of(planner.get(all_crews))
    assert "told too many houses at once 1 Banksia Linings" in words
    assert "Planned so, but not told 0" in words
    Crew.objects.filter(pk=crew.pk).update(capacity=2)
    assert "Double-booked from" not in text_of(planner.get(own))


def linings_start(house: House) -> int:
    return plan_of(house).dates.get(activity__is_stake=True).start


@pytest.mark.django_db
def test_two_weeks_are_shown_at_first_and_the_way_leads_on_with_the_same_trade(
    planner: Client, house: House
) -> None:
    first = planner.get("/crews/")
    assert "Mon 13 Apr – Sun 26 Apr" in text_of(first)
    assert 'href="?from=2026-04-27"' in first.content.decode()
    assert "Free in these weeks: Redgum Electrical (electrician)" in text_of(first)
    day = clock.as_date(linings_start(house))[0]
    page = planner.get("/crews/", {"from": day.isoformat(), "trade": "plasterer"})
    words = text_of(page)
    assert f"{house.name} · Plasterboard: fix and set · " in words
    assert "Redgum Electrical" not in words
    assert "trade=plasterer" in page.content.decode()
    assert '<option value="plasterer" selected>' in page.content.decode()
    assert "Banksia Linings" not in text_of(planner.get("/crews/?trade=electrician"))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("from=soon", "This is no day."),
        ("from=9999-12-31", "Look at the year"),
        ("trade=astrologer", "Select a valid choice"),
    ],
)
def test_what_cannot_be_shown_is_named_and_all_crews_are(
    planner: Client, house: House, query: str, words: str
) -> None:
    page = planner.get(f"/crews/?{query}")
    assert page.status_code == 422
    assert words in text_of(page)
    assert "Banksia Linings" in text_of(page)


@pytest.mark.django_db
def test_houses_of_another_builder_are_seen_as_time_only(
    planner: Client, stranger: Client, house: House, office: Office
) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    other = Builder.objects.get(name="Other Homes")
    Engagement.objects.create(builder=other, company=crew.company)
    words = text_of(stranger.get(f"/crews/{crew.pk}/"))
    assert "not available" in words
    assert house.name not in words
    assert "Plasterboard" not in words


@pytest.mark.django_db
def test_crew_that_does_not_work_for_the_builder_does_not_exist(
    stranger: Client, supervisor: Client, house: House
) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    assert stranger.get(f"/crews/{crew.pk}/").status_code == 404
    for act in ("link/", "link/revoke/", "word-time/", "reserve/"):
        assert stranger.post(f"/crews/{crew.pk}/{act}").status_code == 404
        assert supervisor.post(f"/crews/{crew.pk}/{act}").status_code == 403


@pytest.mark.django_db
def test_link_is_shown_once_opens_the_crews_page_and_can_be_revoked(
    planner: Client, client: Client, house: House
) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    made = planner.post(f"/crews/{crew.pk}/link/")
    found = re.search(r"http://testserver(/v/[\w-]{32}/)", made.content.decode())
    assert found is not None
    assert found[1] not in planner.get(f"/crews/{crew.pk}/").content.decode()
    assert client.get(found[1]).status_code == 200
    planner.post(f"/crews/{crew.pk}/link/revoke/")
    assert client.get(found[1]).status_code == 404
    assert not CrewLink.objects.filter(crew=crew, revoked_at__isnull=True).exists()


@pytest.mark.django_db
def test_word_time_moves_the_plan_of_the_crews_houses(planner: Client, house: House) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    before = plan_of(house)
    planner.post(f"/crews/{crew.pk}/word-time/", {"word_time": "7"})
    crew.refresh_from_db()
    after = plan_of(house)
    assert crew.word_time == 7
    assert before.stake_start is not None
    assert after.stake_start is not None
    assert after.stake_start > before.stake_start  # four half-days more than the sequence's three
    assert "word time" in after.cause
    planner.post(f"/crews/{crew.pk}/word-time/", {"word_time": ""})
    assert plan_of(house).stake_start == before.stake_start
    refused = planner.post(f"/crews/{crew.pk}/word-time/", {"word_time": "-1"})
    assert "greater than or equal to 0" in text_of(refused)


@pytest.mark.django_db
def test_time_is_reserved_with_a_crew(planner: Client, house: House, office: Office) -> None:
    crew = booking_of(house, linings_visit(house).key).crew
    entry = {
        "builder": office.builder.slug,
        "first_0": "2026-06-01",
        "first_1": "am",
        "last_0": "2026-06-05",
        "last_1": "pm",
        "units": "1",
    }
    planner.post(f"/crews/{crew.pk}/reserve/", entry)
    time = ReservedTime.objects.get()
    assert (time.end - time.first, time.crew, time.builder) == (10, crew, office.builder)
    assert "Mon 1 Jun, morning to Fri 5 Jun, afternoon" in text_of(planner.get(f"/crews/{crew.pk}/"))
    turned = planner.post(f"/crews/{crew.pk}/reserve/", {**entry, "last_0": "2026-05-01"})
    assert "It ends before it begins." in text_of(turned)
    assert ReservedTime.objects.count() == 1
