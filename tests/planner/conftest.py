"""An office with the shipped sequence, a house of it, and people who look at it."""

import datetime as dt
import html
import re
from typing import Any

import pytest
from django.test import Client

from coordination import clock
from coordination.people.models import Person, Role
from coordination.sequence import holds, progress
from coordination.sequence.models import Activity, Booking, House, Visit
from hold_points.models import Inspection
from tests.sequence.brick_veneer import Office, open_office
from tests.sequence.builders import make_person, record_release

STARTS = dt.date(2026, 4, 20)
"""Monday, a week after the tests' clock."""


@pytest.fixture
def office(db: None, monday_morning: Any) -> Office:
    """A builder on Monday 13 April 2026, 7:00."""
    return open_office()


@pytest.fixture
def house(office: Office) -> House:
    """A house that starts in a week; a plasterer and an electrician are asked."""
    crews = {
        "plasterer": office.crew("plasterer", "Banksia Linings"),
        "electrician": office.crew("electrician", "Redgum Electrical"),
    }
    return office.house(starts_on=STARTS, crews=crews)


def browser_of(person: Person) -> Client:
    """A signed-in browser that keeps no form token."""
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def planner(office: Office) -> Client:
    return browser_of(office.planner)


@pytest.fixture
def supervisor(office: Office) -> Client:
    return browser_of(office.supervisor)


@pytest.fixture
def stranger(office: Office) -> Client:
    """The planner of another builder."""
    other = open_office("Other Homes", holidays=False)
    return browser_of(other.planner)


@pytest.fixture
def contact(office: Office) -> Client:
    """A trade contact has a sign-in, but none of these pages."""
    return browser_of(make_person(office.builder, Role.Kind.CONTACT, "Toni"))


def booking_of(house: House, visit: str) -> Booking:
    return Booking.objects.get(house=house, visit__key=visit, state__in=Booking.LIVE)


def linings_visit(house: House) -> Visit:
    visit = house.activities.get(is_stake=True).visit
    assert visit is not None
    return visit


def release_before_linings(house: House, by: Person) -> None:
    """Sign every hold before the linings, as the package that judges leaves it: record row, lift, dates."""
    for hold in list(holds.open_holds_before(linings_visit(house))):
        inspection = Inspection.objects.get(house=house, point=hold.point)
        holds.lift(hold, record_release(inspection, by), by=by)
        progress.point_passed(hold.point, clock.current_half_day(), by=by)


def first_activity(house: House) -> Activity:
    """The first work of the house by its plan."""
    plan = house.plans.order_by("-number")[0]
    date = plan.dates.filter(activity__is_point=False).order_by("start", "activity__order").first()
    assert date is not None
    return date.activity


def text_of(response: Any) -> str:
    """A page without tags and with single spaces, as it is read."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())
