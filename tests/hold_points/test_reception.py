"""On a tablet without reception, in a real browser: nothing is lost, and nothing is said to be sent."""

import pytest
from playwright.sync_api import expect

from hold_points.models import Evidence, Outcome
from tests.hold_points.test_browser import draw, open_site, pages_of, tablet  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def picture(site):
    return {"name": "tape.jpg", "mimeType": "image/jpeg", "buffer": site.picture()}


def test_a_form_and_a_photograph_without_reception_say_so_and_stay(tablet, live_server, open_site):  # noqa: F811
    check = open_site.check("airway", "bath")
    tablet.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    tablet.fill("#value", "31")
    tablet.context.set_offline(True)
    tablet.click("button[value='met']")
    expect(tablet.locator("[data-reception]")).to_contain_text("nothing was sent")
    assert tablet.input_value("#value") == "31"
    tablet.set_input_files("#photo", picture(open_site))
    expect(tablet.locator("#photo-refused")).to_contain_text("Photo not sent: no reception")
    assert tablet.evaluate("document.getElementById('photo').files.length") == 1
    assert not Outcome.objects.exists()
    assert not Evidence.objects.exists()
    # With reception the photograph goes by itself, and the button works as before.
    tablet.context.set_offline(False)
    tablet.wait_for_selector("#photos li")
    assert tablet.input_value("#value") == "31"
    tablet.click("button[value='met']")
    tablet.wait_for_selector(".message--success:has-text('met')")
    assert Outcome.objects.get().value == 31
    assert Evidence.objects.count() == 1


def test_a_photograph_of_somebody_who_is_signed_out_says_so(tablet, live_server, open_site):  # noqa: F811
    check = open_site.check("airway", "bath")
    tablet.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    tablet.context.clear_cookies()
    tablet.set_input_files("#photo", picture(open_site))
    expect(tablet.locator("#photo-refused")).to_contain_text("Sign in again")
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
