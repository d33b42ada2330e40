"""A walk without reception, in a real browser: all is kept, and on the record once when reception is back."""

import pytest
from playwright.sync_api import Page, expect

from hold_points.models import Evidence, Outcome
from tests.hold_points.test_browser import open_site, sign_in_as, tablet  # noqa: F401
from tests.hold_points.test_reception import picture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ON_THE_RECORD = ".message--success"


def take_along(page: Page, live_server, site) -> None:
    """Opens the walk with reception; its pages are on the tablet and the worker is at work."""
    page.goto(f"{live_server.url}/walks/{site.point('H5').pk}/?room={site.place('bath').pk}")
    expect(page.locator("html")).to_have_attribute("data-taken-along", "all")
    expect(page.locator("[data-along-line]")).to_contain_text("Taken along: all")
    page.wait_for_function("navigator.serviceWorker.controller !== null")


def open_check(page: Page, live_server, check) -> None:
    page.goto(f"{live_server.url}/walks/checks/{check.pk}/")
    expect(page.locator("[data-copied]")).to_contain_text("No reception. This is the copy")


def press(page: Page, act: str) -> None:
    """Presses a button of the check's form that leads to another page."""
    with page.expect_navigation():
        page.locator(f"form.judge button[value='{act}']").first.click()
    expect(page.locator("#messages")).to_contain_text("Kept on this tablet. Not on the record yet")


def come_back(page: Page, live_server) -> None:
    page.context.set_offline(False)
    page.goto(f"{live_server.url}/walks/kept/")


def test_a_day_without_reception_is_on_the_record_once_and_contradicts_nobody(
    tablet,  # noqa: F811
    live_server,
    open_site,  # noqa: F811
):
    full, airway = (open_site.check(key, "bath") for key in ("full", "airway"))
    bed, garage = (open_site.check("full", room) for room in ("bed", "garage"))
    take_along(tablet, live_server, open_site)
    context = tablet.context
    context.set_offline(True)
    open_check(tablet, live_server, full)
    press(tablet, "met")
    # A number outside the limit is said now, not in the evening.
    open_check(tablet, live_server, airway)
    tablet.fill("#value", "3")
    tablet.click("button[value='met']")
    expect(tablet.locator("#photo-refused")).to_contain_text("is outside the limit")
    tablet.set_input_files("#photo", picture(open_site))
    expect(tablet.locator("#photo-refused")).to_contain_text("Photograph kept on this tablet")
    expect(tablet.locator("#value")).to_have_value("3")
    tablet.fill("#value", "31")
    press(tablet, "met")
    # Not met is asked for once more, in another place.
    open_check(tablet, live_server, bed)
    tablet.click(".outcomes button[value='not met']")
    expect(tablet.locator(".sure")).to_contain_text("are you sure?")
    press(tablet, "not met")
    open_check(tablet, live_server, garage)
    press(tablet, "met")
    # A closed tab, a dead battery: it is all there again.
    tablet.close()
    page = context.new_page()
    page.goto(f"{live_server.url}/walks/checks/{airway.pk}/")
    expect(page.locator("[data-kept-for]")).to_contain_text("kept here: met, 31 mm")
    expect(page.locator("[data-kept-line]")).to_contain_text("5 wait on this tablet")
    page.reload()
    expect(page.locator("[data-kept-for]")).to_contain_text("kept here: photograph")
    expect(page.locator(".line .kept-here")).to_have_count(3)
    assert not Outcome.objects.exists()
    assert not Evidence.objects.exists()
    # Meanwhile somebody else found otherwise.
    open_site.find(garage, "not met", note="slumped", by=open_site.deputy)
    come_back(page, live_server)
    expect(page.locator("[data-kept-refused] li")).to_have_count(1)
    expect(page.locator("[data-kept-waiting] li")).to_have_count(0)
    expect(page.locator("[data-kept-refused]")).to_contain_text(f"{open_site.deputy.name} found not met")
    mine = Outcome.objects.filter(by=open_site.supervisor)
    assert {(one.check_judged_id, one.kind, one.value) for one in mine} == {
        (full.pk, "met", None),
        (airway.pk, "met", 31.0),
        (bed.pk, "not met", None),
    }
    assert mine.count() == 3
    assert list(garage.outcomes.values_list("kind", flat=True)) == ["not met"]
    assert Evidence.objects.get().check_shown == airway
    # What was refused goes only when its person says so, twice.
    page.get_by_role("button", name="Discard").click()
    page.get_by_role("button", name="Yes, discard it").click()
    expect(page.locator("[data-kept-nothing]")).to_be_visible()
    expect(page.locator("[data-kept-line]")).to_be_hidden()


def test_a_press_that_the_network_loses_is_kept_although_the_tablet_believes_in_reception(
    tablet,  # noqa: F811
    live_server,
    open_site,  # noqa: F811
):
    """The form arrives and its answer does not; what is kept as well changes nothing."""
    full = open_site.check("full", "bath")
    take_along(tablet, live_server, open_site)
    tablet.goto(f"{live_server.url}/walks/checks/{full.pk}/")

    def lose_the_answer(route):
        route.fetch(max_redirects=0)
        route.abort("connectionreset")

    tablet.route(f"**/walks/checks/{full.pk}/", lose_the_answer, times=1)
    press(tablet, "met")
    come_back(tablet, live_server)
    expect(tablet.locator("[data-kept-nothing]")).to_be_visible()
    assert Outcome.objects.get().check_judged == full


def test_what_was_kept_waits_for_its_own_person_to_sign_in(
    tablet,  # noqa: F811
    live_server,
    open_site,  # noqa: F811
):
    full = open_site.check("full", "bath")
    take_along(tablet, live_server, open_site)
    tablet.goto(f"{live_server.url}/walks/checks/{full.pk}/")
    tablet.context.clear_cookies()
    press_signed_out(tablet)
    assert not Outcome.objects.exists()
    # Another person on the same tablet: nothing goes in her name, and no page of his is left.
    sign_in_as(tablet, live_server, open_site.deputy)
    tablet.goto(f"{live_server.url}/walks/kept/")
    expect(tablet.locator("[data-kept-line]")).to_contain_text(f"{open_site.supervisor.name}'s")
    expect(tablet.locator("[data-kept-status]")).to_contain_text("was not sent")
    tablet.wait_for_function(
        f"caches.keys().then((names) => !names.some((name) => name.endsWith(':{open_site.supervisor.pk}')))"
    )
    assert not Outcome.objects.exists()
    sign_in_as(tablet, live_server, open_site.supervisor)
    tablet.goto(f"{live_server.url}/walks/kept/")
    expect(tablet.locator("[data-kept-nothing]")).to_be_visible()
    assert Outcome.objects.get().by == open_site.supervisor


def press_signed_out(page: Page) -> None:
    page.click("form.judge .outcomes button[value='met']")
    expect(page.locator("[data-kept-line]")).to_contain_text("Nothing is lost: sign in again")


def test_signing_out_without_reception_takes_the_copies_off_the_tablet(
    tablet,  # noqa: F811
    live_server,
    open_site,  # noqa: F811
):
    take_along(tablet, live_server, open_site)
    tablet.context.set_offline(True)
    tablet.get_by_role("button", name="Sign out").click()
    expect(tablet.locator("form[data-leave]")).to_contain_text("the copies are off this tablet")
    assert tablet.evaluate("caches.keys()") == []
