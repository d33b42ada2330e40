"""The wall in plan, cut level: stud bays with cable or pipe, pockets, the wall behind the switchboard."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric import fill
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input

DEEPEST = 110.0
DEPTH = Input("depth", "mm", "depth of the stud", 90)
CENTRES = Input("centres", "mm", "spacing of the studs", 600)
STUD = Input("stud", "mm", "thickness of the stud", 45)


def _paint_bay(
    sheet: Sheet, y: float, scale: float, n: Mapping[str, Any], outside: float = 16
) -> tuple[float, float]:
    """Two studs with wrap outside (above) and lining inside (below); returns the bay's left and right."""
    stud, depth, centres = n["stud"] * scale, n["depth"] * scale, n["centres"] * scale
    x0 = MARGIN + 10
    reach = (x0 - 10, x0 + centres + stud + 10)
    sheet.line((reach[0], y), (reach[1], y), "wrap ink", 2, "7 3")
    sheet.timber(x0, y, stud, depth)
    sheet.timber(x0 + centres, y, stud, depth)
    sheet.board(reach[0], y + depth, reach[1] - reach[0], max(4.0, 10 * scale))
    return x0 + stud, x0 + centres


def _scale(n: Mapping[str, Any]) -> float:
    width: float = fill.clear_bay(n["centres"], n["stud"]) + 2 * n["stud"]
    deepest = DEEPEST / require_positive("depth", n["depth"])
    return min((WIDTH - 2 * MARGIN - 20 - 34) / width, deepest)


def _paint_stud_bay(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    clear = fill.clear_bay(n["centres"], n["stud"])
    cable, depth = n["cable"], n["depth"]
    if cable >= depth / 2:
        raise FabricError(
            "cable", f"{show(cable)} mm is no cable in a {show(depth)} mm stud; give its diameter"
        )
    words.know(clear=clear, left=depth - cable)
    scale = _scale(n)
    thick, size = depth * scale, cable * scale

    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    y = 62.0
    sheet.verdict(MARGIN, 42, True, words["right"])
    left, right = _paint_bay(sheet, y, scale, n)
    sheet.batt(left, y, right - left, thick)
    sheet.ring(left + size / 2 + 1, y + size / 2 + 1, size / 2, "now ink", 1.4, tint=0.35)
    sheet.across(left, right, y + thick + 26, words["clear"], below=True, upto=y + thick + 8)
    sheet.upright(right + n["stud"] * scale + 16, y, y + thick, words["depth"])
    sheet.number(1, left + 44, y - 22, (left + size / 2 + 1, y + size / 2 + 1))
    sheet.number(2, (left + right) / 2, y + thick / 2)

    y2 = y + thick + 92
    sheet.verdict(MARGIN, y2 - 20, False, words["wrong"])
    left, right = _paint_bay(sheet, y2, scale, n)
    middle, half = (left + right) / 2, min(max(20.0, 3 * size), (right - left) / 7)
    pinch = thick - size * 1.6
    points = [(left, y2, thick), (middle - 3 * half, y2, thick), (middle - half / 2, y2, pinch)]
    points += [(middle + half / 2, y2, pinch), (middle + 3 * half, y2, thick), (right, y2, thick)]
    sheet.taper(points)
    sheet.ring(middle, y2 + thick - size / 2 - 1, size / 2, "held ink", 1.4, tint=0.35)
    sheet.number(3, middle + 50, y2 - 22, (middle + 2, y2 + thick - size))
    sheet.words(MARGIN, y2 + thick + 26, words["inside"], kind="soft")
    sheet.floor = y2 + thick + 30
    sheet.note(1, words["back"])
    sheet.note(2, words["batt"])
    sheet.note(3, words["middle"])


STUD_BAY = Drawing(
    name="stud_bay",
    inputs=(CENTRES, STUD, DEPTH, Input("cable", "mm", "diameter of the cable", 12)),
    labels={
        "title": "Stud bay in plan, to scale",
        "says": "Two studs seen from above, wrap outside, lining inside. First with the cable at the back "
        "of the "
        "stud, then the wrong way with the cable in front.",
        "outside": "outside: wrap, then cladding or brick",
        "inside": "inside: plasterboard",
        "right": "So",
        "wrong": "Not so",
        "clear": "{clear} clear",
        "depth": "{depth}",
        "back": "Cable clipped to the back of the stud, where the electrician agrees; his rules decide",
        "batt": "Batt flush with the stud's face, {depth} mm, whole",
        "middle": "Cable in front: the batt cannot fill its {depth} mm and air moves behind the lining",
    },
    paint=_paint_stud_bay,
)


def _paint_pipe(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    pipe, lagging, depth = n["pipe"], n["lagging"], n["depth"]
    whole = require_positive("pipe", pipe) + 2 * lagging
    if lagging < 0 or whole > depth - 20:
        raise FabricError(
            "pipe",
            f"{show(whole)} mm over the lagging leaves no batt in {show(depth)} mm; move it out of the wall",
        )
    words.know(whole=whole, behind=depth - whole)
    scale = _scale(n)
    thick, size = depth * scale, whole * scale
    y = 44.0
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    left, right = _paint_bay(sheet, y, scale, n)
    middle = (left + right) / 2
    inner = y + thick
    behind = thick - size
    sheet.batt(left, y, right - left, behind)
    sheet.batt(left, y + behind, middle - size / 2 - left, size)
    sheet.batt(middle + size / 2, y + behind, right - middle - size / 2, size)
    sheet.ring(middle, inner - size / 2, size / 2, "soft", 1, tint=0.12)
    sheet.ring(middle, inner - size / 2, pipe * scale / 2, "now ink", 1.6)
    sheet.upright(right + n["stud"] * scale + 16, y, y + behind, words["behind"])
    sheet.number(1, middle, inner + 34, (middle, inner - size / 2 + pipe * scale / 2))
    sheet.number(2, left + 40, inner + 34, (left + 40, y + behind / 2))
    sheet.number(3, right - 40, inner + 34, (right - 40, y + behind + size / 2))
    sheet.words(MARGIN, inner + 68, words["inside"], kind="soft")
    sheet.floor = inner + 72
    sheet.note(1, words["pipe"])
    sheet.note(2, words["back"])
    sheet.note(3, words["front"])


PIPE_SPLIT = Drawing(
    name="pipe_split",
    inputs=(
        CENTRES,
        STUD,
        DEPTH,
        Input("pipe", "mm", "outer diameter of the pipe", 20),
        Input("lagging", "mm", "thickness of the lagging", 13),
    ),
    labels={
        "title": "Pipe in an outside wall in plan, to scale",
        "says": "The batt is split: one layer runs behind the pipe, the other stops at both sides of it.",
        "outside": "outside: wrap",
        "inside": "inside: plasterboard",
        "behind": "{behind}",
        "pipe": "Pipe {pipe} mm on the warm side, lagged to {whole} mm, clips included",
        "back": "Back half of the batt, {behind} mm, whole behind the pipe",
        "front": "Front half cut to both sides of it: never squeezed over the pipe",
    },
    paint=_paint_pipe,
)


def _paint_pockets(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, stud = n["depth"], n["stud"]
    # Corner and junction stand side by side; a deeper wall is drawn smaller, not wider.
    scale = min(0.5, 45 / require_positive("depth", depth))
    thick, width = depth * scale, stud * scale
    board = 6.0

    # External corner: two walls meet; the pocket lies behind the stud that carries the lining.
    x, y = MARGIN + 14, 34.0
    run = 104.0
    sheet.path(f"M{x + run:.1f} {y:.1f}H{x:.1f}V{y + run:.1f}", "wrap ink", 2, "7 3")
    sheet.timber(x, y, width, thick)
    sheet.batt(x + width, y, thick - width, thick - width, upright=True, kind="now batt")
    sheet.timber(x + width, y + thick - width, thick - width, width)
    sheet.timber(x + thick, y, width, thick)
    sheet.batt(x + thick + width, y, run - thick - width, thick)
    sheet.timber(x, y + thick, thick, width)
    sheet.batt(x, y + thick + width, thick, run - thick - width, upright=True)
    sheet.board(x + thick + board, y + thick, run - thick - board, board)
    sheet.board(x + thick, y + thick, board, run - thick)
    pocket = (x + width + (thick - width) / 2, y + (thick - width) / 2)
    sheet.number(1, x + run - 18, y + run - 14, pocket)
    sheet.words(x, y + run + 24, words["corner"], bold=True)

    # Junction: an internal wall runs into the outside wall between two studs.
    tx = x + run + 24
    run = WIDTH - MARGIN - tx
    sheet.line((tx, y), (tx + run, y), "wrap ink", 2, "7 3")
    middle = tx + run / 2
    gap = thick
    for side in (middle - gap / 2 - width, middle + gap / 2):
        sheet.timber(side, y, width, thick)
    sheet.batt(tx, y, middle - gap / 2 - width - tx, thick)
    sheet.batt(middle + gap / 2 + width, y, tx + run - middle - gap / 2 - width, thick)
    sheet.batt(middle - gap / 2, y, gap, thick - width, kind="now batt")
    sheet.timber(middle - gap / 2, y + thick - width, gap, width)
    inner = n["inner"] * scale
    sheet.timber(middle - inner / 2, y + thick, inner, width)
    sheet.box(middle - inner / 2, y + thick + width, inner, 62 - width, "soft", 1)
    for left, right in ((tx, middle - inner / 2), (middle + inner / 2, tx + run)):
        sheet.board(left, y + thick, right - left, board)
    for side in (middle - inner / 2 - board, middle + inner / 2):
        sheet.board(side, y + thick + board, board, 62 - board)
    sheet.number(2, tx + run - 14, y + 86, (middle + gap / 4, y + (thick - width) / 2))
    sheet.words(tx, y + 128, words["junction"], bold=True)

    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.floor = y + 134
    sheet.note(1, words["fill_corner"])
    sheet.note(2, words["fill_junction"])
    sheet.note(3, words["when"])


POCKETS = Drawing(
    name="pockets",
    inputs=(DEPTH, STUD, Input("inner", "mm", "depth of the internal wall's stud", 70)),
    labels={
        "title": "Corner and junction pockets in plan, to scale",
        "says": "The pocket behind the corner studs and the one where an internal wall meets the outside "
        "wall, "
        "both filled before the wrap.",
        "outside": "outside: wrap",
        "corner": "Corner",
        "junction": "Junction",
        "fill_corner": "Pocket of the corner: cut a piece to fill it, dry, not stuffed",
        "fill_junction": "Pocket behind the internal wall: the same",
        "when": "Photograph each before the wrap closes it; count them against the plan",
    },
    paint=_paint_pockets,
)
