"""Steel frames: breaks against heat under metal roof and cladding, grommets in the holes."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_positive, show
from coordination.fabric.registry import Input

R = Input("r", "m²K/W", "least resistance of the strip", from_limit="thermal_break.metal")
FOAM = Input("conductivity", "W/(m·K)", "conductivity of the strip", 0.04)


def _strip(n: Mapping[str, Any]) -> float:
    """Thickness in mm that gives the strip its resistance: d = R·λ, as for any layer (ISO 6946)."""
    r, conductivity = require_positive("r", n["r"]), require_positive("conductivity", n["conductivity"])
    thick = 1000.0 * float(r) * float(conductivity)
    if not 1 <= thick <= 60:
        raise FabricError(
            "r",
            f"R{show(r)} would be a strip of {thick:.0f} mm; give the R on its label, such as 0.2",
        )
    return thick


def _paint_break_roof(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    thick, batten = _strip(n), require_positive("batten", n["batten"])
    words.know(thick=thick)
    scale = min(1.5, 78 / (batten + thick))
    base = 66.0 + (batten + thick) * scale
    crown = 70.0
    middle = WIDTH / 2 - 10
    a, b = middle - crown / 2, middle + crown / 2
    head = base - batten * scale
    sheet.words(MARGIN, 18, words["above"], kind="soft")
    # Cover of ribs, the strip pressed between its pans and the batten's crown.
    pan = head - thick * scale - 3
    d, x = f"M{MARGIN} {pan - 16:.1f}", MARGIN
    while x + 52 < WIDTH - 36:
        d += "h10l6 16h30l6 -16"
        x += 52
    sheet.path(d, "roof ink", 3)
    sheet.box(a - 4, head - thick * scale, crown + 8, thick * scale, "now ink", tint=0.5)
    sheet.path(
        f"M{a - 42:.1f} {base:.1f}h30L{a:.1f} {head:.1f}H{b:.1f}L{b + 12:.1f} {base:.1f}h30", "ink", 2.6
    )
    sheet.line((MARGIN, base + 4), (WIDTH - 36, base + 4), "wrap ink", 1.6, "7 3")
    sheet.box(MARGIN, base + 7, WIDTH - 36 - MARGIN, 34, "soft", 1, tint=0.05)
    sheet.upright(WIDTH - 30, head, base, words["batten"])
    sheet.upright(b + 18, head - thick * scale, head)
    sheet.number(1, MARGIN + 24, base - 22, (a + 6, head - thick * scale / 2))
    sheet.number(2, middle, base - 16, (middle, head))
    sheet.number(3, WIDTH - 76, base + 66, (WIDTH - 76, base + 4))
    sheet.words(MARGIN, base + 70, words["below"], kind="soft")
    sheet.floor = base + 80
    sheet.note(1, words["strip"])
    sheet.note(2, words["steel"])
    sheet.note(3, words["sarking"])


BREAK_ROOF = Drawing(
    name="break_roof",
    inputs=(R, FOAM, Input("batten", "mm", "height of the steel batten", 40)),
    labels={
        "title": "Break under a metal roof in section, to scale",
        "says": "A steel batten carries the metal cover; the strip lies between the two, so that metal does "
        "not meet metal.",
        "above": "outside",
        "below": "roof space",
        "batten": "{batten}",
        "strip": "Strip of R{r} or more on every batten, whole: about {thick} mm at {conductivity} W/(m·K); "
        "its label decides",
        "steel": "Steel batten: carries heat past everything without the strip",
        "sarking": "Sarking counts for the strip only if its label says so",
    },
    paint=_paint_break_roof,
)


def _steel_stud(sheet: Sheet, x: float, y: float, deep: float, flange: float) -> None:
    """A C section cut level, its web on the left."""
    sheet.path(
        f"M{x + flange:.1f} {y + 6:.1f}V{y:.1f}H{x:.1f}V{y + deep:.1f}H{x + flange:.1f}V{y + deep - 6:.1f}",
        "ink",
        2.6,
    )


def _paint_break_wall(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    thick, depth = _strip(n), require_positive("depth", n["depth"])
    words.know(thick=thick)
    scale = min(1.0, 84 / depth)
    flange, deep, strip = 42 * scale, depth * scale, thick * scale
    y = 44.0 + 9 + strip
    left, right = MARGIN, WIDTH - MARGIN - 34
    studs = (left + 30, right - 40 - flange)
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.board(left, y - strip - 10, right - left, 8)
    sheet.line((left, y - 1.5), (right, y - 1.5), "wrap ink", 1.6, "7 3")
    for a, b in pairwise([left, *studs, right]):
        sheet.batt(a, y, b - a, deep)
    for x in studs:
        sheet.box(x - 3, y - 2 - strip, flange + 6, strip, "now ink", tint=0.5)
        _steel_stud(sheet, x, y, deep, flange)
    sheet.board(left, y + deep + 2, right - left, 8)
    sheet.upright(right + 8, y, y + deep, words["depth"])
    foot = y + deep + 10
    sheet.number(1, studs[0] + flange / 2, foot + 22, (studs[0] + flange - 4, y - 2 - strip / 2))
    sheet.number(2, studs[1] - 24, foot + 22, (studs[1], y + deep * 0.7))
    sheet.words(WIDTH - MARGIN, foot + 27, words["inside"], "end", kind="soft")
    sheet.floor = foot + 36
    sheet.note(1, words["strip"])
    sheet.note(2, words["steel"])


BREAK_WALL = Drawing(
    name="break_wall",
    inputs=(R, FOAM, Input("depth", "mm", "depth of the steel stud", 90)),
    labels={
        "title": "Break between steel studs and cladding in plan, to scale",
        "says": "Steel studs seen from above; a strip on the outer flange of each keeps the cladding off it.",
        "outside": "outside: cladding",
        "inside": "inside",
        "depth": "{depth}",
        "strip": "Strip of R{r} or more on every stud and plate: about {thick} mm at {conductivity} W/(m·K); "
        "its label decides",
        "steel": "Steel stud {depth} mm, its hollow filled with the batt",
    },
    paint=_paint_break_wall,
)


def _paint_grommet(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    hole, pipe, depth = (require_positive(key, n[key]) for key in ("hole", "pipe", "depth"))
    if not pipe < hole < depth:
        raise FabricError(
            "hole",
            f"{show(hole)} mm is no hole for {show(pipe)} mm in a {show(depth)} mm stud; give its diameter",
        )
    scale = min(1.5, 130 / depth)
    deep, flange = depth * scale, 40.0
    y = 40.0
    web, middle = WIDTH * 0.46, 40.0 + depth * scale / 2
    half, inner = hole * scale / 2, pipe * scale / 2
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    # The web is cut through the hole: two pieces, the flanges to the right.
    sheet.path(f"M{web + flange:.1f} {y + 7:.1f}V{y:.1f}H{web:.1f}V{middle - half:.1f}", "ink", 3)
    sheet.path(
        f"M{web:.1f} {middle + half:.1f}V{y + deep:.1f}H{web + flange:.1f}V{y + deep - 7:.1f}", "ink", 3
    )
    for side in (-1, 1):
        edge, lip = middle + side * half, 7.0
        inside = middle + side * max(inner, half - 5)
        upper, lower = sorted((edge + side * 5, inside))
        sheet.box(web - lip, upper, 2 * lip, lower - upper, "now ink", tint=0.55)
    for side in (-1, 1):
        line = middle + side * inner
        sheet.line((MARGIN, line), (WIDTH - MARGIN - 40, line), "ink", 1.6)
    sheet.board(web - 60, y + deep + 3, 150, 7)
    sheet.upright(WIDTH - MARGIN - 28, y, y + deep, words["depth"])
    sheet.upright(web - 34, middle - half, middle + half, words["hole"], left=True)
    foot = y + deep + 10
    sheet.number(1, web + 52, y + 24, (web + 4, middle - half + 1))
    sheet.number(2, MARGIN + 22, foot + 6, (MARGIN + 22, middle + inner))
    sheet.number(3, web + 66, y + deep - 22, (web, y + deep - 12))
    sheet.words(WIDTH - MARGIN, foot + 20, words["inside"], "end", kind="soft")
    sheet.floor = foot + 28
    sheet.note(1, words["grommet"])
    sheet.note(2, words["pipe"])
    sheet.note(3, words["holes"])


GROMMET = Drawing(
    name="grommet",
    inputs=(
        Input("hole", "mm", "diameter of the hole", 34),
        Input("pipe", "mm", "diameter of the pipe or cable", 20),
        Input("depth", "mm", "depth of the steel stud", 90),
    ),
    labels={
        "title": "Hole in a steel stud in plan, to scale",
        "says": "The web of a steel stud cut through its hole; a grommet covers the edge on both sides.",
        "outside": "outside: wrap",
        "inside": "inside",
        "depth": "{depth}",
        "hole": "{hole}",
        "grommet": "Grommet snapped in on both sides of every hole that something passes, such as {hole} mm",
        "pipe": "Pipe or cable, here {pipe} mm: copper and brass touch no steel",
        "holes": "Holes are the frame maker's own; a new one needs his word",
    },
    paint=_paint_grommet,
)
