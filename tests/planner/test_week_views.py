"""The week of all houses: what stands on which day, in which words, for whom; days as NumPy counts them."""

import datetime as dt

import numpy as np
import pytest
from django.test import Client

from coordination import clock
from coordination.people.models import Role
from coordination.planner.week_sheet import (
    VisitFact,
    WalkFact,
    begin_sheet,
    choose_days,
    end_sheet,
    lay_out,
    sum_up,
)
from coordination.sequence import bookings, holds
from coordination.sequence.calendars import ResolvedCalendar
from coordination.sequence.models import Activity, House
from tests.planner.conftest import (
    STARTS,
    booking_of,
    browser_of,
    linings_visit,
    release_before_linings,
    text_of,
)
from tests.sequence.brick_veneer import Office, date_of, open_office, plan_of
from tests.sequence.builders import make_person

MONDAY = clock.as_half_day(STARTS)
WEEKDAYS = ResolvedCalendar(
    "weekdays", (2, 2, 2, 2, 2, 0, 0), {MONDAY + 4: "show day", MONDAY + 5: "show day"}
)


def visit(start: int, finish: int, state: str = "pencilled", **more: object) -> VisitFact:
    facts = {"who": "Redgum", "link": "/", "planned": MONDAY + start, "told": True, "confirmed": False} | more
    facts = {"name": f"visit {start}"} | facts
    return VisitFact(start=MONDAY + start, finish=MONDAY + finish, state=state, **facts)  # type: ignore[arg-type]


@pytest.mark.parametrize("offset", range(7))
def test_sheet_has_ten_days_monday_to_friday_from_any_day_of_the_week(offset: int) -> None:
    # Judged by numpy.busday_offset, whose default week is Monday to Friday.
    day = STARTS + dt.timedelta(days=offset)
    first = begin_sheet(clock.as_half_day(day, "pm"))
    end = np.busday_offset(day, 9, roll="forward").astype(dt.date)
    assert clock.as_date(first)[0] == np.busday_offset(day, 0, roll="forward").astype(dt.date)
    assert clock.as_date(end_sheet(first) - 1) == (end, "pm")
    assert len(choose_days(first, [])) == 10


def test_day_of_a_weekend_stands_there_only_when_something_begins_on_it() -> None:
    saturday = MONDAY + 10
    assert len(choose_days(MONDAY, [saturday + 1, MONDAY + 3])) == 11
    assert saturday in choose_days(MONDAY, [saturday + 1])


def test_visits_stand_on_the_day_on_which_they_begin_and_say_what_is_missing() -> None:
    facts = [
        visit(-6, 4, "under way"),
        visit(-4, 1, "asked", told=False),
        visit(-8, 2, "done"),
        visit(3, 9, planned=MONDAY + 6),
        visit(3, 4, "firm", confirmed=True),
        visit(2, 3, "", told=False),
    ]
    walk = WalkFact("Frame", "/walks/1/", MONDAY + 3, "held", "3 checks open")
    house = lay_out(facts, [walk], WEEKDAYS, choose_days(MONDAY, []), MONDAY + 2)
    monday, tuesday, wednesday, *rest = house.cells
    assert [(one.visit.name, one.goes_on) for one in monday.visits] == [("visit -6", True)]
    assert house.behind == (f"visit -4, {clock.say_day(MONDAY - 4)}",)
    assert tuesday.walks == (walk,)
    said = {one.visit.name: (one.half, one.alarms) for one in tuesday.visits}
    assert said["visit 2"] == ("", ("no crew",))
    told = next(one for one in tuesday.visits if one.visit.state == "pencilled")
    assert told.half == "afternoon"
    assert told.alarms == ("not confirmed",)
    assert told.notes == (f"to {clock.say_day(MONDAY + 8)}", f"by the plan {clock.say_day(MONDAY + 6)}")
    assert (wednesday.works, wednesday.closed) == (False, "show day")
    assert all(cell.works and cell.empty for cell in rest)
    assert "Visits that begin: 3 (1 without a crew, 1 not confirmed)" in sum_up([house])
    assert "Walks and witness points: 1." in sum_up([house])


def test_sheet_of_a_later_week_shows_who_is_still_there_and_nothing_behind() -> None:
    facts = [visit(-6, 4), visit(-4, 0), visit(-30, 1, "under way")]
    house = lay_out(facts, [], WEEKDAYS, choose_days(MONDAY, []), MONDAY - 20)
    assert [one.visit.name for one in house.marks] == ["visit -30", "visit -6"]
    assert house.behind == ()


def test_day_that_went_by_unreported_is_said_at_the_visit() -> None:
    house = lay_out([visit(0, 2)], [], None, choose_days(MONDAY, []), MONDAY + 3)
    assert house.marks[0].alarms == ("not confirmed", "not reported")


def day_of(half_day: int) -> str:
    return clock.as_date(half_day)[0].isoformat()


@pytest.mark.django_db
def test_sheet_says_who_starts_where_which_walk_is_when_and_when_linings_are_sure(
    planner: Client, house: House, office: Office
) -> None:
    booking = bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)
    assert booking.told_start is not None
    address = f"/week/?from={day_of(booking.told_start)}"
    page = planner.get(address)
    assert page.status_code == 200
    words = text_of(page)
    assert f"{booking.visit.name} Banksia Linings" in words
    assert "pencilled · not confirmed" in words
    assert "not yet: 5 hold points closed" in words
    assert "no promise computed yet" in words
    assert page.content.decode().count("day-visit day-visit--pencilled") == 3  # sheet, day by day, and key
    bookings.confirm(booking, booking.crew)
    assert "pencilled · not confirmed" not in text_of(
        planner.get(f"/week/?from={day_of(booking.told_start)}")
    )
    first = text_of(planner.get(f"/week/?from={STARTS.isoformat()}"))
    assert "no crew" in first
    hold = house.holds.order_by("point__order")[0]
    walk = planner.get(f"/week/?from={day_of(date_of(house, hold.point.key).start)}").content.decode()
    assert walk.count(f"{hold.label}</a>: ") == 2
    assert "hold--not-ready" in walk


@pytest.mark.django_db
def test_hold_that_was_opened_again_stops_its_house_on_the_sheet(
    planner: Client, house: House, office: Office
) -> None:
    release_before_linings(house, office.supervisor)
    assert "every hold point before it is released" in text_of(planner.get("/week/"))
    hold = house.holds.get(point__key="H4")
    house.activities.filter(order__lt=hold.point.order).update(actual_start=1, actual_finish=1)
    holds.close_again(hold, reason="pipe moved")
    body = planner.get("/week/").content.decode()
    assert body.count("hold--held") > 2
    assert hold.label in body


@pytest.mark.django_db
def test_witness_point_is_on_the_sheet_until_it_is_passed(planner: Client, house: House) -> None:
    point = house.activities.filter(point_kind=Activity.PointKind.WITNESS).order_by("order")[0]
    address = f"/week/?from={day_of(date_of(house, point.key).start)}"
    assert f"{point.name} witness point" in text_of(planner.get(address))
    house.activities.filter(pk=point.pk).update(actual_start=1, actual_finish=1)
    assert f"{point.name} witness point" not in text_of(planner.get(address))


@pytest.mark.django_db
def test_house_without_a_plan_yet_stands_on_the_sheet(planner: Client, house: House) -> None:
    plan_of(house).delete()
    house.plans.all().delete()
    page = planner.get("/week/")
    assert page.status_code == 200
    assert "its first plan" in text_of(page)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("soon", "This is no day. Choose one of the calendar."),
        ("2026-02-30", "This is no day. Choose one of the calendar."),
        ("9999-12-31", "Look at the year"),
        ("0206-04-14", "Look at the year"),
    ],
)
def test_bad_day_is_named_beside_its_field_and_the_sheet_begins_today(
    planner: Client, house: House, given: str, words: str
) -> None:
    page = planner.get("/week/", {"from": given})
    assert page.status_code == 422
    assert words in text_of(page)
    assert "Mon 13 Apr today" in text_of(page)


@pytest.mark.django_db
def test_sheet_of_one_supervisor_has_that_ones_houses_and_leads_on_to_them(
    planner: Client, house: House, office: Office
) -> None:
    other = office.house(supervisor=make_person(office.builder, Role.Kind.SUPERVISOR, "Lou"))
    page = planner.get(f"/week/?supervisor={office.supervisor.pk}&from=2026-04-20")
    assert house.name in text_of(page)
    assert other.name not in text_of(page)
    assert f'href="?from=2026-04-27&amp;supervisor={office.supervisor.pk}"' in page.content.decode()
    assert other.name in text_of(planner.get("/week/"))
    assert planner.get("/week/?supervisor=999999").status_code == 422


@pytest.mark.django_db
def test_pages_lead_a_week_on_and_back(planner: Client, house: House) -> None:
    body = planner.get("/week/?from=2026-04-25").content.decode()  # a Saturday
    assert "Mon 27 Apr – Fri 8 May" in body
    assert 'href="?from=2026-04-20"' in body
    assert 'href="?from=2026-05-04"' in body
    assert planner.get("/week/?from=").status_code == 200


@pytest.mark.django_db
def test_who_sees_houses_sees_their_week_and_nobody_elses(
    supervisor: Client, stranger: Client, contact: Client, house: House
) -> None:
    assert house.name in text_of(supervisor.get("/week/"))
    assert 'href="/week/"' in supervisor.get("/").content.decode()
    assert house.name not in text_of(stranger.get("/week/"))
    assert contact.get("/week/").status_code == 403
    assert supervisor.post("/week/").status_code == 405


@pytest.mark.django_db
def test_builders_of_one_person_have_a_sheet_each(office: Office, house: House) -> None:
    other = open_office("Other Homes", holidays=False)
    other.builder.roles.create(person=office.planner, kind="planner")
    words = text_of(browser_of(office.planner).get("/week/"))
    assert "Other Homes" in words
    assert "No houses yet" in words
    assert house.name in words
