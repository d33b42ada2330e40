"""Draws a laid-out programme as two SVG pictures with one x axis: the head (dates, flags) and the plot.

Only classes and presentation attributes: the content security policy admits no style attributes. Every text
is escaped here; the results are marked safe for templates. programme.css names the pens.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from django.utils.dates import MONTHS
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from coordination.clock import as_date, say_day
from coordination.planner.programme import HoldMark
from coordination.planner.programme_table import tell_hold, tell_row
from coordination.planner.timeline import (
    BAR_HEIGHT,
    BAR_TOP,
    BRACKET_TOP,
    DATE_BAND,
    HEAD_FOOT,
    HOLD_WIDTH,
    LANE_HEIGHT,
    LEADER_GAP,
    MONTH_BAND,
    NOTE_SIZE,
    ROW_HEIGHT,
    STAGE_HEIGHT,
    Label,
    Layout,
    RowBox,
    text_width,
)

CAP = 11
"""Half the width of a hold's closing stroke."""


def draw_head(layout: Layout) -> SafeString:
    """The head: months, dates, one flag for each hold and for today, its leader running down to the plot."""
    parts = [_open_svg("programme__head", layout.width, layout.head_height)]
    for tick in layout.months:
        parts.append(_line("grid grid--month", tick.x, 4, tick.x, MONTH_BAND + DATE_BAND))
        if tick.labelled:
            day = as_date(tick.instant)[0]
            words = say_day(tick.instant) if layout.days else f"{MONTHS[day.month]} {day.year}"
            parts.append(_text("month", tick.x + 5, 19, words))
    for tick in layout.weeks:
        parts.append(_line("grid grid--week", tick.x, MONTH_BAND, tick.x, layout.head_height))
        if tick.labelled:
            parts.append(
                _text("date date--monday", tick.x + 4, MONTH_BAND + 17, as_date(tick.instant)[0].day)
            )
    for tick in layout.days:
        if tick.labelled:
            parts.append(_text("date", tick.x + 2, MONTH_BAND + 17, as_date(tick.instant)[0].day))
    if layout.today is not None:
        parts.extend(_today(layout, layout.today))
    for label in layout.labels:
        parts.extend(_flag(label, layout))
    parts.append("</svg>")
    return _safe(parts)


def draw_plot(layout: Layout) -> SafeString:
    """The plot: shaded days, grid, holds across all rows, then windows, bars and tails; today on top."""
    height = layout.plot_height
    parts = [_open_svg("programme__plot", layout.width, height), _hatch()]
    parts += [_rect("shade", x, 0, width, height) for x, width in layout.shades]
    parts += [_line("grid grid--day", tick.x, 0, tick.x, height) for tick in layout.days]
    parts += [_line("grid grid--week", tick.x, 0, tick.x, height) for tick in layout.weeks]
    for stage in layout.stages:
        parts.append(_rect("stage", 0, stage.y, layout.width, STAGE_HEIGHT))
    for box in layout.rows:
        parts.append(_line("rule", 0, box.y + ROW_HEIGHT, layout.width, box.y + ROW_HEIGHT))
    for x, hold in layout.holds:
        parts.append(_hold(x, hold, height))
    for box in layout.rows:
        parts.append(_row(box, layout.width))
    if layout.today is not None:
        parts.append(_line("now", layout.today, 0, layout.today, height))
    parts.append("</svg>")
    return _safe(parts)


def _today(layout: Layout, x: float) -> list[str]:
    """Today's word in a band of its own and its line, which the flags of the holds may cover."""
    words, y = _("today"), MONTH_BAND + DATE_BAND
    left = min(x + LEADER_GAP, layout.width - text_width(words, NOTE_SIZE, bold=True))
    return [
        _line("now", x, y, x, layout.head_height),
        _path("now-mark", f"M{_n(x - 5)} {_n(y)}h10l-5 8z"),
        _text("now-words", left, y + 14, words),
    ]


def _flag(label: Label, layout: Layout) -> list[str]:
    top = layout.lane_top(label.lane)
    foot = layout.head_height
    hold = label.hold
    parts = [
        f'<g class="flag flag--{_kind(hold)}">',
        f"<title>{escape(tell_hold(hold))}</title>",
        _rect("flag__ground", label.x + 1, top, label.width - 1, LANE_HEIGHT - 2),
        _line("flag__leader", label.x, top + 2, label.x, foot),
        _text("flag__words", label.x + LEADER_GAP, top + 15, label.words),
        _text("flag__note", label.x + LEADER_GAP, top + 31, label.note) if label.note else "",
    ]
    parts += [_caps(label.x, foot - HEAD_FOOT / 2, hold.state, "down"), "</g>"]
    if hold.link:
        return [f'<a href={quoteattr(hold.link)} tabindex="-1">', *parts, "</a>"]
    return parts


def _hold(x: float, hold: HoldMark, height: float) -> str:
    if hold.state == "released":
        body = _line("hold__thread", x, 6, x, height - 6)
    elif hold.state == "set aside":
        body = _line("hold__broken", x, 0, x, height)
    else:
        fill = "none" if hold.state == "not ready" else "url(#hold-hatch)"
        body = _rect("hold__body", x - HOLD_WIDTH / 2, 0, HOLD_WIDTH, height, fill)
    title = f"<title>{escape(tell_hold(hold))}</title>"
    caps = _caps(x, height - 3, hold.state, "up")
    return f'<g class="hold-mark hold-mark--{_kind(hold)}">{title}{body}{caps}</g>'


def _caps(x: float, y: float, state: str, towards: str) -> str:
    """The strokes at one end of a hold: whole while closed, parted when released, doubled when re-opened."""
    if state == "set aside":
        return ""
    if state == "released":
        return _path("cap cap--open", f"M{_n(x - CAP)} {_n(y)}h6M{_n(x + CAP - 6)} {_n(y)}h6")
    strokes = f"M{_n(x - CAP)} {_n(y)}h{2 * CAP}"
    if state == "re-opened":
        strokes += f"M{_n(x - CAP)} {_n(y + (-6 if towards == 'down' else -7))}h{2 * CAP}"
    return _path("cap", strokes)


def _row(box: RowBox, width: float) -> str:
    row = box.row
    parts = [
        f'<a href={quoteattr(row.href)} tabindex="-1"><g class="row row--{_slug(row.state or "planned")}">',
        f"<title>{escape(tell_row(row))}</title>",
        _rect("hit", 0, box.y, width, ROW_HEIGHT),
    ]
    if box.opens is not None:
        parts.append(_bracket(box, box.opens))
    if box.tail is not None:
        y = box.middle
        parts.append(_path("tail", f"M{_n(box.right)} {_n(y)}H{_n(box.tail)}m0 -4v8"))
    parts.append(_point(box) if row.start == row.finish else _bar(box))
    parts.append("</g></a>")
    return "".join(parts)


def _bracket(box: RowBox, opens: float) -> str:
    """From where the details can first be done to where they are buried; each closing edge is heavy."""
    y = box.y + BRACKET_TOP
    end = max(opens, *box.burials)
    thin = f"M{_n(opens)} {_n(y + 6)}V{_n(y)}H{_n(end)}"
    dues = "".join(f"M{_n(x - 4)} {_n(y - 3)}h8l-4 6z" for x in box.dues)
    edges = "".join(f"M{_n(x)} {_n(y - 4)}v{BAR_HEIGHT + 17}" for x in box.burials)
    kind = "window-mark window-mark--turned" if any(w.inverted for w in box.row.windows) else "window-mark"
    return f'<g class="{kind}">{_path("thin", thin)}{_path("due", dues)}{_path("edge", edges)}</g>'


def _bar(box: RowBox) -> str:
    row, top = box.row, box.y + BAR_TOP
    # A stroke of 2 px lies inside the box, so that neighbouring bars touch and do not overlap.
    short = " bar--short" if box.right - box.left < 18 else ""
    inner = _rect(f"bar{short}", box.left + 1, top + 1, max(box.right - box.left - 2, 1), BAR_HEIGHT - 2)
    if row.state == "under way" and box.filled_to is not None:
        return inner + _rect("worked", box.left, top, box.filled_to - box.left, BAR_HEIGHT)
    if row.state == "done":
        return inner + _tick(box)
    if row.state in {"declined", "stood down"}:
        return inner + _path("struck", f"M{_n(box.left - 3)} {_n(box.middle)}H{_n(box.right + 3)}")
    return inner


def _tick(box: RowBox) -> str:
    room = box.right - box.left
    x = box.right - 15 if room >= 18 else box.right + 4
    return _path("tick", f"M{_n(x)} {_n(box.middle)}l4 4l7 -8")


def _point(box: RowBox) -> str:
    """A point without duration: a diamond on its instant, filled when done."""
    x, y = box.left, box.middle
    return _path("bar", f"M{_n(x)} {_n(y - 8)}l8 8l-8 8l-8 -8z")


def _kind(hold: HoldMark) -> str:
    return _slug(hold.state)


def _slug(words: str) -> str:
    return words.replace(" ", "-")


def _hatch() -> str:
    return (
        '<defs><pattern id="hold-hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="7"/></pattern></defs>'
    )


def _open_svg(name: str, width: float, height: float) -> str:
    w, h = _n(width), _n(height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{name}" width="{w}" height="{h}" '
        f'viewBox="0 0 {w} {h}" aria-hidden="true" focusable="false">'
    )


def _line(name: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line class="{name}" x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"/>'


def _rect(name: str, x: float, y: float, width: float, height: float, fill: str = "") -> str:
    painted = f' fill="{fill}"' if fill else ""
    return (
        f'<rect class="{name}" x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"{painted}/>'
    )


def _path(name: str, d: str) -> str:
    return f'<path class="{name}" d="{d}"/>'


def _text(name: str, x: float, y: float, words: object) -> str:
    return f'<text class="{name}" x="{_n(x)}" y="{_n(y)}">{escape(str(words))}</text>'


def _n(value: float) -> str:
    """A coordinate without needless digits."""
    return f"{value:.1f}".removesuffix(".0")


def _safe(parts: list[str]) -> SafeString:
    # Every word and address above went through escape or quoteattr.
    return mark_safe("".join(parts))  # noqa: S308
