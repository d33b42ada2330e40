"""Pockets of the outside wall in plan: behind a closed corner, and where an internal wall meets it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import (
    FLANGE,
    FRAME,
    WEB,
    is_steel,
    lip_of,
    paint_section,
    paint_stud,
)
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Point, Sheet
from coordination.fabric.inputs import require_positive
from coordination.fabric.registry import Input

BOARD = 6.0
RUN = 104.0


def _paint_corner(sheet: Sheet, x: float, y: float, thick: float, width: float) -> Point:
    """Two walls of timber meet; the pocket lies behind the stud that carries the lining. Its middle."""
    sheet.timber(x, y, width, thick)
    sheet.batt(x + width, y, thick - width, thick - width, upright=True, kind="now batt")
    sheet.timber(x + width, y + thick - width, thick - width, width)
    sheet.timber(x + thick, y, width, thick)
    sheet.batt(x + thick + width, y, RUN - thick - width, thick)
    sheet.timber(x, y + thick, thick, width)
    sheet.batt(x, y + thick + width, thick, RUN - thick - width, upright=True)
    return x + width + (thick - width) / 2, y + (thick - width) / 2


def _paint_steel_corner(sheet: Sheet, x: float, y: float, thick: float, scale: float) -> Point:
    """Two walls of steel meet: the hollow of the last stud, closed by the other wall's first. Its middle."""
    flange = FLANGE * scale
    sheet.batt(x + WEB / 2, y, thick - WEB / 2, thick, upright=True, kind="now batt")
    sheet.batt(x + thick, y, RUN - thick, thick)
    sheet.batt(x, y + thick, thick, RUN - thick, upright=True)
    paint_stud(sheet, x, y, thick, scale, "right")
    paint_stud(sheet, x + thick, y, thick, scale, "right")
    paint_section(sheet, x, y + thick, thick, flange, "down", lip_of(scale))
    return x + thick / 2, y + thick / 2


def _paint_junction(
    sheet: Sheet, span: tuple[float, float], y: float, thick: float, width: float, inner: float
) -> Point:
    """An internal wall of timber runs into the outside wall between two studs. Middle of the pocket."""
    (left, right), gap = span, thick
    middle = (left + right) / 2
    for side in (middle - gap / 2 - width, middle + gap / 2):
        sheet.timber(side, y, width, thick)
    sheet.batt(left, y, middle - gap / 2 - width - left, thick)
    sheet.batt(middle + gap / 2 + width, y, right - middle - gap / 2 - width, thick)
    sheet.batt(middle - gap / 2, y, gap, thick - width, kind="now batt")
    sheet.timber(middle - gap / 2, y + thick - width, gap, width)
    sheet.timber(middle - inner / 2, y + thick, inner, width)
    sheet.box(middle - inner / 2, y + thick + width, inner, 62 - width, "soft", 1)
    return middle + gap / 4, y + (thick - width) / 2


def _paint_steel_junction(
    sheet: Sheet, span: tuple[float, float], y: float, thick: float, scale: float, inner: float
) -> Point:
    """The same of steel: the pocket runs from web to web and into the hollow of the stud that is met."""
    (left, right), gap, flange = span, thick, FLANGE * scale
    middle = (left + right) / 2
    sheet.batt(left, y, middle - gap / 2 - left, thick)
    sheet.batt(middle + gap / 2, y, right - middle - gap / 2, thick)
    sheet.batt(middle - gap / 2, y, gap, thick, kind="now batt")
    paint_stud(sheet, middle - gap / 2, y, thick, scale, "left")
    paint_stud(sheet, middle + gap / 2, y, thick, scale, "right")
    paint_section(
        sheet, middle - gap / 2 + WEB, y + thick - flange, gap - 2 * WEB, flange, "up", lip_of(scale)
    )
    sheet.box(middle - inner / 2, y + thick, inner, 62, "soft", 1)
    paint_section(sheet, middle - inner / 2, y + thick + WEB, inner, flange, "down", lip_of(scale))
    return middle + gap / 4, y + (thick - flange) / 2


def _paint_pockets(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, stud = n["depth"], n["stud"]
    # Corner and junction stand side by side; a deeper wall is drawn smaller, not wider.
    scale = min(0.5, 45 / require_positive("depth", depth))
    thick, width, inner = depth * scale, stud * scale, n["inner"] * scale

    x, y = MARGIN + 14, 34.0
    sheet.path(f"M{x + RUN:.1f} {y:.1f}H{x:.1f}V{y + RUN:.1f}", "wrap ink", 2, "7 3")
    if is_steel(n):
        pocket = _paint_steel_corner(sheet, x, y, thick, scale)
    else:
        pocket = _paint_corner(sheet, x, y, thick, width)
    sheet.board(x + thick + BOARD, y + thick, RUN - thick - BOARD, BOARD)
    sheet.board(x + thick, y + thick, BOARD, RUN - thick)
    sheet.number(1, x + RUN - 18, y + RUN - 14, pocket)
    sheet.words(x, y + RUN + 24, words["corner"], bold=True)

    left, right = x + RUN + 24, WIDTH - MARGIN
    sheet.line((left, y), (right, y), "wrap ink", 2, "7 3")
    if is_steel(n):
        pocket = _paint_steel_junction(sheet, (left, right), y, thick, scale, inner)
    else:
        pocket = _paint_junction(sheet, (left, right), y, thick, width, inner)
    middle = (left + right) / 2
    for start, stop in ((left, middle - inner / 2), (middle + inner / 2, right)):
        sheet.board(start, y + thick, stop - start, BOARD)
    for side in (middle - inner / 2 - BOARD, middle + inner / 2):
        sheet.board(side, y + thick + BOARD, BOARD, 62 - BOARD)
    sheet.number(2, right - 14, y + 86, pocket)
    sheet.words(left, y + 128, words["junction"], bold=True)

    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.floor = y + 134
    sheet.note(1, words["fill_corner"])
    sheet.note(2, words["fill_junction"])
    sheet.note(3, words["when"])


POCKETS = Drawing(
    name="pockets",
    inputs=(
        Input("depth", "mm", "depth of the stud", 90),
        Input("stud", "mm", "thickness of the stud, of steel at its web", 45),
        Input("inner", "mm", "depth of the internal wall's stud", 70),
        FRAME,
    ),
    labels={
        "title": "Corner and junction pockets in plan, to scale",
        "says": "The pocket behind the corner studs and the one where an internal wall meets the outside "
        "wall, both filled before the wrap.",
        "says_steel": "C-sections of steel: the hollow of the corner stud and the pocket where an internal "
        "wall meets the outside wall, both filled before the wrap.",
        "outside": "outside: wrap",
        "corner": "Corner",
        "junction": "Junction",
        "fill_corner": "Pocket of the corner: cut a piece to fill it, dry, not stuffed",
        "fill_corner_steel": "Hollow of the corner's last stud: cut a piece to fill it from web to web, dry, "
        "not stuffed",
        "fill_junction": "Pocket behind the internal wall: the same",
        "fill_junction_steel": "Pocket behind the internal wall, into the hollow of the section: the same. "
        "Nested studs are filled before they close",
        "when": "Photograph each before the wrap closes it; count them against the plan",
    },
    paint=_paint_pockets,
)
