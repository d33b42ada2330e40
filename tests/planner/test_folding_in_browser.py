"""On a phone long pages are folded to what is needed now; links, errors and paper open what they need."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Page, sync_playwright

from coordination.sequence.models import House
from tests.rules.test_look_in_browser import Desk

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

PHONE, DESK = (390, 844), (1366, 768)


def look(launch: dict[str, Any], html: str, size: tuple[int, int], act: Callable[[Page], Any]) -> Any:
    """What `act` finds on the page, in a thread of its own: the driver keeps an event loop there."""

    def run() -> Any:
        with sync_playwright() as driver, driver.chromium.launch(**launch) as browser:
            page = browser.new_page()
            complaints: list[str] = []
            page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
            Desk(page, complaints).show(html, size)
            found = act(page)
            assert complaints == []
            return found

    with ThreadPoolExecutor(1) as own_thread:
        return own_thread.submit(run).result()


def test_a_programme_in_words_shows_the_stage_the_house_is_at(
    planner: Client, house: House, browser_type_launch_args: dict[str, Any]
) -> None:
    html = planner.get(f"/houses/{house.pk}/").content.decode()
    last = house.activities.order_by("order").last()
    assert last is not None
    anchor = f"activity-{last.key}"

    def act(page: Page) -> tuple[int, int, bool]:
        stages = page.locator("table[data-folds] > tbody")
        folded = page.locator("table[data-folds] > tbody.folded").count()
        page.evaluate(f"location.hash = '{anchor}'")
        page.locator(f"#{anchor}").wait_for(state="visible")
        button = stages.first.locator("button.fold")
        was = button.get_attribute("aria-expanded")
        button.click()
        return stages.count(), folded, button.get_attribute("aria-expanded") != was

    stages, folded, turned = look(browser_type_launch_args, html, PHONE, act)
    assert 0 < stages - folded < stages, "the stage at work is open, others are not"
    assert turned
    assert look(browser_type_launch_args, html, DESK, lambda page: page.locator(".folded").count()) == 0


def test_a_group_of_the_form_with_an_error_is_open_and_folded_groups_are_sent(
    planner: Client, house: House, browser_type_launch_args: dict[str, Any]
) -> None:
    fresh = planner.get("/houses/new/").content.decode()
    groups, sent = look(
        browser_type_launch_args,
        fresh,
        PHONE,
        lambda page: (
            page.locator("fieldset.folded").count(),
            page.evaluate("[...new FormData(document.querySelector('form[novalidate]')).keys()].length"),
        ),
    )
    whole = look(
        browser_type_launch_args,
        fresh,
        DESK,
        lambda page: page.evaluate(
            "[...new FormData(document.querySelector('form[novalidate]')).keys()].length"
        ),
    )
    assert groups > 3
    assert sent == whole > 10
    wrong = planner.post(
        "/houses/new/",
        {"sequence": house.sequence_version_id, "place-TOTAL_FORMS": "0", "place-INITIAL_FORMS": "0"},
    ).content.decode()
    assert "field-error" in wrong
    hidden = look(
        browser_type_launch_args, wrong, PHONE, lambda page: page.locator(".folded .field-error").count()
    )
    assert hidden == 0


def test_a_tick_in_a_fold_is_reached_by_keys_and_sent_when_the_fold_is_closed_again(
    planner: Client, house: House, browser_type_launch_args: dict[str, Any]
) -> None:
    planner.post(f"/sequences/{house.sequence_version_id}/edit/")
    html = planner.get(
        f"/sequences/drafts/{house.builder.sequence_drafts.get().pk}/detail/2/"
    ).content.decode()

    def act(page: Page) -> tuple[list[str], list[str], bool]:
        made_by = "new FormData(document.querySelector('form.row-form')).getAll('installed_by')"
        ticks = page.locator("fieldset.ticks", has=page.locator("[name=installed_by]"))
        saved = page.evaluate(made_by)
        summary = ticks.locator("details > summary")
        summary.focus()
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        page.keyboard.press("Space")
        summary.press("Enter")
        return saved, page.evaluate(made_by), ticks.locator("details input:checked").is_visible()

    saved, sent, seen = look(browser_type_launch_args, html, PHONE, act)
    assert saved
    assert set(saved) < set(sent)
    assert not seen
