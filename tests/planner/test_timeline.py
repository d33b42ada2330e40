"""The geometry of the programme: what stands where, and that nothing that is read stands on something else.

No outside reference exists for this drawing; what is checked are properties that any such drawing must have,
on random programmes (Hypothesis), and dates counted by Python's own ``datetime``.
"""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coordination.planner.programme import HoldMark, Programme, Row, Stage, Window
from coordination.planner.timeline import (
    BAR_HEIGHT,
    LANE_HEIGHT,
    ROW_HEIGHT,
    ZOOMS,
    Layout,
    lay_out,
    stack_labels,
    text_width,
)

MONDAY = (dt.date(2026, 2, 2) - dt.date(1970, 1, 5)).days * 2
"""Mon 2 Feb 2026, morning, counted by datetime."""

WEEKENDS = frozenset(t for t in range(MONDAY - 140, MONDAY + 1400) if t % 14 >= 10)

STATES = ["", "asked", "pencilled", "firm", "under way", "done", "declined", "stood down"]
words = st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["C"]), max_size=30)


@st.composite
def rows(draw: st.DrawFn, key: str) -> Row:
    start = draw(st.integers(MONDAY - 20, MONDAY + 250))
    finish = start + draw(st.integers(0, 30))
    opens = start - draw(st.integers(0, 10))
    windows = [
        Window(f"detail {n}", opens, finish + gap, finish + gap + draw(st.integers(0, 20)))
        for n, gap in enumerate(draw(st.lists(st.integers(0, 15), max_size=3)))
    ]
    return Row(
        key,
        draw(words),
        "plumber",
        start,
        finish,
        draw(st.sampled_from(STATES)),
        worked_until=draw(st.none() | st.integers(MONDAY - 40, MONDAY + 300)),
        float_until=draw(st.none() | st.integers(finish, finish + 40)),
        windows=tuple(windows),
    )


@st.composite
def programmes(draw: st.DrawFn) -> Programme:
    count = draw(st.integers(1, 4))
    stages = tuple(
        Stage(f"Stage {s}", tuple(draw(rows(f"{s}-{n}")) for n in range(draw(st.integers(1, 5)))))
        for s in range(count)
    )
    holds = tuple(
        HoldMark(f"H{n}", draw(st.integers(MONDAY - 20, MONDAY + 280)), draw(words), state, draw(words))
        for n, state in enumerate(
            draw(
                st.lists(
                    st.sampled_from(["held", "not ready", "released", "re-opened", "set aside"]), max_size=9
                )
            )
        )
    )
    today = draw(st.none() | st.integers(MONDAY - 60, MONDAY + 320))
    return Programme("House", stages, holds, today, WEEKENDS)


@given(programmes(), st.sampled_from(ZOOMS))
def test_everything_stands_within_the_plot(programme: Programme, zoom: str) -> None:
    layout = lay_out(programme, zoom)
    for box in layout.rows:
        assert 0 <= box.left <= box.right <= layout.width
        assert 0 <= box.y <= layout.plot_height - ROW_HEIGHT
        marks = [box.tail, box.filled_to, box.opens, *box.dues, *box.burials]
        assert all(0 <= mark <= layout.width for mark in marks if mark is not None)
    assert all(0 <= x <= layout.width for x, _hold in layout.holds)
    assert layout.today is None or 0 <= layout.today <= layout.width
    for label in layout.labels:
        assert label.right <= layout.width
        assert 0 <= layout.lane_top(label.lane) <= layout.head_height - LANE_HEIGHT


@given(programmes(), st.sampled_from(ZOOMS))
def test_no_flag_of_a_hold_covers_another_flag_or_its_leader(programme: Programme, zoom: str) -> None:
    layout = lay_out(programme, zoom)
    for label in layout.labels:
        for other in layout.labels:
            if other is label:
                continue
            apart = label.right <= other.x or other.right <= label.x
            assert label.lane != other.lane or apart, (label, other)
            # A leader runs from its own lane down to the plot: it may not come down through another flag.
            # A leader at another flag's very left edge runs along that flag's own leader.
            crosses = label.x < other.x <= label.right and label.lane <= other.lane
            assert not crosses, (label, other)


@given(st.lists(st.tuples(st.integers(0, 1000), st.integers(1, 300)), max_size=12))
def test_flags_that_are_far_apart_share_the_lowest_lane(flags: list[tuple[int, int]]) -> None:
    spaced = [(index * 400.0, float(width)) for index, (_x, width) in enumerate(flags)]
    assert set(stack_labels(spaced)) <= {0}


@given(programmes(), st.sampled_from(ZOOMS))
def test_earlier_is_further_left_and_rows_keep_their_order(programme: Programme, zoom: str) -> None:
    layout = lay_out(programme, zoom)
    assert [box.row.key for box in layout.rows] == [row.key for row in programme.rows]
    assert [box.y for box in layout.rows] == sorted(box.y for box in layout.rows)
    for one, other in zip(layout.rows, layout.rows[1:], strict=False):
        assert one.y + ROW_HEIGHT <= other.y
        assert (one.row.start <= other.row.start) == (one.left <= other.left)


@given(programmes(), st.sampled_from(ZOOMS))
def test_work_under_way_is_filled_within_its_own_bar_only(programme: Programme, zoom: str) -> None:
    for box in lay_out(programme, zoom).rows:
        assert (box.filled_to is not None) == (box.row.state == "under way")
        if box.filled_to is not None:
            assert box.left <= box.filled_to <= box.right
        if box.tail is not None:
            assert box.tail > box.right


@given(programmes())
def test_the_whole_house_is_never_drawn_wider_than_the_fortnights_and_those_never_wider_than_the_weeks(
    programme: Programme,
) -> None:
    week, fortnight = (lay_out(programme, zoom).scale.pixels for zoom in ("week", "fortnight"))
    assert fortnight < week
    assert lay_out(programme, "whole").scale.pixels <= week


def one_row(**changes: object) -> Layout:
    row = Row("wrap", "Wall wrap", "wrap fixer", MONDAY + 2, MONDAY + 5, "pencilled")
    programme = Programme("House", (Stage("Close in", (row,)),), non_working=WEEKENDS, **changes)  # type: ignore[arg-type]
    return lay_out(programme, "week")


def test_the_axis_runs_over_whole_weeks_from_a_monday() -> None:
    layout = one_row()
    assert (layout.scale.start, layout.scale.finish) == (MONDAY, MONDAY + 14)
    assert [tick.instant for tick in layout.weeks] == [MONDAY, MONDAY + 14]


def test_a_wanted_part_of_the_axis_extends_it_and_never_clips() -> None:
    layout = one_row(start=MONDAY + 3, finish=MONDAY + 4)
    assert layout.scale.start <= MONDAY + 2
    assert one_row(finish=MONDAY + 29).scale.finish == MONDAY + 42


def test_a_bar_of_three_half_days_is_three_half_days_wide_and_begins_on_its_morning() -> None:
    layout = one_row()
    box = layout.rows[0]
    assert box.right - box.left == pytest.approx(3 * layout.scale.pixels)
    tuesday = next(tick for tick in layout.days if tick.instant == MONDAY + 2)
    assert box.left == pytest.approx(tuesday.x)


def test_weekends_are_shaded_once_each_and_carry_no_date() -> None:
    layout = one_row()
    assert len(layout.shades) == 1
    x, width = layout.shades[0]
    assert (x, width) == pytest.approx((layout.scale.x(MONDAY + 10), 4 * layout.scale.pixels))
    unlabelled = [tick.instant - MONDAY for tick in layout.days if not tick.labelled]
    assert unlabelled == [10, 12]


def test_today_stands_where_its_half_day_begins() -> None:
    layout = one_row(today=MONDAY + 7)
    assert layout.today == pytest.approx(layout.scale.x(MONDAY + 7))
    assert one_row().today is None


def test_months_begin_on_their_first_day() -> None:
    row = Row("frames", "Frames", "carpenter", MONDAY, MONDAY + 100)
    layout = lay_out(Programme("House", (Stage("Frame", (row,)),)), "whole")
    firsts = [dt.date(1970, 1, 5) + dt.timedelta(days=tick.instant // 2) for tick in layout.months[1:]]
    assert firsts == [dt.date(2026, 3, 1)]


def test_windows_of_one_row_share_a_bracket_with_an_edge_for_each_burial() -> None:
    row = Row(
        "elec",
        "Cables",
        "electrician",
        MONDAY + 4,
        MONDAY + 6,
        windows=(
            Window("route", MONDAY + 2, MONDAY + 8, MONDAY + 14),
            Window("fittings", MONDAY + 3, MONDAY + 8, MONDAY + 16),
        ),
    )
    layout = lay_out(Programme("House", (Stage("Rough-in", (row,)),)))
    box = layout.rows[0]
    assert box.opens == pytest.approx(layout.scale.x(MONDAY + 2))
    assert box.dues == pytest.approx((layout.scale.x(MONDAY + 8),))
    assert box.burials == pytest.approx((layout.scale.x(MONDAY + 14), layout.scale.x(MONDAY + 16)))


def test_a_window_that_was_turned_round_is_known_as_such() -> None:
    assert Window("caps", 10, 8, 12).inverted
    assert not Window("caps", 8, 8, 8).inverted


def test_the_bar_stays_within_its_row() -> None:
    box = one_row().rows[0]
    half = BAR_HEIGHT / 2
    assert box.y < box.middle - half < box.middle + half < box.y + ROW_HEIGHT


def test_bold_and_longer_words_are_estimated_wider() -> None:
    assert text_width("Frame", 15, bold=True) > text_width("Frame", 15) > text_width("Fram", 15)


def test_an_unknown_zoom_an_empty_house_and_impossible_rows_are_refused_by_name() -> None:
    programme = Programme("Lot 7", (Stage("Frame", (Row("a", "A", "", 0, 1),)),))
    with pytest.raises(ValueError, match="unknown zoom 'month'"):
        lay_out(programme, "month")
    with pytest.raises(ValueError, match="Lot 7: there is nothing to draw"):
        lay_out(Programme("Lot 7", (Stage("Frame", ()),)))
    with pytest.raises(ValueError, match=r"wrap: finishes \(3\) before it starts \(5\)"):
        Row("wrap", "Wrap", "", 5, 3)
    with pytest.raises(ValueError, match="wrap: unknown state 'maybe'"):
        Row("wrap", "Wrap", "", 3, 5, "maybe")
    with pytest.raises(ValueError, match="Frame: unknown state 'open'"):
        HoldMark("H2", 5, "Frame", "open")
