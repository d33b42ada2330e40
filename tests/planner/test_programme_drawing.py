"""The programme as SVG and as a table of words: well-formed, escaped, and both saying the same."""

from __future__ import annotations

import datetime as dt
import re
import xml.etree.ElementTree as ET

import pytest
import time_machine
from django.template.loader import render_to_string

from coordination.planner.programme import HoldMark, Programme, Row, Stage, Window
from coordination.planner.programme_svg import draw_head, draw_plot
from coordination.planner.programme_table import say_float, tell_row, write_holds, write_stages
from coordination.planner.timeline import lay_out

MONDAY = (dt.date(2026, 3, 2) - dt.date(1970, 1, 5)).days * 2
WEEKENDS = frozenset(t for t in range(MONDAY - 28, MONDAY + 70) if t % 14 >= 10)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(autouse=True)
def march() -> object:
    with time_machine.travel(dt.datetime(2026, 3, 9, 1, 0, tzinfo=dt.UTC)):
        yield


def house() -> Programme:
    pipes = Row(
        "plumb",
        'Pipes <off> "chords" & lagged',
        "plumber",
        MONDAY + 6,
        MONDAY + 10,
        "under way",
        worked_until=MONDAY + 8,
        float_half_days=3,
        float_until=MONDAY + 17,
        windows=(
            Window("pipes off chords", MONDAY + 10, MONDAY + 17, MONDAY + 22, "Services", "ceiling batts"),
            Window("pipes lagged", MONDAY + 10, MONDAY + 17, MONDAY + 22, "Services", "ceiling batts"),
        ),
        reason="after Roof cover",
    )
    photo = Row("P1", "Batt behind the switchboard", "electrician", MONDAY + 10, MONDAY + 10, point="photo")
    caps = Row("caps", "Void caps", "carpenter", MONDAY + 14, MONDAY + 16, "stood down", float_half_days=-2)
    holds = (
        HoldMark("H4", MONDAY + 18, "Services", "held", "3 checks open", "/hold/4/"),
        HoldMark("H2", MONDAY + 4, "Frame", "released", "KM 24 Feb"),
        HoldMark("H3", MONDAY + 8, "Pockets", "re-opened", "by AT", former="released KM 26 Feb"),
    )
    return Programme(
        "Lot 7", (Stage("Rough-in", (pipes, photo, caps)), Stage("Line", ())), holds, MONDAY + 14, WEEKENDS
    )


def read(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  (drawn a line before, not received)


def classes(svg: str) -> list[str]:
    return [name for found in re.findall(r'class="([^"]*)"', svg) for name in found.split()]


def test_head_and_plot_are_well_formed_and_share_their_width() -> None:
    layout = lay_out(house())
    head, plot = read(draw_head(layout)), read(draw_plot(layout))
    assert head.get("width") == plot.get("width")
    titles = [title.text or "" for title in plot.iter(f"{SVG}title")]
    assert any(title.startswith('Pipes <off> "chords" & lagged (plumber) · under way') for title in titles)


def test_drawing_carries_no_style_and_no_script() -> None:
    layout = lay_out(house())
    for svg in (draw_head(layout), draw_plot(layout)):
        assert not re.search(r" style=|<script|<style", svg)


def test_each_state_has_a_shape_of_its_own() -> None:
    plot = draw_plot(lay_out(house()))
    names = classes(plot)
    assert {"row--under-way", "worked", "row--stood-down", "struck"} <= set(names)
    assert names.count("cap--open") == 1, "only the released hold is opened"
    assert plot.count('fill="url(#hold-hatch)"') == 2, "held and re-opened are hatched"
    closed = [path.get("d", "") for path in read(plot).iter(f"{SVG}path") if path.get("class") == "cap"]
    assert sorted(d.count("M") for d in closed) == [1, 2], "re-opened is closed by a second stroke"


def test_every_row_leads_to_its_words() -> None:
    programme = house()
    links = [a.get("href") for a in read(draw_plot(lay_out(programme))).iter(f"{SVG}a")]
    assert links == ["#activity-plumb", "#activity-P1", "#activity-caps"]
    anchors = [row.anchor for stage in write_stages(programme) for row in stage.rows]
    assert [f"#{anchor}" for anchor in anchors] == links


def test_table_says_dates_float_and_windows_as_the_trade_does() -> None:
    (stage,) = write_stages(house())
    pipes, photo, caps = stage.rows
    assert (pipes.starts, pipes.finishes) == ("Thu 5 Mar, morning", "Fri 6 Mar, afternoon")
    assert (pipes.float_words, caps.float_words, caps.late) == ("3 half-days", "2 half-days late", True)
    (hidden,) = pipes.hides
    assert hidden.detail == "pipes off chords, pipes lagged"
    # The roof is finished on Friday afternoon: nobody works before Monday.
    assert hidden.opens == "Mon 9 Mar, morning"
    assert (hidden.due, hidden.buried) == ("Tue 10 Mar, afternoon", "Fri 13 Mar, morning")
    assert (photo.starts, photo.finishes) == ("", "by the end of Fri 6 Mar, afternoon")
    assert (photo.state_words, pipes.why) == ("photo point", "after Roof cover")


def test_holds_are_told_in_the_order_of_their_dates() -> None:
    holds = write_holds(house())
    assert [hold.label for hold in holds] == ["Frame", "Pockets", "Services"]
    assert (holds[1].state_words, holds[1].former) == ("re-opened", "released KM 26 Feb")
    assert "held: 3 checks open" in draw_head(lay_out(house()))


@pytest.mark.parametrize(
    ("half_days", "words"),
    [(None, ""), (-1, "1 half-day late"), (0, "none"), (1, "1 half-day"), (2, "2 half-days")],
)
def test_float_is_said_on_both_sides_of_none(half_days: int | None, words: str) -> None:
    assert say_float(half_days) == words


def test_tooltip_of_a_row_names_what_it_hides() -> None:
    row = house().rows[0]
    assert tell_row(row).endswith("float: 3 half-days · hides: pipes off chords, pipes lagged")


def test_page_shows_the_drawing_and_the_same_rows_in_words() -> None:
    programme = house()
    layout = lay_out(programme)
    page = render_to_string(
        "planner/_programme.html",
        {
            "programme": programme,
            "layout": layout,
            "head": draw_head(layout),
            "plot": draw_plot(layout),
            "stages": write_stages(programme),
            "holds": write_holds(programme),
            "zooms": [("week", "Weeks", "?zoom=week")],
        },
    )
    for row in programme.rows:
        assert page.count(f'id="{row.anchor}"') == 1
        assert f'href="#{row.anchor}"' in page
    assert "Pipes &lt;off&gt;" in page
    assert "<off>" not in page
    assert page.count("data-next") == 1
    assert " style=" not in page
