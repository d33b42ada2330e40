"""A sheet of drawing paper: marks in the drafting manner, numbered notes below, one SVG out.

Coordinates are units of the view box, 280 wide; y grows downwards. Text is 14 of them, so that it is read
at 14 px on a screen 320 px wide and at 18 px, as all text of the field pages, on one of 390. Colour is
the stylesheet's: marks carry classes, and where no stylesheet is at hand they take the colour of the text
around them (`currentColor`), in print and on dark ground too. No ids, so that any number of drawings can
share a page.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from html import escape
from itertools import pairwise
from typing import Literal

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

WIDTH = 280.0
MARGIN = 12.0
TEXT = 14.0
LINE_HEIGHT = 18.0
NUMBER_RADIUS = 9.5
# Mean width of a letter of a sans-serif face as a share of its size, on the safe side.
LETTER = 0.57
KEPT_TOGETHER = re.compile(r"(?<=\d) (?=(?:mm|m²|pieces)\b)")
NO_BREAK = "\u00a0"


def place(value: float) -> str:
    """A coordinate with at most one decimal and never a minus zero."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def wrap_words(words: str, room: float) -> list[str]:
    """Break `words` into lines no wider than `room`; a number keeps its unit beside it."""
    most = max(1, int(room / (TEXT * LETTER)))
    lines = [""]
    for word in KEPT_TOGETHER.sub(NO_BREAK, words).split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) > most and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


class Sheet:
    """Collects marks; `floor` is the lowest line of the drawing, below which the notes begin."""

    def __init__(self) -> None:
        self.floor = 0.0
        self._marks: list[str] = []
        self._notes: list[tuple[int, str]] = []

    # Lines and areas

    def path(
        self,
        d: str,
        kind: str = "ink",
        weight: float = 1.2,
        dash: str = "",
        tint: float = 0,
        faint: float = 1,
    ) -> None:
        """A path by its SVG description; `tint` fills it lightly, `faint` thins its line."""
        fill = f'fill="currentColor" fill-opacity="{tint:g}"' if tint else 'fill="none"'
        stroke = f'stroke="currentColor" stroke-width="{weight:g}"' if weight else 'stroke="none"'
        more = f' stroke-dasharray="{dash}"' if dash else ""
        more += f' stroke-opacity="{faint:g}"' if faint < 1 else ""
        self._marks.append(f'<path class="{kind}" d="{d}" {fill} {stroke}{more}/>')

    def line(
        self, a: Point, b: Point, kind: str = "ink", weight: float = 1.2, dash: str = "", faint: float = 1
    ) -> None:
        """A straight line."""
        self.path(f"M{place(a[0])} {place(a[1])}L{place(b[0])} {place(b[1])}", kind, weight, dash, 0, faint)

    def outline(
        self, points: Sequence[Point], kind: str = "ink", weight: float = 1.2, dash: str = "", tint: float = 0
    ) -> None:
        """A closed outline through `points`."""
        d = "L".join(f"{place(x)} {place(y)}" for x, y in points)
        self.path(f"M{d}Z", kind, weight, dash, tint)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        kind: str = "ink",
        weight: float = 1.2,
        dash: str = "",
        tint: float = 0,
    ) -> None:
        """A rectangle from its upper left corner."""
        right, lower = x + width, y + height
        self.outline([(x, y), (right, y), (right, lower), (x, lower)], kind, weight, dash, tint)

    def ring(
        self, x: float, y: float, radius: float, kind: str = "ink", weight: float = 1.2, tint: float = 0
    ) -> None:
        """A circle: a pipe or a cable in section."""
        fill = f'fill="currentColor" fill-opacity="{tint:g}"' if tint else 'fill="none"'
        self._marks.append(
            f'<circle class="{kind}" cx="{place(x)}" cy="{place(y)}" r="{place(radius)}" {fill} '
            f'stroke="currentColor" stroke-width="{weight:g}"/>'
        )

    # Materials in section

    def timber(self, x: float, y: float, width: float, height: float) -> None:
        """Sawn timber cut across: a crossed box."""
        self.box(x, y, width, height, tint=0.1)
        right, lower = x + width, y + height
        self.path(
            f"M{place(x)} {place(y)}L{place(right)} {place(lower)}"
            f"M{place(right)} {place(y)}L{place(x)} {place(lower)}",
            "ink",
            0.8,
            faint=0.7,
        )

    def board(self, x: float, y: float, width: float, height: float) -> None:
        """A sheet of plasterboard, flooring or a deck."""
        self.box(x, y, width, height, "board ink", 1, tint=0.28)

    def brick(self, x: float, y: float, width: float, height: float) -> None:
        """Masonry cut across: slanting hatch."""
        self.box(x, y, width, height, "soft", 1.2)
        step, d = 8.0, ""
        start = -height
        while start < width:
            left, right = max(0.0, start), min(width, start + height)
            if right > left:
                d += f"M{place(x + left)} {place(y + height - (left - start))}"
                d += f"L{place(x + right)} {place(y + height - (right - start))}"
            start += step
        self.path(d, "soft", 0.7, faint=0.7)

    def batt(
        self, x: float, y: float, width: float, height: float, upright: bool = False, kind: str = "batt"
    ) -> None:
        """Insulation: an outlined box with the soft wave across its thickness.

        The wave runs along x between upper and lower face, or, `upright`, along y between left and right.
        """
        if width <= 0 or height <= 0:
            return
        self.box(x, y, width, height, f"{kind} pencil", 1.2, tint=0.04)
        self._wave([(x, y, height), (x + width, y, height)] if not upright else [], kind)
        if upright:
            self._upright_wave(x, y, width, height, kind)

    def soften(self, x: float, y: float, width: float, height: float) -> None:
        """The soft wave alone, for insulation whose outline is drawn by hand."""
        self._wave([(x, y, height), (x + width, y, height)], "batt")

    def taper(self, points: Sequence[tuple[float, float, float]], kind: str = "batt") -> None:
        """Insulation of changing thickness: upper face through (x, y, thickness), lower face level below "
        "it."""
        upper = [(x, y) for x, y, _ in points]
        lower = [(x, y + thick) for x, y, thick in reversed(points)]
        self.outline([*upper, *lower], f"{kind} pencil", 1.2, tint=0.04)
        self._wave(points, kind)

    def _wave(self, points: Sequence[tuple[float, float, float]], kind: str) -> None:
        if len(points) < 2:
            return
        first, last = points[0][0], points[-1][0]
        thick = max(point[2] for point in points)
        count = max(2, round((last - first) / max(5.0, thick * 0.22)))
        d, before = "", 0.0
        for i in range(count + 1):
            x = first + (last - first) * i / count
            upper, height = _between(points, x)
            y = upper + (0.06 if i % 2 else 0.94) * height
            if i == 0:
                d = f"M{place(x)} {place(y)}"
            else:
                middle = place(x - (last - first) / count / 2)
                d += f"C{middle} {place(before)} {middle} {place(y)} {place(x)} {place(y)}"
            before = y
        self.path(d, f"{kind} pencil", 0.8, faint=0.6)

    def _upright_wave(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        count = max(2, round(height / max(5.0, width * 0.22)))
        left, right = x + 0.06 * width, x + 0.94 * width
        d, before = f"M{place(left)} {place(y)}", left
        for i in range(1, count + 1):
            across = right if i % 2 else left
            down = y + height * i / count
            middle = place(down - height / count / 2)
            d += f"C{place(before)} {middle} {place(across)} {middle} {place(across)} {place(down)}"
            before = across
        self.path(d, f"{kind} pencil", 0.8, faint=0.6)

    # Words and measures

    def words(
        self, x: float, y: float, text: str, anchor: Anchor = "start", bold: bool = False, kind: str = ""
    ) -> None:
        """A line of text with its baseline at y."""
        weight = ' font-weight="650"' if bold else ""
        pen = f' class="{kind}"' if kind else ""
        self._marks.append(
            f'<text{pen} x="{place(x)}" y="{place(y)}" text-anchor="{anchor}" '
            f'fill="currentColor"{weight}>{escape(text)}</text>'
        )

    def across(
        self, x1: float, x2: float, y: float, text: str, below: bool = False, upto: float | None = None
    ) -> None:
        """A level dimension line with slanting ticks, its figure above it, or below.

        `upto`: y from which extension lines come down to the dimension line.
        """
        if upto is not None:
            for x in (x1, x2):
                self.line((x, upto), (x, y + (4 if y > upto else -4)), "dim soft", 0.7)
        self.line((x1, y), (x2, y), "dim ink", 1)
        for x in (x1, x2):
            self.line((x - 4, y + 4), (x + 4, y - 4), "dim ink", 1.6)
        self.words((x1 + x2) / 2, y + (18 if below else -7), text, "middle", bold=True)

    def upright(self, x: float, y1: float, y2: float, text: str = "", left: bool = False) -> None:
        """An upright dimension line with slanting ticks, its figure beside it (level, so that it reads)."""
        self.line((x, y1), (x, y2), "dim ink", 1)
        for y in (y1, y2):
            self.line((x - 4, y + 4), (x + 4, y - 4), "dim ink", 1.6)
        if text:
            middle = (y1 + y2) / 2 + TEXT * 0.35
            self.words(x + (-6 if left else 6), middle, text, "end" if left else "start", bold=True)

    def arrow(self, a: Point, b: Point, kind: str = "ink", weight: float = 1.6) -> None:
        """An arrow from a to b: air, or a push."""
        self.line(a, b, kind, weight)
        angle = math.atan2(b[1] - a[1], b[0] - a[0])
        for turn in (2.6, -2.6):
            self.line(b, (b[0] + 7 * math.cos(angle + turn), b[1] + 7 * math.sin(angle + turn)), kind, weight)

    def number(self, n: int, x: float, y: float, to: Point | None = None) -> None:
        """The ringed number of a note, with a leader to the thing that it means."""
        if to is not None:
            gone = math.dist((x, y), to) or 1
            start = (x + (to[0] - x) * NUMBER_RADIUS / gone, y + (to[1] - y) * NUMBER_RADIUS / gone)
            self.line(start, to, "lead ink", 0.8)
            self._marks.append(
                f'<circle class="lead ink" cx="{place(to[0])}" cy="{place(to[1])}" r="1.8" '
                'fill="currentColor"/>'
            )
        self._marks.append(
            f'<circle class="paper ink" cx="{place(x)}" cy="{place(y)}" r="{NUMBER_RADIUS:g}" fill="none" '
            'stroke="currentColor" stroke-width="1.2"/>'
        )
        self.words(x, y + 5, str(n), "middle", bold=True)

    def verdict(self, x: float, y: float, good: bool, text: str) -> None:
        """The word over a drawing that shows the right or the wrong way, with a tick or a cross."""
        kind = "open" if good else "held"
        if good:
            self.path(f"M{place(x)} {place(y - 5)}l4 5 7 -10", f"{kind} ink", 2.2)
        else:
            self.path(f"M{place(x)} {place(y - 10)}l10 10m0 -10l-10 10", f"{kind} ink", 2.2)
        self.words(x + 17, y, text, bold=True, kind=f"{kind} ink")

    def note(self, n: int, text: str) -> None:
        """A numbered note below the drawing."""
        self._notes.append((n, text))

    # The finished drawing

    def finish(self, title: str, description: str) -> str:
        """The SVG: title and description as text alternative, marks, notes."""
        y = self.floor + 12
        if self._notes:
            self.line((MARGIN, y), (WIDTH - MARGIN, y), "rule soft", 0.8, faint=0.6)
            y += 8
        for n, text in self._notes:
            y += 6
            self.number(n, MARGIN + NUMBER_RADIUS, y + 7.5)
            for row in wrap_words(text, WIDTH - 2 * MARGIN - 28):
                y += LINE_HEIGHT
                self.words(MARGIN + 28, y - 4.5, row)
        height = math.ceil(y + 8)
        spoken = " ".join([f"{title}.", description, *(f"{n}: {text}." for n, text in self._notes)])
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="to-scale" role="img" '
            f'viewBox="0 0 {WIDTH:g} {height}" aria-label="{escape(spoken)}" '
            f'font-family="system-ui, sans-serif" font-size="{TEXT:g}" '
            'stroke-linejoin="round" stroke-linecap="round">'
            f"<title>{escape(title)}</title><desc>{escape(spoken)}</desc>{''.join(self._marks)}</svg>"
        )


def _between(points: Sequence[tuple[float, float, float]], x: float) -> tuple[float, float]:
    """Upper face and thickness at x on a line of (x, y, thickness)."""
    for a, b in pairwise(points):
        if x <= b[0] or b is points[-1]:
            share = (x - a[0]) / (b[0] - a[0]) if b[0] > a[0] else 0.0
            return a[1] + (b[1] - a[1]) * share, a[2] + (b[2] - a[2]) * share
    return points[-1][1], points[-1][2]
