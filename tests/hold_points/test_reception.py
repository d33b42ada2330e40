"""On a tablet without reception, in a real browser: nothing is lost, and nothing is said to be sent."""

import pytest
from playwright.sync_api import expect

from hold_points.models import Evidence
from tests.hold_points.test_browser import draw, open_site, pages_of, tablet  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def picture(site):
    return {"name": "tape.jpg", "mimeType": "image/jpeg", "buffer": site.picture()}


def test_what_needs_the_server_says_so_and_stays_typed(tablet, live_server, open_site):  # noqa: F811
    tablet.goto(live_server.url + pages_of(open_site)["reopen"])
    tablet.fill("#reason", "a pipe was moved")
    tablet.context.set_offline(True)
    tablet.click("main form button[type='submit']")
    expect(tablet.locator("[data-reception]")).to_contain_text("nothing was sent")
    expect(tablet.locator("[data-reception]")).to_contain_text("This needs the server")
    expect(tablet.locator("#reason")).to_have_value("a pipe was moved")
    assert not open_site.point("H3").reopenings.exists()


def test_a_photograph_of_somebody_who_is_signed_out_is_kept(tablet, live_server, open_site):  # noqa: F811
    check = open_site.check("airway", "bath")
    tablet.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    tablet.context.clear_cookies()
    tablet.set_input_files("#photo", picture(open_site))
    expect(tablet.locator("#photo-refused")).to_contain_text("kept on this tablet. Not on the record yet")
    expect(tablet.locator("[data-kept-for]")).to_contain_text("kept here: photograph")
    expect(tablet.locator("#photos")).to_be_attached()
    assert not Evidence.objects.exists()


def test_a_drawn_signature_is_there_again_after_going_away_and_back(tablet, live_server, open_site):  # noqa: F811
    address = live_server.url + pages_of(open_site)["release"]
    tablet.goto(address)
    draw(tablet)
    drawn = tablet.input_value("[data-signature-strokes]")
    assert drawn
    tablet.goto(f"{live_server.url}/walks/")
    tablet.goto(address)
    assert tablet.input_value("[data-signature-strokes]") == drawn
