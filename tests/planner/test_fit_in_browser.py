"""Fits and forecasts in a real browser, on a tablet and on a phone, with the real worker behind."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings as django_settings
from playwright.sync_api import Page, expect

from coordination.sequence import forecasting
from coordination.sequence.models import Booking, FittedStart, House
from tests.planner.conftest import STARTS, browser_of
from tests.rules.test_look_in_browser import AXE
from tests.sequence.brick_veneer import Office, open_office

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TABLET = {"width": 820, "height": 1180}
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def saltbush(transactional_db: None) -> Iterator[tuple[Office, list[House]]]:
    """Two houses a day apart, one plasterer and one electrician; the clock runs from Monday 13 April 2026."""
    with time_machine.travel(dt.datetime(2026, 4, 12, 22, tzinfo=dt.UTC), tick=True):
        office = open_office()
        crews = {
            "plasterer": office.crew("plasterer", "Banksia Linings"),
            "electrician": office.crew("electrician", "Redgum Electrical"),
        }
        days = [STARTS, STARTS + dt.timedelta(days=1)]
        yield office, [office.house(starts_on=day, crews=crews) for day in days]


@pytest.fixture
def complaints() -> list[str]:
    """What the browser's console complains about, the content security policy's refusals included."""
    return []


@pytest.fixture(params=[TABLET, PHONE], ids=["tablet", "phone"])
def screen(
    request: Any,
    browser: Any,
    saltbush: tuple[Office, list[House]],
    live_server: Any,
    celery_worker: Any,
    complaints: list[str],
) -> Iterator[Page]:
    """A window in which the planner is signed in."""
    client = browser_of(saltbush[0].planner)
    name = django_settings.SESSION_COOKIE_NAME
    context = browser.new_context(
        base_url=live_server.url, locale="en-AU", viewport=request.param, has_touch=True
    )
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    page = context.new_page()
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert complaints == []


def judge(page: Page) -> None:
    """No violation by axe-core's WCAG rules, and nothing sticks out sideways."""
    page.evaluate("document.querySelectorAll('main details').forEach(one => { one.open = true; })")
    found = Axe().run(page, options=AXE).response["violations"]
    assert [(one["id"], [node["html"][:120] for node in one["nodes"][:3]]) for one in found] == []
    width = page.evaluate("document.documentElement.clientWidth")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_planner_fits_looks_applies_and_takes_back(
    screen: Page, saltbush: tuple[Office, list[House]], artifacts: Any
) -> None:
    houses = saltbush[1]
    ends = [house.plans.latest("number").finish for house in houses]
    screen.goto("/crews/")
    with screen.expect_navigation():
        screen.get_by_role("link", name="Fit to the crews").click()
    judge(screen)
    screen.get_by_label("How long to look for good dates").select_option("10")
    screen.get_by_role("button", name="Find dates the crews can keep").click()
    # The page asks each second and shows the result by itself.
    expect(screen.get_by_role("progressbar")).to_be_visible()
    judge(screen)
    expect(screen.get_by_role("button", name="Move these visits and tell the crews")).to_be_visible()
    assert not FittedStart.objects.exists()
    judge(screen)
    size = screen.viewport_size
    assert size is not None
    screen.screenshot(path=artifacts / f"fit-{size['width']}.png", full_page=True)
    with screen.expect_navigation():
        screen.get_by_role("button", name="Move these visits and tell the crews").click()
    expect(screen.get_by_role("button", name="Take it back")).to_be_visible()
    judge(screen)
    assert FittedStart.objects.exists()
    assert [house.plans.latest("number").finish for house in houses] != ends
    assert not Booking.objects.filter(state=Booking.State.FIRM).exists()
    held = FittedStart.objects.filter(cause="busy").select_related("activity")[0].activity
    screen.goto(f"/houses/{held.house_id}/visits/{held.visit_id}/")
    expect(screen.get_by_text("who are at").first).to_be_visible()
    judge(screen)
    screen.go_back()
    screen.get_by_role("button", name="Take it back").click()
    expect(screen.get_by_text("Taken back.")).to_be_visible()
    assert [house.plans.latest("number").finish for house in houses] == ends


def test_a_planner_has_a_house_forecast_and_sees_it_come(
    screen: Page, saltbush: tuple[Office, list[House]], artifacts: Any
) -> None:
    house = saltbush[1][0]
    screen.goto(f"/houses/{house.pk}/")
    screen.get_by_role("button", name="Compute now").click()
    expect(screen.get_by_role("heading", name="Promise from")).to_be_visible()
    judge(screen)
    size = screen.viewport_size
    assert size is not None
    screen.screenshot(path=artifacts / f"forecast-{size['width']}.png")
    row = house.forecast
    assert not forecasting.is_asked(row)
    for address in ("/", "/promises/", f"/houses/{house.pk}/sound/"):
        screen.goto(address)
        judge(screen)
    screen.goto(f"/sequences/{house.sequence_version_id}/sound/")
    judge(screen)
