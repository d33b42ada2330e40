"""The page of a pack, printed by a real browser on A4 and read on a telephone."""

import io
import unicodedata
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import Page
from pypdf import PdfReader

from hold_points import copies
from tests.hold_points.houses import Site, make_site
from tests.hold_points.test_pack import SENTENCE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def opened(page: Page, live_server: Any, transactional_db: None, settings: Any, tmp_path: Any) -> Page:
    settings.MEDIA_ROOT = tmp_path
    site: Site = make_site()
    site.release_all("H3")
    copies.prepare_waiting()
    client = Client()
    client.force_login(site.planner)
    cookie = client.cookies[django_settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies(
        [{"name": django_settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}]
    )
    page.goto(f"{live_server.url}/walks/houses/{site.house.pk}/pack/builder/")
    return page


def read(sheet: Any) -> str:
    """The words of a sheet; where letters are joined in print, as in 'fi', they are read singly."""
    return " ".join(unicodedata.normalize("NFKC", sheet.extract_text()).split())


def test_every_printed_sheet_carries_the_sentence_and_is_a4(opened: Page) -> None:
    printed = PdfReader(io.BytesIO(opened.pdf(prefer_css_page_size=True)))
    assert len(printed.pages) > 1
    for sheet in printed.pages:
        assert SENTENCE in read(sheet)
        assert (round(sheet.mediabox.width), round(sheet.mediabox.height)) == (595, 842)
    words = " ".join(read(sheet) for sheet in printed.pages)
    assert "Make a PDF" not in words
    assert "Heel height 100 mm at the wall line" in words


@pytest.mark.parametrize("wide", [320, 390, 820, 1366])
def test_the_pack_fits_every_screen(opened: Page, wide: int) -> None:
    opened.set_viewport_size({"width": wide, "height": 900})
    assert opened.evaluate("document.documentElement.scrollWidth") <= wide
    assert opened.locator(".pack__foot").is_hidden()
    size = opened.locator("svg.to-scale").first.evaluate(
        "svg => Math.min(...[...svg.querySelectorAll('text')].map(one =>"
        " parseFloat(getComputedStyle(one).fontSize) * svg.getScreenCTM().a))"
    )
    assert size >= 14


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_pack_is_accessible(opened: Page, theme: str) -> None:
    """WCAG 2.2 A and AA as far as axe-core finds it."""
    opened.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
    found = Axe().run(opened, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]})
    assert found.response["violations"] == []
