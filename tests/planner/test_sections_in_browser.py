"""Opening a row of the programme fetches the section of its detail, once, and shows it at a size to read."""

from typing import Any

import pytest
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import Page

from coordination.sequence.models import Detail
from tests.hold_points.houses import Site, make_site

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def open_site(transactional_db: None, settings: Any, tmp_path: Any) -> Site:
    settings.MEDIA_ROOT = tmp_path
    return make_site()


@pytest.mark.parametrize(("wide", "least"), [(390, 17.5), (820, 17.5), (1366, 17.5), (320, 13.0)])
def test_a_row_shows_its_section_when_it_is_opened(
    page: Page, live_server: Any, open_site: Site, wide: int, least: float
) -> None:
    client = Client()
    client.force_login(open_site.planner)
    cookie = client.cookies[django_settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies(
        [{"name": django_settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}]
    )
    page.set_viewport_size({"width": wide, "height": 900})
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.url) if "/section/" in one.url else None)
    detail = Detail.objects.get(house=open_site.house, key="d-batts")
    page.goto(f"{live_server.url}/houses/{open_site.house.pk}/")
    closed = page.locator("details.section", has_text=detail.name)
    page.evaluate("document.querySelectorAll('details:not(.section)').forEach(one => one.open = true)")
    assert page.locator("svg.to-scale").count() == 0
    assert asked == []
    closed.locator("summary").click()
    drawn = closed.locator("svg.to-scale")
    drawn.wait_for()
    size = drawn.evaluate(
        "svg => Math.min(...[...svg.querySelectorAll('text')].map(one =>"
        " parseFloat(getComputedStyle(one).fontSize) * svg.getScreenCTM().a))"
    )
    assert size >= least
    closed.locator("summary").click()
    closed.locator("summary").click()
    assert len(asked) == 1
    assert page.evaluate("document.documentElement.scrollWidth") <= wide
