"""A house's stages over calendar weeks as a small SVG: one strip per house, all on the same weeks. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from django.utils.formats import date_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from coordination.clock import as_date, say_day
from coordination.sequence.queries import HoldFact, StageSpan

WEEK = 14
"""Half-days in a week."""

WIDTH = 620
HEIGHT = 54
FOOT = 38
"""Where the bars end and the dates begin."""
BAR_TOP, BAR_HEIGHT = 10, 16
LEAST_LABEL = 58
"""Pixels between two labelled weeks."""


@dataclass(frozen=True)
class Weeks:
    """The weeks that all strips share: Monday mornings from `start` to `finish`."""

    start: int
    finish: int

    def x(self, instant: int) -> float:
        """Place of an instant, kept inside the strip."""
        inside = min(max(instant, self.start), self.finish)
        return round((inside - self.start) / (self.finish - self.start) * WIDTH, 1)

    def mondays(self) -> range:
        """Each Monday morning inside."""
        return range(self.start, self.finish, WEEK)


def choose_weeks(today: int, dates: Iterable[int], before: int = 2, most: int = 26) -> Weeks:
    """From two weeks ago to the last of the dates, at least eight weeks and at most half a year."""
    start = (today // WEEK - before) * WEEK
    last = max(dates, default=start)
    weeks = min(max(-(-(last - start) // WEEK), 8), most)
    return Weeks(start, start + weeks * WEEK)


def draw_strip(
    weeks: Weeks,
    today: int,
    stages: Sequence[tuple[str, StageSpan]],
    holds: Sequence[HoldFact],
    linings: int | None,
) -> SafeString:
    """One house: a bar per stage, filled as far as it is finished, a stroke per hold, a mark for the linings.

    Args:
        stages: name and span, earliest first.
        linings: half-day in which the linings begin, or None.
    """
    told = [
        _("%(stage)s %(from)s to %(to)s")
        % {"stage": name, "from": say_day(span.start), "to": say_day(span.finish - 1)}
        for name, span in stages
    ]
    parts = [_open("; ".join(told) or _("no dates yet"))]
    parts += _label_weeks(weeks)
    for n, (_name, span) in enumerate(stages):
        left, right = weeks.x(span.start), weeks.x(span.finish)
        if right <= left:
            continue
        top = BAR_TOP + (n % 2) * 4
        share = span.done / span.total if span.total else 0
        parts.append(f"<g><title>{escape(told[n])}</title>")
        parts.append(_rect("span", left, top, right - left))
        if share:
            worked = weeks.x(span.start + round((span.finish - span.start) * share))
            parts.append(_rect("worked", left, top, max(worked - left, 0)))
        parts.append("</g>")
    for hold in holds:
        x = weeks.x(hold.last + 1)
        if 0 < x < WIDTH:
            kind = "open" if hold.state == "released" else "held"
            parts.append(
                f"<g><title>{escape(hold.label)}</title>{_line(f'gate gate--{kind}', x, 3, FOOT)}</g>"
            )
    if linings is not None and weeks.start <= linings < weeks.finish:
        x = weeks.x(linings)
        parts.append(f'<path class="linings" d="M{x} 2l6 7h-12zM{x} 8V{FOOT}"/>')
    parts.append(_line("now", weeks.x(today), 0, FOOT + 3))
    return _close(parts)


def _label_weeks(weeks: Weeks) -> list[str]:
    """A line for each Monday, and its date where there is room to read it."""
    parts, taken = [], float(-LEAST_LABEL)
    for monday in weeks.mondays():
        x = weeks.x(monday)
        parts.append(_line("week", x, 0, FOOT))
        if x - taken >= LEAST_LABEL and x <= WIDTH - LEAST_LABEL:
            words = date_format(as_date(monday)[0], _("j M"))
            parts.append(f'<text class="date" x="{x}" y="{HEIGHT - 2}">{escape(words)}</text>')
            taken = x
    return parts


def _open(label: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="week-strip" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}" role="img" aria-label={quoteattr(label)} focusable="false">'
    )


def _line(name: str, x: float, top: float, foot: float) -> str:
    return f'<line class="{name}" x1="{x}" y1="{top}" x2="{x}" y2="{foot}"/>'


def _rect(name: str, x: float, y: float, width: float) -> str:
    return f'<rect class="{name}" x="{x}" y="{y}" width="{round(width, 1)}" height="{BAR_HEIGHT}"/>'


def _close(parts: list[str]) -> SafeString:
    # Every word above went through escape.
    return mark_safe("".join([*parts, "</svg>"]))  # noqa: S308
