"""The look in a real browser: every piece on one sheet, and a long programme, in the three themes.

Judged by axe-core (its WCAG 2.0 to 2.2 A and AA rules), by the browser's own layout, and under the content
security policy that the server sends.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import mimetypes
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import AnonymousUser
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.test import RequestFactory
from playwright.sync_api import Page, Route

from coordination.planner.programme import HoldMark, Programme, Row, Stage, Window
from coordination.planner.programme_svg import draw_head, draw_plot
from coordination.planner.programme_table import write_holds, write_stages
from coordination.planner.timeline import ROW_HEIGHT, STAGE_HEIGHT, lay_out
from coordination.security_headers import CONTENT_SECURITY_POLICY

pytestmark = pytest.mark.browser

HOME = "http://look.test/"
THEMES = ("light", "dark", "sunlight")
WIDTHS = ((1366, 768), (820, 1180), (744, 1133), (320, 640))
AXE = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},
}
MONDAY = (dt.date(2026, 2, 2) - dt.date(1970, 1, 5)).days * 2


class Features(forms.Form):
    """One field of each kind, one of them wrong."""

    pitch = forms.DecimalField(label="Roof pitch", help_text="Degrees, from the plans.")
    heel = forms.IntegerField(label="Heel height, mm", required=False)
    fixing = forms.ChoiceField(
        label="Ceiling fixing",
        choices=[("direct", "direct to the chords"), ("battens", "on battens")],
        widget=forms.RadioSelect,
    )
    garage = forms.BooleanField(label="Bedroom over the garage", required=False)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea)


class Somebody(AnonymousUser):
    """A signed-in person without a database."""

    is_authenticated = True  # type: ignore[assignment]

    def __str__(self) -> str:
        return "Kim Marsh"


def long_programme() -> Programme:
    """60 rows over 24 weeks with every state, nine holds (three of them within a week) and long names."""
    states = ["done", "under way", "firm", "pencilled", "asked", "", "declined", "stood down"]
    rows = []
    for n in range(60):
        start = MONDAY + n * 5 + n % 3
        finish = start + n % 7
        windows = (Window("pipes off the bottom chords", start, finish + 4, finish + 9, "Services", "batts"),)
        rows.append(
            Row(
                f"a{n}",
                f"Straighten, tie down, noggings and the second frame at the switchboard, part {n}",
                "frame carpenter",
                start,
                finish,
                states[n % len(states)],
                worked_until=start + 1,
                float_half_days=n % 4 - 1,
                float_until=finish + n % 4,
                windows=windows if n % 2 else (),
                reason="after Roof cover, ridge, flashings",
            )
        )
    stages = tuple(Stage(f"Stage {s + 1}", tuple(rows[s * 10 : s * 10 + 10])) for s in range(6))
    marks = ["released", "re-opened", "held", "held", "not ready", "set aside", "not ready", "held", "held"]
    holds = tuple(
        HoldMark(f"H{n}", MONDAY + at, "Services and air seal", state, "3 checks open", f"/holds/{n}/")
        for n, (at, state) in enumerate(zip([13, 37, 40, 44, 100, 104, 180, 300, 302], marks, strict=True))
    )
    weekends = frozenset(t for t in range(MONDAY, MONDAY + 400) if t % 14 >= 10)
    return Programme("Lot 7, Saltbush Rise", stages, holds, MONDAY + 154, weekends, ("Wrap stands open.",))


def write_page(template: str, theme: str, **context: Any) -> str:
    request = RequestFactory().get("/")
    request.COOKIES["theme"] = theme
    request.user = Somebody()
    return render_to_string(template, context, request=request)


def style_guide(theme: str) -> str:
    form = Features({"pitch": "steep", "fixing": "direct"})
    hold = {"label": "Services and air seal", "note": "3 checks open", "former": "released KM 26 Feb"}
    return write_page(
        "styleguide.html",
        theme,
        form=form,
        states=["asked", "pencilled", "firm", "under way", "done", "declined", "stood down", ""],
        holds=[{**hold, "state": s} for s in ("held", "not ready", "released", "re-opened", "set aside")],
        crumbs=[("Houses", "/houses/"), ("Lot 7, Saltbush Rise", "")],
        picture="/static/coordination/mark.svg",
    )


def programme_page(theme: str, zoom: str) -> str:
    programme = long_programme()
    layout = lay_out(programme, zoom)
    return write_page(
        "planner/programme_sheet.html",
        theme,
        programme=programme,
        layout=layout,
        head=draw_head(layout),
        plot=draw_plot(layout),
        stages=write_stages(programme),
        holds=write_holds(programme),
        zooms=[("week", "Weeks", "?zoom=week"), ("whole", "Whole house", "?zoom=whole")],
    )


@dataclasses.dataclass
class Desk:
    """A browser page that is served from memory, with the server's content security policy."""

    page: Page
    complaints: list[str]

    def show(self, html: str, size: tuple[int, int]) -> None:
        def answer(route: Route) -> None:
            path = route.request.url.removeprefix(HOME).split("?")[0]
            if not path:
                route.fulfill(
                    body=html,
                    content_type="text/html; charset=utf-8",
                    headers={"Content-Security-Policy": CONTENT_SECURITY_POLICY},
                )
                return
            found = finders.find(path.removeprefix("static/"))
            if isinstance(found, str):
                kind = mimetypes.guess_type(found)[0] or "application/octet-stream"
                route.fulfill(body=Path(found).read_bytes(), content_type=kind)
            else:
                self.complaints.append(f"no static file {path}")
                route.fulfill(status=404)

        self.page.unroute_all()
        self.page.route(f"{HOME}**", answer)
        self.page.set_viewport_size({"width": size[0], "height": size[1]})
        self.page.goto(HOME)

    def judge(self) -> None:
        assert not self.complaints
        found = Axe().run(self.page, options=AXE).response["violations"]
        told = [(v["id"], [node["html"][:140] for node in v["nodes"][:4]]) for v in found]
        assert not told, told
        wide = self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0, f"the page scrolls sideways by {wide} px"


@pytest.fixture
def desk(page: Page) -> Desk:
    complaints: list[str] = []
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    return Desk(page, complaints)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("size", WIDTHS, ids=lambda size: str(size[0]))
def test_every_piece_is_accessible_and_fits(desk: Desk, theme: str, size: tuple[int, int]) -> None:
    desk.show(style_guide(theme), size)
    desk.judge()


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("size", WIDTHS, ids=lambda size: str(size[0]))
def test_a_programme_of_sixty_rows_is_accessible_and_fits(
    desk: Desk, theme: str, size: tuple[int, int]
) -> None:
    desk.show(programme_page(theme, "whole"), size)
    desk.judge()


@pytest.mark.parametrize("zoom", ["week", "fortnight", "whole"])
def test_no_lettering_of_the_head_overlaps_as_the_browser_sets_it(desk: Desk, zoom: str) -> None:
    desk.show(programme_page("light", zoom), (1366, 768))
    boxes = desk.page.evaluate(
        """[...document.querySelectorAll('.programme__head text')].map(t => {
             const b = t.getBBox(); return [t.textContent, b.x, b.y, b.x + b.width, b.y + b.height]; })"""
    )
    # The boxes of letters are taller than the letters: a third of a line may overlap without touching.
    slack = 4
    for i, (words, left, top, right, foot) in enumerate(boxes):
        for other, left2, top2, right2, foot2 in boxes[i + 1 :]:
            apart = right <= left2 or right2 <= left or foot - slack <= top2 or foot2 - slack <= top
            assert apart, f"{words!r} and {other!r} overlap"


def test_names_stand_beside_their_own_bars(desk: Desk) -> None:
    desk.show(programme_page("light", "whole"), (1366, 768))
    heights = desk.page.evaluate(
        """(() => { const top = document.querySelector('.programme__names').getBoundingClientRect().top;
             const row = e => { const b = e.getBoundingClientRect(); return [b.top - top, b.height]; };
             return [[...document.querySelectorAll('.programme__names h3')].map(row),
                     [...document.querySelectorAll('.programme__names li')].map(row)]; })()"""
    )
    layout = lay_out(long_programme(), "whole")
    assert heights[0] == [[pytest.approx(box.y), STAGE_HEIGHT] for box in layout.stages]
    assert heights[1] == [[pytest.approx(box.y), ROW_HEIGHT] for box in layout.rows]


def test_programme_opens_at_today_and_on_a_phone_begins_with_the_words(desk: Desk) -> None:
    desk.show(programme_page("light", "week"), (1366, 768))
    assert desk.page.evaluate("document.querySelector('.programme__scroll').scrollLeft") > 0
    line = desk.page.locator(".programme__plot line.now").bounding_box()
    assert line is not None
    assert 300 < line["x"] < 1366
    desk.show(programme_page("light", "week"), (390, 844))
    table = desk.page.locator(".programme__words").bounding_box()
    drawing = desk.page.locator(".programme__drawing").bounding_box()
    assert table is not None
    assert drawing is not None
    assert table["y"] < drawing["y"]


def test_field_controls_are_large_and_apart(desk: Desk) -> None:
    html = style_guide("sunlight").replace('<body class=""', '<body class="field"')
    assert '<body class="field"' in html
    for size in ((1180, 820), (820, 1180), (390, 844), (320, 640)):
        desk.show(html, size)
        desk.judge()
        sizes = desk.page.evaluate(
            """[...document.querySelectorAll('main .btn, main .room, main input:not([type=radio], ' +
               '[type=checkbox], [type=hidden]), main textarea, .check-line')].map(e => [e.textContent.trim(),
               e.getBoundingClientRect().height, parseFloat(getComputedStyle(e).fontSize)])"""
        )
        assert len(sizes) > 20
        assert [s for s in sizes if s[1] < 48 or s[2] < 18] == []
        outcomes = desk.page.evaluate(
            """[...document.querySelectorAll('.outcomes .btn')].map(e => {
               const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; })"""
        )
        assert all(bottom - top >= 60 for _left, top, _right, bottom in outcomes)
        for i, one in enumerate(outcomes):
            for other in outcomes[i + 1 :]:
                gap = max(other[0] - one[2], one[0] - other[2], other[1] - one[3], one[1] - other[3])
                assert gap >= 8


def test_theme_is_remembered_on_the_device_and_for_the_server(desk: Desk) -> None:
    desk.show(style_guide("auto"), (820, 1180))
    desk.page.get_by_label("Look of the pages").select_option("sunlight")
    assert desk.page.evaluate("document.documentElement.dataset.theme") == "sunlight"
    assert "theme=sunlight" in desk.page.evaluate("document.cookie")
    assert desk.page.evaluate("localStorage.getItem('theme')") == "sunlight"
    desk.page.reload()
    assert desk.page.evaluate("document.documentElement.dataset.theme") == "sunlight"
    assert 'data-theme="sunlight"' in write_page("404.html", "sunlight")
    assert 'data-theme="auto"' in write_page("404.html", 'x" onload="')


def test_without_javascript_the_switch_is_not_offered() -> None:
    assert "data-theme-switch hidden" in style_guide("light")


@pytest.mark.parametrize("template", ["400.html", "403.html", "404.html", "403_csrf.html"])
def test_error_pages_are_accessible(desk: Desk, template: str) -> None:
    desk.show(write_page(template, "light"), (390, 844))
    desk.judge()


def test_signing_in_is_accessible_before_and_after_a_mistake(desk: Desk) -> None:
    for form in (AuthenticationForm(), AuthenticationForm(data={"username": "", "password": ""})):
        desk.show(write_page("people/login.html", "dark", form=form), (390, 844))
        desk.judge()
    assert desk.page.get_by_role("alert").count() == 1
    field = desk.page.get_by_label("Password")
    assert desk.page.locator(f"#{field.get_attribute('aria-describedby')}").inner_text()


def test_the_page_of_a_stumbling_server_needs_no_request(desk: Desk) -> None:
    desk.show(render_to_string("500.html"), (390, 844))
    desk.judge()
    assert "<h1" in render_to_string("400.html")
