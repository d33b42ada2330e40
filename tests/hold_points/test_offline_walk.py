"""A walk without reception, in a real browser: everything is kept, and on the record once when it comes back."""

import pytest
from playwright.sync_api import Page, expect

from hold_points.models import Evidence, Outcome
from tests.hold_points.test_browser import open_site, sign_in_as, tablet  # noqa: F401
from tests.hold_points.test_reception import picture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def take_along(page: Page, live_server, site) -> None:
    """Opens the walk with reception and waits until all its pages are on the tablet and the worker is at work."""
    page.goto(f"{live_server.url}/walks/{site.point('H5').pk}/?room={site.place('bath').pk}")
    expect(page.locator("html")).to_have_attribute("data-taken-along", "all")
    expect(page.locator("[data-along-line]")).to_contain_text("Taken along: all")
    page.wait_for_function("navigator.serviceWorker.controller !== null")


def press(page: Page, act: str) -> None:
    """Presses a button of the check's form that leads to another page."""
    with page.expect_navigation():
        page.click(f".outcomes button[value='{act}']")


def test_a_walk_goes_on_without_reception_and_is_on_the_record_once_afterwards(
    tablet,  # noqa: F811
    live_server,
    open_site,  # noqa: F811
):
    full, airway, wet = (open_site.check(key, "bath") for key in ("full", "airway", "wet-wall"))
    take_along(tablet, live_server, open_site)
    tablet.context.set_offline(True)
    tablet.goto(f"{live_server.url}/walks/checks/{full.pk}/")
    expect(tablet.locator("[data-copied]")).to_contain_text("No reception. This is the copy")
    press(tablet, "met")
    expect(tablet.locator("#messages")).to_contain_text("Kept on this tablet. Not on the record yet")
    expect(tablet.locator("[data-kept-line]")).to_contain_text("1 waits on this tablet")
    assert not Outcome.objects.exists()
    assert not Evidence.objects.exists()
