"""What passes through: the ridge opening, the exhaust duct, holes in plates, the edge of the slab."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from coordination.fabric.catalogue.roof import PITCH
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.members import FRAME, WEB, is_steel
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import (
    FabricError,
    read_choice,
    require_not_negative,
    require_pitch,
    require_positive,
    show,
)
from coordination.fabric.registry import Input

TALLEST = 150.0


def _paint_ridge(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    slope = math.tan(math.radians(require_pitch("pitch", n["pitch"])))
    slot = require_positive("slot", n["slot"])
    half = max(260.0, 2.5 * slot)
    scale = min((WIDTH / 2 - MARGIN) / half, TALLEST / (half * slope))
    middle, apex = WIDTH / 2, 62.0
    foot = apex + half * slope * scale
    edge = slot / 2 * scale

    def down(x: float) -> float:
        return apex + abs(x) * slope

    far = half * scale
    for side in (-1, 1):
        sheet.line((middle + side * edge, down(edge)), (middle + side * far, down(far)), "roof ink", 3)
        cover = edge + 0.34 * (far - edge)
        lift = 17.0
        sheet.line((middle, apex - lift), (middle + side * cover, down(cover) - lift), "ink", 2.2)
        mesh = edge + 0.24 * (far - edge)
        sheet.line(
            (middle + side * mesh, down(mesh) - lift), (middle + side * mesh, down(mesh)), "soft", 2, "2 3"
        )
        out = edge + 0.46 * (far - edge)
        sheet.arrow((middle + side * cover, down(cover) - 8), (middle + side * out, down(out) - 8), "pencil")
    for x in (-0.55 * edge, 0.55 * edge) if edge > 10 else (0.0,):
        sheet.arrow((middle + x, down(edge) + 44), (middle + x, down(edge) + 10), "pencil")
    line = max(foot, down(edge) + 62)
    sheet.across(middle - edge, middle + edge, line, words["slot"], below=True, upto=down(edge) + 4)
    mesh = edge + 0.24 * (far - edge)
    sheet.number(1, middle - edge - 44, line + 6, (middle - edge, line))
    sheet.number(2, middle + 96, 24, (middle + mesh, down(mesh) - 9))
    sheet.number(3, middle - 96, 24, (middle - edge, apex - 17 + edge * slope))
    sheet.floor = line + 20
    sheet.note(1, words["opening"])
    sheet.note(2, words["mesh"])
    sheet.note(3, words["cap"])


RIDGE = Drawing(
    name="ridge",
    inputs=(PITCH, Input("slot", "mm", "width of the opening across the ridge")),
    labels={
        "title": "Ridge opening in section, to scale",
        "says": "Sarking and cover stop short of the ridge on both sides; the cap stands above the opening.",
        "slot": "{slot}",
        "opening": "Opening {slot} mm wide along the ridge, cut clean, sarking cut back too",
        "mesh": "Mesh takes part of the opening: its net area counts where the certifier says so",
        "cap": "Cap keeps the rain out and leaves the air a way. Photograph before it goes on",
    },
    paint=_paint_ridge,
)


def _paint_duct(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    slope = math.tan(math.radians(require_pitch("pitch", n["pitch"])))
    duct, batt = require_positive("duct", n["duct"]), require_positive("batt", n["batt"])
    wide = 1300.0
    # The roof where the duct goes through lies above the batts, however flat or steep it is.
    head = batt + max(330.0, 1.2 * duct, wide / 2 * slope + 60)
    scale = min((WIDTH - 2 * MARGIN - 40) / wide, 190 / (head + wide / 2 * slope))
    x0, right = MARGIN, MARGIN + wide * scale
    middle = (x0 + right) / 2
    top = 40 + (wide / 2 * slope) * scale
    ground = top + head * scale
    half = duct * scale / 2

    def roof(x: float) -> float:
        return top - (x - middle) * slope

    box = max(half + 10, 150 * scale)
    sheet.batt(x0, ground - batt * scale, middle - box - x0, batt * scale)
    sheet.batt(middle + box, ground - batt * scale, right - middle - box, batt * scale)
    fan = min(batt, 200) * scale
    sheet.box(middle - box + 3, ground - fan, 2 * box - 6, fan, "ink", 1.6, tint=0.15)
    sheet.board(x0, ground, middle - box - x0 + 3, 5)
    sheet.board(middle + box - 3, ground, right - middle - box + 3, 5)
    sheet.line((middle - box - 3, ground + 6), (middle + box + 3, ground + 6), "ink", 3)
    lid = roof(middle + half) - 34
    for side in (-1, 1):
        x = middle + side * half
        sheet.line((x, ground - fan), (x, lid + 9), "ink", 1.8)
    gap = half + 2
    sheet.line((x0, roof(x0)), (middle - gap, roof(middle - gap)), "roof ink", 3)
    sheet.line((middle + gap, roof(middle + gap)), (right, roof(right)), "roof ink", 3)
    sheet.line((middle - half - 9, lid), (middle + half + 9, lid), "ink", 2.4)
    flap = ground - fan - 9
    sheet.line((middle - half, flap), (middle + half * 0.9, flap - 7), "now ink", 2.2)
    sheet.arrow((middle, flap - 14), (middle, roof(middle) - 8), "pencil")
    for x in (middle - box + 3, middle + box - 3):
        sheet.ring(x, ground, 3, "now ink", 1, tint=0.9)
    sheet.upright(right + 8, ground - batt * scale, ground, words["batt"])
    sheet.number(1, middle - half - 62, max(20.0, lid + 2), (middle - half, lid + 14))
    sheet.number(2, middle + half + 58, ground - batt * scale - 22, (middle + half * 0.5, flap - 5))
    sheet.number(3, middle - box - 44, ground + 30, (middle - box + 3, ground))
    sheet.floor = ground + 42
    sheet.note(1, words["outside"])
    sheet.note(2, words["damper"])
    sheet.note(3, words["sealed"])


EXHAUST_DUCT = Drawing(
    name="exhaust_duct",
    inputs=(
        PITCH,
        Input("batt", "mm", "thickness of the ceiling batt"),
        Input("duct", "mm", "diameter of the duct", 125),
    ),
    labels={
        "title": "Exhaust duct in section, to scale",
        "says": "A fan in the ceiling blows through a duct to the outside, not into the roof space.",
        "batt": "{batt}",
        "outside": "Duct {duct} mm to the outside, short and supported; never ended in the roof space",
        "damper": "Damper closes by itself when the fan stands still",
        "sealed": "Fan box: sealed to the lining at fit-off; batts keep the clearance its maker asks for",
    },
    paint=_paint_duct,
)


def _paint_plate_hole(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    hole, pipe, depth = (require_positive(k, n[k]) for k in ("hole", "pipe", "depth"))
    if not pipe < hole < depth:
        raise FabricError(
            "hole",
            f"{show(hole)} mm is no hole for {show(pipe)} mm in a {show(depth)} mm plate; give its diameter",
        )
    scale = min(1.1, 120 / depth)
    thick = 45 * scale
    x0, top = WIDTH / 2 - depth * scale / 2, 74.0
    right, middle = x0 + depth * scale, WIDTH / 2
    half, inner = hole * scale / 2, pipe * scale / 2
    foot = top + 2 * thick
    if not is_steel(n):
        for i in range(2):
            sheet.timber(x0, top + i * thick, middle - half - x0, thick)
            sheet.timber(middle + half, top + i * thick, right - middle - half, thick)
    sheet.line((middle - inner, 40), (middle - inner, foot + 46), "ink", 1.6)
    sheet.line((middle + inner, 40), (middle + inner, foot + 46), "ink", 1.6)
    for side in (-1, 1):
        a, b = middle + side * inner, middle + side * (half + 8)
        sheet.outline(
            [(a, top - 7), (b, top), (middle + side * half, top + 12), (a, top + 12)],
            "now ink",
            1.2,
            tint=0.55,
        )
    board = max(6.0, 10 * scale)
    for x in (x0 - board, right):
        sheet.board(x, foot - 4, board, 50)
    sheet.board(MARGIN, foot - 4 - board, x0 - MARGIN, board)
    sheet.board(right, foot - 4 - board, WIDTH - MARGIN - right, board)
    low = foot - 4 - board
    for left, stop in ((MARGIN, x0), (right, WIDTH - MARGIN)):
        sheet.batt(left, 40, stop - left, low - 40)
    if is_steel(n):
        # One track, its web cut through at the hole, its flanges down along the studs.
        for edge, free in ((x0, middle - half), (right, middle + half)):
            sheet.path(
                f"M{edge:.1f} {top + thick:.1f}L{edge:.1f} {top:.1f}L{free:.1f} {top:.1f}", "steel ink", WEB
            )
    sheet.words(MARGIN, 22, words["above"], kind="soft")
    sheet.words(WIDTH - MARGIN, foot + 40, words["below"], "end", kind="soft")
    sheet.number(1, x0 - 44, foot + 30, (middle - half - 2, top + 2))
    sheet.number(2, middle + 40, 22, (middle + inner, 46))
    sheet.floor = foot + 52
    sheet.note(1, words["seal"])
    sheet.note(2, words["pipe"])
    sheet.note(3, words["hot"])


PLATE_HOLE = Drawing(
    name="plate_hole",
    inputs=(
        Input("hole", "mm", "diameter of the hole", 25),
        Input("pipe", "mm", "diameter of the pipe or cable", 16),
        Input("depth", "mm", "depth of the plate", 90),
        FRAME,
    ),
    labels={
        "title": "Hole in the top plate in section, to scale",
        "title_steel": "Hole in the top track in section, to scale",
        "says": "A pipe or cable comes up through the plates; the gap round it is sealed from above.",
        "says_steel": "A pipe or cable comes up through the track of steel, in its grommet; the gap round it "
        "is sealed from above.",
        "above": "roof space",
        "below": "wall",
        "seal": "Gap of the {hole} mm hole sealed all round, before the ceiling batts",
        "seal_steel": "Gap of the {hole} mm hole and its grommet sealed all round, before the ceiling batts",
        "pipe": "Pipe or cable, {pipe} mm: what seals it is as its maker and the electrician allow",
        "hot": "Flues and hot fittings: never sealed this way, they keep their listed clearance",
    },
    paint=_paint_plate_hole,
)


def _read_insulated(name: str, value: object) -> str:
    """A flag of the house as yes or no; 'unknown' where a house was set out without saying it."""
    said = ("yes" if value else "no") if isinstance(value, bool) else value
    return read_choice(name, said, ("yes", "no", "unknown"))


def _paint_slab_edge(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    beam, slab, foam, free = (n[k] for k in ("beam", "slab", "insulation", "visible"))
    require_not_negative("visible", free)
    require_positive("insulation", foam)
    bare = n["insulated"] == "no"
    if not 0 < slab < beam:
        raise FabricError(
            "slab", f"{show(slab)} mm is not thinner than the edge beam of {show(beam)} mm; check both"
        )
    if free >= beam:
        raise FabricError(
            "visible", f"{show(free)} mm is more than the {show(beam)} mm edge; give the part above ground"
        )
    scale = min(0.42, 180 / beam)
    x0, top = MARGIN + 92, 40.0
    right = WIDTH - MARGIN - 40
    rib = x0 + 300 * scale
    base = top + beam * scale
    under = top + slab * scale
    sheet.outline(
        [(x0, top), (right, top), (right, under), (rib + 40 * scale, under), (rib, base), (x0, base)],
        tint=0.16,
    )
    sheet.path(
        f"M{right:.1f} {under + 3:.1f}L{rib + 42 * scale:.1f} {under + 3:.1f}L{rib + 2:.1f} {base + 3:.1f}"
        f"H{x0 - 3:.1f}V{top + free * scale:.1f}",
        "wrap ink",
        2,
        "7 3",
    )
    ground = top + free * scale
    edge = x0 - 5 - (0 if bare else foam * scale)
    if not bare:
        sheet.batt(edge, ground, foam * scale, base - ground, upright=True, kind="now batt")
    sheet.line((MARGIN, ground), (edge, ground), "soft", 2)
    for i in range(5):
        x = MARGIN + 8 + i * 13
        if x < edge - 7:
            sheet.line((x, ground + 2), (x - 6, ground + 9), "soft", 1)
    if free:
        sheet.upright(x0 - 44, top, ground, words["visible"], left=True)
        sheet.line((x0 - 50, top), (x0 - 4, top), "soft", 0.7)
    sheet.upright(right + 10, top, under, words["slab"])
    if bare:
        sheet.number(1, x0 - 60, base + 14, (x0 - 1, base - 16))
    else:
        sheet.number(1, x0 - 60, base + 14, (x0 - 5 - foam * scale / 2, base - 16))
    sheet.number(2, min(rib + 70, WIDTH - MARGIN - 12), base + 6, (rib + 4, base - 6))
    if free:
        sheet.number(3, x0 + 40, 20, (x0, top + free * scale / 2))
    sheet.floor = base + 26
    sheet.note(1, words["foam"])
    sheet.note(2, words["membrane"])
    if free:
        sheet.note(3, words["inspect"])


SLAB_EDGE = Drawing(
    name="slab_edge",
    inputs=(
        Input("insulated", "", "whether the edge is insulated", "unknown", read=_read_insulated),
        Input("r", "m²K/W", "R of the edge insulation, where it is known", 1),
        Input("insulation", "mm", "thickness of the edge insulation on paper", 30),
        Input("beam", "mm", "depth of the edge beam", 400),
        Input("slab", "mm", "thickness of the slab", 100),
        Input(
            "visible",
            "mm",
            "slab edge that stays in sight for termite inspection",
            from_limit="slab.inspection",
        ),
    ),
    labels={
        "title": "Edge of the slab in section, to scale",
        "says": "The edge beam with the membrane under and beside it, insulation outside, a strip of "
        "concrete in sight.",
        "says_no": "The edge beam with the membrane under and beside it, no insulation outside, a strip of "
        "concrete in sight.",
        "visible": "{visible}",
        "slab": "{slab}",
        "foam": "Edge insulation where specified, without a gap, fixed before the pour",
        "foam_yes": "Edge insulation of R{r}, without a gap, fixed before the pour; its thickness is as the "
        "label says",
        "foam_no": "No insulation at the edge of this house",
        "membrane": "Membrane whole, lapped and taped, pipes collared",
        "inspect": "{visible} mm of the edge in sight: the termite inspection wins over the insulation",
        "inspect_no": "{visible} mm of the edge in sight for the termite inspection",
    },
    paint=_paint_slab_edge,
)
