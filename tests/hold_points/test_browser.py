"""On a tablet, in a real browser: photograph, number, signature; sizes; accessibility."""

import io

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import Page, expect

from coordination.people.models import Person
from coordination.sequence import bookings
from hold_points.models import Evidence, Nonconformity, Outcome, Release
from tests.hold_points.houses import PASSWORD, Site, make_site
from tests.hold_points.pictures import make_heic

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Found by rule, not by eye: what a glove has to hit, and what an eye has to read in glare.
SMALL_CONTROLS = """
[...document.querySelectorAll('main :is(a, button, summary, select, textarea, input:not([type=hidden]))')]
  .filter((one) => one.offsetParent && !one.closest('p:not(.actions, .walk-acts), .release, figcaption'))
  .map((one) => [one, (one.matches('[type=checkbox]') ? one.closest('label') : one).getBoundingClientRect()])
  .filter(([, box]) => box.width && (box.height < 47.5 || box.width < 24))
  .map(([one, box]) => `${one.tagName} ${(one.textContent || one.name).trim()} ${box.width} x ${box.height}`)
"""
SMALL_TEXT = """
[...document.querySelectorAll('main *')]
  .filter((one) => one.offsetParent && !one.closest('svg')
    && [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim())
    && parseFloat(getComputedStyle(one).fontSize) < 17.9)
  .map((one) => `${one.tagName}.${one.className} ${one.textContent.trim()}`)
"""
BIG = "button[value='met'], button[value='not met'], .shoot, .btn--sign"


@pytest.fixture
def open_site(transactional_db, settings, tmp_path) -> Site:
    settings.MEDIA_ROOT = tmp_path
    return make_site()


def sign_in_as(page: Page, live_server, person: Person) -> None:
    client = Client()
    client.force_login(person)
    cookie = client.cookies[django_settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies(
        [{"name": django_settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}]
    )


@pytest.fixture
def tablet(page: Page, live_server, open_site: Site) -> Page:
    """A tablet on which the supervisor is signed in."""
    sign_in_as(page, live_server, open_site.supervisor)
    page.set_viewport_size({"width": 820, "height": 1180})
    return page


def pages_of(site: Site) -> dict[str, str]:
    site.release_all("H3")
    site.pass_checks("H4")
    return {
        "walks": "/walks/",
        "walk": f"/walks/{site.point('H5').pk}/?room={site.place('bath').pk}",
        "check": f"/walks/checks/{site.check('airway', 'bath').pk}/",
        "held": f"/walks/{site.point('H5').pk}/held/",
        "release": f"/walks/{site.point('H4').pk}/release/",
        "reopen": f"/walks/{site.point('H3').pk}/reopen/",
        "photographs": f"/walks/{site.point('H3').pk}/photographs/",
    }


def test_a_heic_that_cannot_be_read_says_the_remedy_in_sight_of_the_button(tablet, live_server, open_site):
    check = open_site.check("airway", "bath")
    tablet.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    tablet.locator("#photo-label").scroll_into_view_if_needed()
    broken = {"name": "IMG_0001.HEIC", "mimeType": "image/heic", "buffer": make_heic()[:300]}
    tablet.set_input_files("#photo", broken)
    tablet.wait_for_selector("#photo-refused .field-error")
    words = tablet.locator("#photo-refused .field-error")
    assert "Most compatible" in words.inner_text()
    expect(words).to_be_in_viewport()


def test_a_photograph_goes_on_the_record_and_the_typed_number_stays(tablet, live_server, open_site):
    check = open_site.check("airway", "bath")
    tablet.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    tablet.fill("#value", "31")
    tablet.set_input_files(
        "#photo", {"name": "tape.jpg", "mimeType": "image/jpeg", "buffer": open_site.picture()}
    )
    tablet.wait_for_selector("#photos .thumb-wait")
    open_site.prepare()
    # The page asks for the line again by itself.
    tablet.wait_for_selector("#photos img")
    assert tablet.input_value("#value") == "31"
    assert tablet.inner_text("#photo-label") == "Photo (1)"
    with tablet.expect_navigation():
        tablet.click("button[value='met']")
    expect(tablet.locator(".message--success")).to_contain_text("met")
    outcome = Outcome.objects.get()
    assert (outcome.kind, outcome.value) == ("met", 31)
    assert Evidence.objects.get().check_shown == check


def test_a_file_that_is_no_photograph_is_refused_on_the_same_page(tablet, live_server, open_site):
    check = open_site.check("airway", "bath")
    tablet.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    tablet.set_input_files("#photo", {"name": "x.jpg", "mimeType": "image/jpeg", "buffer": b"<svg/>"})
    tablet.wait_for_selector("#refusal [role=alert]")
    assert "This is no photograph" in tablet.inner_text("#refusal")


def draw(tablet: Page) -> None:
    box = tablet.locator("canvas").bounding_box()
    assert box is not None
    tablet.mouse.move(box["x"] + 40, box["y"] + 60)
    tablet.mouse.down()
    for step in range(20):
        tablet.mouse.move(box["x"] + 40 + step * 10, box["y"] + 60 + (step % 3) * 20)
    tablet.mouse.up()


def test_a_drawn_signature_releases_the_hold_and_a_cleared_one_does_not(tablet, live_server, open_site):
    address = live_server.url + pages_of(open_site)["release"]
    tablet.goto(address)
    draw(tablet)
    tablet.click("[data-signature-clear]")
    tablet.fill("#password", PASSWORD)
    tablet.click(".sign .btn--main")
    assert "Draw your signature" in tablet.inner_text("#errors")
    draw(tablet)
    tablet.fill("#password", PASSWORD)
    tablet.click(".sign .btn--main")
    tablet.wait_for_selector(".why--open")
    strokes = Release.objects.get(inspection=open_site.point("H4")).signature
    assert len(strokes[0]) > 10
    assert all(0 <= x <= 600 and 0 <= y <= 200 for x, y in strokes[0])
    assert not open_site.hold("H4").is_open


def test_without_drawing_the_name_is_typed_twice(tablet, live_server, open_site):
    tablet.goto(live_server.url + pages_of(open_site)["release"])
    tablet.click("[data-signature-typed] summary")
    tablet.fill("#typed", open_site.supervisor.name)
    tablet.fill("#typed_again", open_site.supervisor.name)
    tablet.fill("#password", PASSWORD)
    tablet.click(".sign .btn--main")
    tablet.wait_for_selector(".why--open")


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["light", "dark", "sunlight"])
def test_pages_on_site_are_accessible_large_and_fit_every_screen(tablet, live_server, open_site, theme):
    pages = pages_of(open_site)
    bookings.report_under_way(open_site.booking("linings"), crew=open_site.crews["plasterer"])
    past = Nonconformity.objects.filter(gone_past=open_site.point("H5")).get()
    pages |= {
        "decision": f"/walks/nonconformities/{past.pk}/decision/",
        "found on site": f"/walks/{open_site.point('H5').pk}/found/",
        "witness": f"/walks/{open_site.point('W1').pk}/held/",
    }
    trouble: dict[str, object] = {}
    tablet.context.add_cookies([{"name": "theme", "value": theme, "url": live_server.url}])
    complaints = io.StringIO()
    tablet.on("console", lambda message: complaints.write(f"{message.type}: {message.text}\n"))
    for name, address in pages.items():
        for width, height in ((1180, 820), (820, 1180), (390, 844), (320, 700)):
            tablet.set_viewport_size({"width": width, "height": height})
            tablet.goto(live_server.url + address)
            if tablet.evaluate("document.documentElement.scrollWidth") > width:
                trouble[f"{name} {width}"] = "scrolls sideways"
        found = Axe().run(tablet, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]})
        if found.violations_count:
            trouble[f"{name} axe"] = [
                (one["id"], [node["html"] for node in one["nodes"]]) for one in found.response["violations"]
            ]
        for what, script in (("control", SMALL_CONTROLS), ("text", SMALL_TEXT)):
            small = tablet.evaluate(script)
            if small:
                trouble[f"{name} small {what}"] = small
        for button in tablet.locator(BIG).all():
            box = button.bounding_box()
            if box and box["height"] < 60:
                trouble[f"{name} {button.inner_text()}"] = box["height"]
    assert not trouble
    assert not complaints.getvalue()


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_offices_pages_are_accessible_and_fit_every_screen(
    tablet, live_server, open_site, theme, artifacts
):
    """People, one's PIN, a half-built house: read at a desk and on a phone."""
    tablet.context.add_cookies([{"name": "theme", "value": theme, "url": live_server.url}])
    sign_in_as(tablet, live_server, open_site.planner)
    trouble: dict[str, object] = {}
    for name, address in {
        "people": "/accounts/people/",
        "pin": "/accounts/pin/",
        "bring in, choose": "/houses/bring-in/",
        "bring in": f"/houses/{open_site.house.pk}/bring-in/",
        "bring in, seen": "",
    }.items():
        if address:
            tablet.goto(live_server.url + address)
        else:
            tablet.select_option("#last-close", "batts")
            tablet.fill("#day-close", "2026-04-10")
            tablet.click("button.btn--main")
            tablet.wait_for_selector("#walk-now")
        for width, height in ((820, 1180), (390, 844), (320, 700)):
            tablet.set_viewport_size({"width": width, "height": height})
            if tablet.evaluate("document.documentElement.scrollWidth") > width:
                trouble[f"{name} {width}"] = "scrolls sideways"
            if width > 320:
                tablet.screenshot(path=artifacts / f"office {name} {width} {theme}.png", full_page=True)
        found = Axe().run(tablet, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]})
        if found.violations_count:
            trouble[f"{name} axe"] = [
                (one["id"], [node["html"] for node in one["nodes"]]) for one in found.response["violations"]
            ]
    assert not trouble
