"""Dates to rows and columns: the geometry of one house's programme. Pure; draws nothing and reads nothing.

Input is a ``Programme`` of plain values on the half-day axis (see ``programme``). ``lay_out`` turns it into
boxes in pixels that ``programme_svg`` draws; ``programme_table`` says the same in words.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from coordination.clock import as_date
from coordination.planner.programme import HoldMark, Programme, Row
from coordination.planner.programme_table import say_flag

WEEK: Final = 14
"""Half-days in a week; weekends count on the axis."""

ROW_HEIGHT: Final = 46
STAGE_HEIGHT: Final = 38
"""Heights of the rows in pixels; programme.css gives the column of names the same ones."""

BAR_HEIGHT: Final = 16
BAR_TOP: Final = 18
BRACKET_TOP: Final = 9
HOLD_WIDTH: Final = 10
LANE_HEIGHT: Final = 38
MONTH_BAND: Final = 26
DATE_BAND: Final = 24
TODAY_BAND: Final = 20
HEAD_FOOT: Final = 12
LABEL_SIZE: Final = 15
NOTE_SIZE: Final = 14
LEADER_GAP: Final = 6
LEFT_MARGIN: Final = 8
RIGHT_MARGIN: Final = 16
ADVANCES: Final = {
    "ijl' ": (0.32, 0.35),
    "fIJ!(),-./:;[]|·²³": (0.41, 0.46),
    'rt"*_°–': (0.5, 0.53),
    "cszL?": (0.56, 0.64),
    "0123456789abdeghknopquvxyEFPSTY": (0.64, 0.74),
    "ABCKRUVXZ": (0.74, 0.82),
    "wDGHNOQ&": (0.82, 0.93),
    "M#+<=>×≥≤": (0.87, 1.0),
}
"""Widths in parts of the font size, regular and bold, of DejaVu Sans; other letters count as the widest."""

WHOLE_WIDTH: Final = 980
"""Width in pixels at which the whole of an ordinary house stands beside its names on an office screen."""

ZOOMS: Final = ("week", "fortnight", "whole")


@dataclass(frozen=True)
class Scale:
    """Instants to pixels: one straight line."""

    start: int
    finish: int
    pixels: float
    """Per half-day."""

    def x(self, instant: int) -> float:
        """The place of an instant, in pixels from the plot's left edge."""
        return LEFT_MARGIN + (instant - self.start) * self.pixels

    @property
    def end(self) -> float:
        """The place of the axis' last instant."""
        return self.x(self.finish)


@dataclass(frozen=True)
class Tick:
    """A line of the grid, with the date it stands for."""

    x: float
    instant: int
    labelled: bool


@dataclass(frozen=True)
class RowBox:
    """Where one row's marks stand. ``y`` is the row's upper edge."""

    row: Row
    y: float
    left: float
    right: float
    filled_to: float | None
    tail: float | None
    opens: float | None
    dues: tuple[float, ...]
    burials: tuple[float, ...]

    @property
    def middle(self) -> float:
        """The height of the bar's axis."""
        return self.y + BAR_TOP + BAR_HEIGHT / 2


@dataclass(frozen=True)
class StageBox:
    """The band of a stage's name."""

    name: str
    y: float


@dataclass(frozen=True)
class Label:
    """A flag above the plot: two lines to the right of its leader. Lane 0 is the lowest."""

    x: float
    width: float
    lane: int
    words: str
    note: str
    hold: HoldMark

    @property
    def right(self) -> float:
        """The right edge of the flag."""
        return self.x + self.width


@dataclass(frozen=True)
class Layout:
    """All boxes of the drawing, in pixels. The head stands above the plot and shares its x axis."""

    zoom: str
    scale: Scale
    width: float
    head_height: float
    plot_height: float
    months: tuple[Tick, ...]
    """First days of the months; at the zoom that shows days: Mondays, each said in full."""
    weeks: tuple[Tick, ...]
    days: tuple[Tick, ...]
    shades: tuple[tuple[float, float], ...]
    stages: tuple[StageBox, ...]
    rows: tuple[RowBox, ...]
    holds: tuple[tuple[float, HoldMark], ...]
    labels: tuple[Label, ...]
    today: float | None
    lanes: int

    def lane_top(self, lane: int) -> float:
        """Upper edge of a lane of flags within the head."""
        return self.head_height - HEAD_FOOT - (lane + 1) * LANE_HEIGHT


def lay_out(programme: Programme, zoom: str = "week") -> Layout:
    """Boxes of a programme at one of the ``ZOOMS``.

    ``week`` shows every day, ``fortnight`` twice as much, ``whole`` an ordinary house on one screen. Raises
    ``ValueError`` for an unknown zoom or a programme without rows.
    """
    if not programme.rows:
        raise ValueError(f"{programme.house}: there is nothing to draw; set the house out first")
    scale = _scale(programme, zoom)
    stages, rows, plot_height = _place_rows(programme, scale)
    labels = _place_labels(programme, scale)
    lanes = max((label.lane for label in labels), default=-1) + 1
    right = max([scale.end, *(label.right for label in labels)])
    mondays = range(scale.start, scale.finish + 1, WEEK)
    # Dates under the grid stand only where the widest of them has room.
    step = max(1, math.ceil(text_width("30", NOTE_SIZE) * 1.7 / (WEEK * scale.pixels)))
    show_days = zoom == "week"
    today_band = 0 if programme.today is None else TODAY_BAND
    return Layout(
        zoom=zoom,
        scale=scale,
        width=math.ceil(right + RIGHT_MARGIN),
        head_height=MONTH_BAND + DATE_BAND + today_band + lanes * LANE_HEIGHT + HEAD_FOOT,
        plot_height=plot_height,
        months=_mondays(scale) if show_days else _months(scale),
        weeks=tuple(Tick(scale.x(t), t, n % step == 0 and t < scale.finish) for n, t in enumerate(mondays)),
        days=tuple(
            Tick(scale.x(t), t, t not in programme.non_working or t + 1 not in programme.non_working)
            for t in range(scale.start, scale.finish, 2)
            if show_days and t % WEEK
        ),
        shades=_shades(programme.non_working, scale),
        stages=stages,
        rows=rows,
        holds=tuple((scale.x(hold.at), hold) for hold in programme.holds),
        labels=labels,
        today=None if programme.today is None else scale.x(programme.today),
        lanes=lanes,
    )


def text_width(words: str, size: float, bold: bool = False) -> float:
    """An upper estimate of a text's width in pixels.

    System fonts differ, so a wide one is assumed: DejaVu Sans, its letters in the groups of ``ADVANCES``,
    each at its widest member.
    """
    return size * sum(_advance(c)[bold] for c in words)


def _advance(character: str) -> tuple[float, float]:
    """Widths in parts of the font size, regular and bold; a letter of no group counts as a wide one."""
    if unicodedata.combining(character):
        return 0.0, 0.0
    return next((widths for group, widths in ADVANCES.items() if character in group), (1.0, 1.11))


def stack_labels(labels: Sequence[tuple[float, float]]) -> list[int]:
    """Lanes for flags given as (leader x, width), so that neither flags nor leaders cross a flag.

    A flag stands to the right of its leader, which runs down through every lane below. Going from right to
    left, a flag takes the lowest lane above all leaders that come down through its width: whatever stands in
    the same lane then begins beyond its right edge. Returned in the order given.
    """
    lanes = [0] * len(labels)
    placed: list[int] = []
    for index in sorted(range(len(labels)), key=lambda i: (-labels[i][0], -i)):
        x, width = labels[index]
        within = [lanes[other] for other in placed if labels[other][0] <= x + width]
        lanes[index] = max(within, default=-1) + 1
        placed.append(index)
    return lanes


def _scale(programme: Programme, zoom: str) -> Scale:
    instants = [t for t in (programme.start, programme.finish, programme.today) if t is not None]
    instants += [hold.at for hold in programme.holds]
    for row in programme.rows:
        instants += [row.start, row.finish]
        instants += [t for t in (row.float_until, row.worked_until) if t is not None]
        for window in row.windows:
            instants += [window.opens, window.due, window.buried]
    start = min(instants) // WEEK * WEEK
    finish = max(start + WEEK, math.ceil(max(instants) / WEEK) * WEEK)
    if zoom == "week":
        pixels = 12.0
    elif zoom == "fortnight":
        pixels = 5.0
    elif zoom == "whole":
        pixels = min(12.0, max(1.0, WHOLE_WIDTH / (finish - start)))
    else:
        raise ValueError(f"unknown zoom {zoom!r}; one of {', '.join(ZOOMS)}")
    return Scale(start, finish, pixels)


def _place_rows(programme: Programme, scale: Scale) -> tuple[tuple[StageBox, ...], tuple[RowBox, ...], float]:
    stages: list[StageBox] = []
    rows: list[RowBox] = []
    y = 0.0
    for stage in programme.stages:
        if not stage.rows:
            continue
        stages.append(StageBox(stage.name, y))
        y += STAGE_HEIGHT
        for row in stage.rows:
            rows.append(_row_box(row, y, scale))
            y += ROW_HEIGHT
    return tuple(stages), tuple(rows), y


def _row_box(row: Row, y: float, scale: Scale) -> RowBox:
    filled = None
    if row.state == "under way":
        until = row.start if row.worked_until is None else row.worked_until
        filled = scale.x(min(max(until, row.start), row.finish))
    has_tail = row.float_until is not None and row.float_until > row.finish and row.state != "done"
    return RowBox(
        row=row,
        y=y,
        left=scale.x(row.start),
        right=scale.x(row.finish),
        filled_to=filled,
        tail=scale.x(row.float_until) if has_tail and row.float_until is not None else None,
        opens=scale.x(min(w.opens for w in row.windows)) if row.windows else None,
        dues=_places((w.due for w in row.windows), scale),
        burials=_places((w.buried for w in row.windows), scale),
    )


def _places(instants: Iterable[int], scale: Scale) -> tuple[float, ...]:
    return tuple(scale.x(t) for t in sorted(set(instants)))


def _place_labels(programme: Programme, scale: Scale) -> tuple[Label, ...]:
    holds = sorted(programme.holds, key=lambda hold: hold.at)
    notes = [say_flag(hold) for hold in holds]
    sizes = [
        (
            scale.x(hold.at),
            2 * LEADER_GAP + max(text_width(hold.label, LABEL_SIZE, bold=True), text_width(note, NOTE_SIZE)),
        )
        for hold, note in zip(holds, notes, strict=True)
    ]
    return tuple(
        Label(x, width, lane, hold.label, note, hold)
        for (x, width), lane, hold, note in zip(sizes, stack_labels(sizes), holds, notes, strict=True)
    )


def _months(scale: Scale) -> tuple[Tick, ...]:
    firsts = [scale.start]
    firsts += [t for t in range(scale.start + 2, scale.finish, 2) if as_date(t)[0].day == 1]
    room = text_width("September 2026", LABEL_SIZE, bold=True)
    edges = [*(scale.x(t) for t in firsts[1:]), scale.end]
    return tuple(
        Tick(scale.x(t), t, after - scale.x(t) >= room) for t, after in zip(firsts, edges, strict=True)
    )


def _mondays(scale: Scale) -> tuple[Tick, ...]:
    return tuple(Tick(scale.x(t), t, True) for t in range(scale.start, scale.finish, WEEK))


def _shades(non_working: frozenset[int], scale: Scale) -> tuple[tuple[float, float], ...]:
    """Runs of non-working half-days as (x, width)."""
    runs: list[tuple[float, float]] = []
    first: int | None = None
    for t in range(scale.start, scale.finish + 1):
        shaded = t in non_working and t < scale.finish
        if shaded and first is None:
            first = t
        elif not shaded and first is not None:
            runs.append((scale.x(first), (t - first) * scale.pixels))
            first = None
    return tuple(runs)
