"""A filled wall that is not part of the outside: a bay in plan with rooms on both sides, no cold back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.fabric import fill
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FLANGE, FRAME, WEB, is_steel, paint_stud
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.drawings.walls import CENTRES, DEEPEST, DEPTH, STUD
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input, choice

BOARD = 10.0


def _paint_inner_bay(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, pipe = require_positive("depth", n["depth"]), require_positive("pipe", n["pipe"])
    if pipe > depth - 10:
        raise FabricError("pipe", f"{show(pipe)} mm does not go into a stud of {show(depth)} mm; check both")
    clear = fill.clear_bay(n["centres"], n["stud"])
    words.know(clear=clear)
    member = FLANGE if is_steel(n) else float(n["stud"])
    scale = min((WIDTH - 2 * MARGIN - 54) / (clear + n["stud"] + member), DEEPEST / depth)
    thick, board = depth * scale, max(4.0, BOARD * scale)
    x0, y = MARGIN + 10, 58.0
    second = x0 + n["centres"] * scale
    reach = second + member * scale + 10
    left = x0 + (WEB / 2 if is_steel(n) else n["stud"] * scale)
    right = second - (WEB / 2 if is_steel(n) else 0)
    sheet.words(MARGIN, 18, words["far"], kind="soft")
    _paint_far_side(sheet, x0 - 10, y, reach, board, n["far"])
    sheet.board(x0 - 10, y + thick, reach - x0 + 10, board)
    size = pipe * scale
    # In an outside wall the pipe belongs on the warm side.
    behind = thick - size if n["far"] == "either" else (thick - size) / 2
    _paint_batt(sheet, (left, right), y, thick, size, behind)
    for x in (x0, second):
        if is_steel(n):
            paint_stud(sheet, x, y, thick, scale, "right")
        else:
            sheet.timber(x, y, n["stud"] * scale, thick)
    middle = (left + right) / 2
    sheet.ring(middle, y + behind + size / 2, size / 2, "now ink", 1.6)
    foot = y + thick + board
    sheet.across(left, right, foot + 16, words["clear"], below=True, upto=foot + 4)
    sheet.upright(reach + 6, y, y + thick, words["depth"])
    sheet.number(1, left + 26, y + thick / 2)
    sheet.number(2, middle + 46, y - board - 16, (middle, y + behind + 1))
    sheet.words(MARGIN, foot + 58, words["near"], kind="soft")
    sheet.floor = foot + 62
    sheet.note(1, words["batt"])
    sheet.note(2, words["round"])
    sheet.note(3, words["plates"])


def _paint_far_side(sheet: Sheet, x: float, y: float, reach: float, board: float, far: str) -> None:
    """The lining of the next room; only its line where the wall may as well be an outside one."""
    if far == "room":
        sheet.board(x, y - board, reach - x, board)
    else:
        sheet.line((x, y - 1.5), (reach, y - 1.5), "soft", 2, "7 3")


def _paint_batt(
    sheet: Sheet, bay: tuple[float, float], y: float, thick: float, size: float, behind: float
) -> None:
    """Split at the pipe: a layer `behind` it, pieces on both sides, and what is left before it."""
    (left, right), middle = bay, sum(bay) / 2
    sheet.batt(left, y, right - left, behind)
    sheet.batt(left, y + behind, middle - size / 2 - left, size)
    sheet.batt(middle + size / 2, y + behind, right - middle - size / 2, size)
    sheet.batt(left, y + behind + size, right - left, thick - behind - size)


INNER_BAY = Drawing(
    name="inner_bay",
    inputs=(
        Input(
            "far",
            "",
            "what lies beyond the wall: another room, or either that or the outside",
            "room",
            read=choice("room", "either"),
        ),
        CENTRES,
        STUD,
        DEPTH,
        Input("pipe", "mm", "pipe or cable in the bay, over its lagging", 20),
        FRAME,
    ),
    labels={
        "title": "Filled wall between rooms in plan, to scale",
        "title_either": "Filled wall of a wet room in plan, to scale",
        "says": "Two studs seen from above with plasterboard on both sides. The batt fills the bay from "
        "lining to lining and is split round a pipe.",
        "says_steel": "Two C-sections of steel seen from above with plasterboard on both sides. The batt "
        "fills the bay from web to web and from lining to lining and is split round a pipe.",
        "says_either": "Two studs seen from above, the wet room below; beyond them, dashed, the lining of "
        "the next room, or the wrap where this is an outside wall. The batt fills the bay and is split "
        "round a pipe.",
        "far": "another room: plasterboard",
        "far_either": "next room, or outside: wrap",
        "near": "wet room: its lining",
        "clear": "{clear} clear",
        "depth": "{depth}",
        "batt": "Batt whole, to the full {depth} mm, flush with the studs on both sides",
        "batt_either": "Batt whole, to the full {depth} mm, flush with the studs",
        "round": "Split round pipe or cable, never pressed behind it; plumber and electrician have set the "
        "route",
        "round_either": "Split round pipe or cable, nothing crushed. In an outside wall the pipe lies on the "
        "room's side, with the whole batt behind it",
        "plates": "Filled from bottom plate to top plate",
    },
    paint=_paint_inner_bay,
)
