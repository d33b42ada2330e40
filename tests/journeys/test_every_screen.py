"""Every screen of the demonstration in a browser: accessible, readable and within its width, in three themes.

Judged by axe-core with its rules for WCAG 2.0 to 2.2, A and AA, and by the browser's own layout.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.core.management import call_command
from django.test.utils import override_settings
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.journeys.shown import SCREENS, Screen, Shown, load_shown

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db]

UPRIGHT = (820, 1180)
SIZES = (UPRIGHT, (1180, 820), (390, 844))
THEMES = ("light", "dark", "sunlight")
NARROW = (320, 640)
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
ALL_RULES = {"runOnly": TAGS, "rules": {"target-size": {"enabled": True}}}
COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}


@pytest.fixture(scope="module")
def shown(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Shown]:
    """Loaded once: making the demonstration takes longer than looking at a screen."""
    folder = tmp_path_factory.mktemp("photographs")
    with (
        django_db_blocker.unblock(),
        override_settings(MEDIA_ROOT=folder, COORDINATION_ONE_CLICK_SIGN_IN=True),
    ):
        server = LiveServer("localhost")
        try:
            yield load_shown(server.url)
        finally:
            server.stop()
            call_command("flush", interactive=False, verbosity=0)


def complaints_of(page: Page, options: dict[str, Any]) -> list[tuple[str, list[str]]]:
    found = Axe().run(page, options=options).response["violations"]
    return [(one["id"], [node["html"][:160] for node in one["nodes"][:5]]) for one in found]


def too_wide(page: Page) -> list[str]:
    """Nothing, or what sticks out when the page scrolls sideways."""
    return list(
        page.evaluate(
            """(() => { const width = document.documentElement.clientWidth;
             if (document.documentElement.scrollWidth <= width) return [];
             return [...document.querySelectorAll('main *, header *, footer *')]
               .filter(one => one.getBoundingClientRect().right > width + 1)
               .map(one => one.outerHTML.slice(0, 120)).slice(0, 6); })()"""
        )
    )


@pytest.mark.parametrize("screen", SCREENS, ids=lambda screen: screen.name)
def test_screen_is_accessible_and_fits(browser: Any, shown: Shown, screen: Screen) -> None:
    page = shown.window(browser, screen.who)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda line: errors.append(line.text) if "Content Security" in line.text else None)
    answers: list[int] = []
    page.on(
        "response", lambda one: answers.append(one.status) if one.request.is_navigation_request() else None
    )
    screen.bring(page, shown)
    assert answers[-1] == screen.status
    page.evaluate("document.querySelectorAll('main details').forEach(one => { one.open = true; })")
    trouble: dict[str, Any] = {}
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        for theme in THEMES if (width, height) != UPRIGHT else ("light",):
            page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
            trouble[f"{width} {theme}"] = complaints_of(page, ALL_RULES if theme == "light" else COLOURS)
        trouble[f"{width} wide"] = too_wide(page)
    page.set_viewport_size({"width": NARROW[0], "height": NARROW[1]})
    trouble["320 wide"] = too_wide(page)
    page.context.close()
    assert {where: what for where, what in trouble.items() if what} == {}
    assert errors == []
