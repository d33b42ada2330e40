"""All houses: who sees the page, what it says, and that its cost does not grow with the houses."""

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from coordination import clock
from coordination.people.models import Role
from coordination.sequence import holds
from coordination.sequence.models import House
from tests.planner.conftest import (
    STARTS,
    booking_of,
    browser_of,
    linings_visit,
    release_before_linings,
    text_of,
)
from tests.sequence.brick_veneer import Office
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db


def test_board_says_what_a_house_waits_for_and_that_its_linings_cannot_be_promised(
    planner: Client, house: House
) -> None:
    page = planner.get("/")
    assert page.status_code == 200
    words = text_of(page)
    assert "Lot 1, Saltbush Rise" in words
    assert "Set-out, scrape, fence, access, temporary power" in words  # its first activity
    assert "not yet: 5 hold points closed" in words
    assert "asked" in words
    assert "Banksia Linings" in words
    assert "never promise that one" in words


def test_the_hold_to_look_at_is_a_bar_and_the_later_ones_are_counted(planner: Client, house: House) -> None:
    page = planner.get("/")
    body = page.content.decode()
    assert body.count("hold--not-ready") == 1
    first, *later = house.holds.order_by("point__order")
    assert first.label in body
    assert len(later) == 6
    assert "6 later" in text_of(page)
    own = planner.get(f"/houses/{house.pk}/").content.decode()
    assert all(hold.label in own for hold in house.holds.all())


@pytest.mark.parametrize(
    ("query", "there"),
    [
        ("?words=saltbush+rise", True),
        ("?words=LOT-1", True),
        ("?words=temporary+power", True),  # what it waits for
        ("?words=lot+9", False),
        ("?words=saltbush+wombat", False),
        ("?stuck=1", False),
        ("?region=999", False),
        ("?supervisor=999", False),
        ("?supervisor=x&region=%C2%B2", True),  # no ids: asked for any
    ],
)
def test_only_houses_asked_for_are_on_the_board(
    planner: Client, house: House, query: str, there: bool
) -> None:
    words = text_of(planner.get("/" + query))
    assert ("Lot 1, Saltbush Rise" in words) is there
    assert ("No house fits" in words) is not there
    assert "Houses: 1. 0 held, 0 re-opened" in words


def test_own_houses_of_a_supervisor_are_chosen_by_name(planner: Client, house: House, office: Office) -> None:
    body = planner.get(f"/?supervisor={office.supervisor.pk}").content.decode()
    assert house.name in body
    assert f'<option value="{office.supervisor.pk}" selected>' in body


def test_a_house_that_a_hold_point_stops_is_counted_and_found(
    planner: Client, house: House, office: Office
) -> None:
    release_before_linings(house, office.supervisor)
    hold = house.holds.get(point__key="H4")
    house.activities.filter(order__lt=hold.point.order).update(actual_start=1, actual_finish=1)
    holds.close_again(hold, reason="pipe moved")
    page = planner.get("/")
    assert "1 held" in text_of(page)
    assert 'href="?stuck=1"' in page.content.decode()
    stuck = planner.get("/?stuck=1").content.decode()
    assert house.name in stuck
    assert stuck.count("hold--held") == 1


def test_released_holds_are_promised_in_words(planner: Client, house: House, office: Office) -> None:
    release_before_linings(house, office.supervisor)
    words = text_of(planner.get("/"))
    assert "every hold point before it is released" in words
    assert "not yet:" not in words


def test_supervisor_and_assessor_look_and_are_offered_no_act(office: Office, house: House) -> None:
    assessor = make_person(office.builder, Role.Kind.ASSESSOR, "Ada")
    for person in (office.supervisor, assessor):
        page = browser_of(person).get("/")
        assert page.status_code == 200
        assert "Set out a house" not in text_of(page)


def test_who_is_not_signed_in_is_sent_to_sign_in(client: Client, house: House) -> None:
    answer = client.get("/")
    assert answer.status_code == 302
    assert "next=/" in answer["Location"]


def test_trade_contact_is_told_whose_page_it_is(contact: Client) -> None:
    answer = contact.get("/")
    assert answer.status_code == 403
    assert "planner" in text_of(answer)


def test_another_builders_houses_are_not_on_the_board(stranger: Client, house: House) -> None:
    assert house.name not in text_of(stranger.get("/"))


def test_first_day_leads_to_setting_out(planner: Client) -> None:
    page = planner.get("/")
    assert "No houses yet" in text_of(page)
    assert 'href="/houses/new/"' in page.content.decode()


def test_houses_handed_over_are_left_out_until_asked_for(planner: Client, house: House) -> None:
    House.objects.filter(pk=house.pk).update(finished_at=clock.now())
    assert house.name not in text_of(planner.get("/"))
    assert house.name in text_of(planner.get("/?finished=1"))


def test_no_page_shows_a_bare_iso_date(planner: Client, house: House) -> None:
    visit = linings_visit(house).pk
    detail = house.details.exclude(drawing="")[0].pk
    for page in ("", "visits/", f"visits/{visit}/", "details/", f"details/{detail}/", "moves/", "ordered/"):
        words = text_of(planner.get(f"/houses/{house.pk}/{page}"))
        assert not re.search(r"\b20\d\d-\d\d-\d\d\b", words), page
    for address in ("/", "/week/", "/crews/", "/sequences/"):
        assert not re.search(r"\b20\d\d-\d\d-\d\d\b", text_of(planner.get(address))), address


@pytest.mark.parametrize("address", ["/", "/week/", "/crews/"])
def test_queries_do_not_grow_with_the_houses(
    planner: Client, office: Office, house: House, address: str
) -> None:
    plasterer = booking_of(house, linings_visit(house).key).crew

    def count() -> int:
        planner.get(address)  # what a process reads once is read now
        with CaptureQueriesContext(connection) as queries:
            assert planner.get(address).status_code == 200
        return len(queries)

    one = count()
    for _n in range(2):
        office.house(starts_on=STARTS, crews={"plasterer": plasterer})
    assert count() == one
    assert one <= 40
