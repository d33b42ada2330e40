"""The planner's pages in a real browser: WCAG by axe-core, no sideways scroll, no complaint."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import sync_playwright

from coordination.sequence import bookings, fit_runs, fitting, forecasting
from coordination.sequence.models import Fit, House
from tests.planner.conftest import booking_of, first_activity, linings_visit
from tests.rules.test_look_in_browser import Desk
from tests.sequence.brick_veneer import Office

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

LOOKS = [("light", (1366, 768)), ("dark", (820, 1180)), ("sunlight", (320, 640))]


def read_pages(planner: Client, house: House, theme: str) -> dict[str, str]:
    """Every page of the planner, acts that were refused and effects that were looked at included."""
    planner.cookies["theme"] = theme
    linings, first = linings_visit(house).pk, first_activity(house).pk
    detail = house.details.exclude(drawing="")[0].pk
    crew = booking_of(house, linings_visit(house).key).crew_id
    here = f"/houses/{house.pk}/"
    got = ["/", here, *(f"{here}{page}/" for page in ("visits", "details", "moves", "ordered", "progress"))]
    got += [
        f"{here}visits/{linings}/",
        f"{here}details/{detail}/",
        "/houses/new/",
        "/week/?from=2026-04-20",
        "/crews/",
        f"/crews/{crew}/",
    ]
    got += ["/sequences/", f"/sequences/{house.sequence_version_id}/"]
    got += ["/fit/", f"/fit/{fit_of(house).pk}/", "/promises/", f"{here}sound/"]
    got += [f"/sequences/{house.sequence_version_id}/sound/"]
    pages = {page: planner.get(page).content.decode() for page in got}
    slipped = planner.post(f"{here}slip/", {"activity": first, "half_days": "6"})
    refused = planner.post(f"{here}visits/{linings}/firm/")
    several = planner.post(f"{here}visits/pencil/", {"visit": [linings, *asked_visits(house)]})
    wrong = planner.post("/houses/new/", {"sequence": house.sequence_version_id, "place-TOTAL_FORMS": "0"})
    pages |= {
        "slip": slipped.content.decode(),
        "refused": refused.content.decode(),
        "errors": wrong.content.decode(),
        "several": several.content.decode(),
    }
    return pages


def asked_visits(house: House) -> list[int]:
    return list(house.bookings.filter(state="asked").values_list("visit", flat=True))


def fit_of(house: House) -> Fit:
    """A fit of the house that is to be looked at; the house is forecast besides."""
    assert forecasting.make_forecast(house.pk) is not None
    planner = house.builder.roles.filter(kind="planner")[0].person
    fit = fitting.start_fit(house.builder, planner)
    Fit.objects.filter(pk=fit.pk).update(seconds=0)
    assert fit_runs.take_up(fit.pk)
    return fit


def judge_pages(pages: dict[str, str], size: tuple[int, int], launch: dict[str, Any]) -> list[str]:
    """What is wrong with each page.

    Runs in a thread of its own: the browser's driver keeps an event loop in its thread, and Django refuses
    its database beside one.
    """
    faults = []
    with sync_playwright() as driver, driver.chromium.launch(**launch) as browser:
        page = browser.new_page()
        complaints: list[str] = []
        page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        for name, html in pages.items():
            desk = Desk(page, complaints)
            desk.show(html, size)
            try:
                desk.judge()
            except AssertionError as fault:
                faults.append(f"{name}: {fault}")
                complaints.clear()
    return faults


@pytest.mark.parametrize(("theme", "size"), LOOKS, ids=[f"{theme}-{size[0]}" for theme, size in LOOKS])
def test_planner_pages_are_accessible_and_fit(
    planner: Client,
    office: Office,
    house: House,
    browser_type_launch_args: dict[str, Any],
    theme: str,
    size: tuple[int, int],
) -> None:
    bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)
    pages = read_pages(planner, house, theme)
    with ThreadPoolExecutor(max_workers=1) as pool:
        faults = pool.submit(judge_pages, pages, size, browser_type_launch_args).result()
    assert not faults, faults
