"""Several visits pencilled at once: looked at first, then all of them or none; refusals name the remedy."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.sequence import bookings
from coordination.sequence.models import Booking, Change, House
from coordination.sequence.progress import add_delay
from tests.planner.conftest import (
    STARTS,
    booking_of,
    browser_of,
    first_activity,
    linings_visit,
    release_before_linings,
    text_of,
)
from tests.sequence.brick_veneer import Office, date_of

pytestmark = pytest.mark.django_db
State = Booking.State


def address(house: House) -> str:
    return f"/houses/{house.pk}/visits/pencil/"


def asked(house: House) -> list[Booking]:
    rows = Booking.objects.filter(house=house, state=State.ASKED).select_related("visit")
    return list(rows.order_by("visit__order"))


def states(house: House) -> set[str]:
    return set(Booking.objects.filter(house=house).values_list("state", flat=True))


def told() -> tuple[int, int]:
    return Message.objects.count(), Change.objects.count()


def look(planner: Client, house: House, *rows: Booking) -> Any:
    return planner.post(address(house), {"visit": [row.visit_id for row in rows]})


def chosen_in(page: Any) -> list[str]:
    return re.findall(r'name="chosen" value="([\d ]+)"', page.content.decode())


def test_ticked_visits_are_shown_with_what_each_crew_would_be_told_and_nothing_is_saved(
    planner: Client, house: House
) -> None:
    before, rows = told(), asked(house)
    page = look(planner, house, *rows[:2])
    assert page.status_code == 200
    words = text_of(page)
    assert "nothing is saved yet" in words
    assert "Pencil these 2 visits and tell their crews" in words
    for row in rows[:2]:
        start, finish = bookings.planned_window(row.visit) or (0, 0)
        assert f"{row.visit.name} {row.visit.trade.name} {row.crew.name}" in words
        assert clock.say_dates(start, finish) in words
    assert states(house) == {State.ASKED}
    assert told() == before


def test_decision_pencils_all_of_them_and_tells_each_crew_once(planner: Client, house: House) -> None:
    rows = asked(house)
    page = planner.post(address(house), {"all": "1"})
    tokens = chosen_in(page)
    assert len(tokens) == len(rows) > 2
    done = planner.post(address(house), {"chosen": tokens, "apply": "1"}, follow=True)
    assert f"{len(rows)} visits are pencilled; 2 crews are told." in text_of(done)
    assert done.redirect_chain == [(f"/houses/{house.pk}/visits/", 302)]
    assert states(house) == {State.PENCILLED}
    for row in rows:
        row.refresh_from_db()
        assert (row.told_start, row.told_finish) == bookings.planned_window(row.visit)
        assert Message.objects.filter(about=f"booking:{row.pk}").count() == 1
    # Sent once more, as by a second press: they are pencilled already, and nobody hears of it again.
    again, before = planner.post(address(house), {"chosen": tokens, "apply": "1"}), told()
    assert again.status_code == 409
    assert told() == before


@pytest.mark.parametrize("meanwhile", ["pencilled", "stood down", "the plan moved"])
def test_what_changed_since_it_was_looked_at_is_named_and_none_is_pencilled(
    planner: Client, house: House, office: Office, meanwhile: str
) -> None:
    *others, last = asked(house)
    tokens = chosen_in(planner.post(address(house), {"all": "1"}))
    if meanwhile == "pencilled":
        bookings.pencil(last, by=office.planner)
        why, remedy = "It is pencilled already.", "Open the visit"
    elif meanwhile == "stood down":
        bookings.stand_down(last, "no longer wanted", office.planner)
        why, remedy = "It has no crew.", "Choose a crew first"
    else:
        add_delay(first_activity(house), 6, "rain", office.planner)
        why, remedy = "Since you looked it was planned or booked otherwise", "Open the visit"
    before = told()
    page = planner.post(address(house), {"chosen": tokens, "apply": "1"})
    assert page.status_code == 409
    words = text_of(page)
    assert "So none was, and nobody was told." in words
    assert why in words
    assert remedy in words
    assert {row.state for row in Booking.objects.filter(pk__in=[one.pk for one in others])} == {State.ASKED}
    assert told() == before
    if meanwhile != "the plan moved":  # which moved them all
        assert f"Leave those out and look at the other {len(others)}" in words
        rest = re.findall(r'name="visit" value="(\d+)"', page.content.decode())
        tokens = chosen_in(planner.post(address(house), {"visit": rest}))
        planner.post(address(house), {"chosen": tokens, "apply": "1"})
        assert not asked(house)


def test_visit_whose_day_has_passed_leads_to_reporting_and_is_not_pencilled(
    office: Office, house: House, monday_morning: Any
) -> None:
    row = asked(house)[0]
    start = (bookings.planned_window(row.visit) or (0, 0))[0]
    monday_morning.move_to(clock.starts_at(start + 2, house.builder.time_zone) + dt.timedelta(hours=1))
    planner = browser_of(office.planner)
    body = planner.get(f"/houses/{house.pk}/visits/").content.decode()
    assert "its day has passed" in body
    assert f'name="visit" value="{row.visit_id}"' not in body
    assert f"Pencil {row.visit.name} as planned" not in body
    later = asked(house)[-1]
    assert f'name="visit" value="{later.visit_id}"' in body
    page = look(planner, house, row, later)
    assert page.status_code == 200
    assert f"Its day, {clock.say_half_day(start)}, has passed." in text_of(page)
    assert f'href="/houses/{house.pk}/progress/"' in page.content.decode()
    assert not chosen_in(page)
    everything = chosen_in(planner.post(address(house), {"all": "1"}))
    assert str(row.visit_id) not in {one.split(" ")[0] for one in everything}


def test_firm_visit_is_never_made_pencilled_by_it(planner: Client, house: House, office: Office) -> None:
    release_before_linings(house, office.supervisor)
    linings = bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)
    token = f"{linings.visit_id} {linings.pk} {linings.told_start} {linings.told_finish}"
    bookings.make_firm(linings, office.planner)
    assert "It is firm already." in text_of(look(planner, house, linings))
    assert planner.post(address(house), {"chosen": [token], "apply": "1"}).status_code == 409
    linings.refresh_from_db()
    assert linings.state == State.FIRM


def test_pencilling_behind_closed_holds_leaves_them_closed_and_nothing_firm(
    planner: Client, house: House
) -> None:
    tokens = chosen_in(look(planner, house, booking_of(house, linings_visit(house).key)))
    planner.post(address(house), {"chosen": tokens, "apply": "1"})
    assert booking_of(house, linings_visit(house).key).state == State.PENCILLED
    assert not Booking.objects.filter(house=house, state=State.FIRM).exists()
    assert not house.holds.filter(lifted_at__isnull=False).exists()


def test_crew_that_would_be_told_two_houses_at_once_is_named_before(
    planner: Client, house: House, office: Office
) -> None:
    plasterer = booking_of(house, linings_visit(house).key).crew
    other = office.house(starts_on=STARTS, crews={"plasterer": plasterer})
    bookings.pencil(booking_of(other, linings_visit(other).key), by=office.planner)
    start = date_of(house, house.activities.get(is_stake=True).key).start
    words = text_of(look(planner, house, booking_of(house, linings_visit(house).key)))
    assert f"told too many houses at once from {clock.say_half_day(start)}" in words


@pytest.mark.parametrize(
    ("posted", "words"),
    [
        ({}, "None is ticked."),
        ({"visit": ["999999", "x", "²"]}, "None is ticked."),
        ({"apply": "1"}, "None is ticked."),
        ({"apply": "1", "chosen": "1 2 3"}, "Tick the visits again."),
        ({"apply": "1", "chosen": "1 2 3 -4"}, "Tick the visits again."),
        ({"apply": "1", "chosen": "1 2 3 99999999999"}, "Tick the visits again."),
    ],
)
def test_nonsense_is_answered_on_the_list(
    planner: Client, house: House, posted: dict[str, Any], words: str
) -> None:
    page = planner.post(address(house), posted)
    assert page.status_code == 422
    assert words in text_of(page)
    assert states(house) == {State.ASKED}


def test_visits_of_another_house_are_left_alone(planner: Client, house: House, office: Office) -> None:
    other = office.house(
        starts_on=STARTS, crews={"plasterer": booking_of(house, linings_visit(house).key).crew}
    )
    row = booking_of(other, linings_visit(other).key)
    assert look(planner, house, row).status_code == 422
    start, finish = bookings.planned_window(row.visit) or (0, 0)
    token = f"{row.visit_id} {row.pk} {start} {finish}"
    assert planner.post(address(house), {"chosen": [token], "apply": "1"}).status_code == 409
    assert states(other) == {State.ASKED}


def test_only_the_builders_own_planner_is_offered_it_and_may(
    supervisor: Client, stranger: Client, planner: Client, house: House
) -> None:
    assert planner.get(address(house)).status_code == 405
    assert supervisor.post(address(house), {"all": "1"}).status_code == 403
    assert stranger.post(address(house), {"all": "1"}).status_code == 404
    assert "Pencil the ticked" not in text_of(supervisor.get(f"/houses/{house.pk}/visits/"))
    assert "Pencil the ticked" in text_of(planner.get(f"/houses/{house.pk}/visits/"))
