"""Outside walls that a lower roof or a cladding closes: the abutment, the drained cavity."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from coordination.fabric.catalogue.roof import PITCH
from coordination.fabric.drawings.drawing import Drawing, Words
from coordination.fabric.drawings.sheet import MARGIN, WIDTH, Sheet
from coordination.fabric.inputs import FabricError, require_pitch, require_positive, show
from coordination.fabric.registry import Input

ABOVE = 330.0
BELOW = 300.0


def _paint_abutment(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    slope = math.tan(math.radians(require_pitch("pitch", n["pitch"])))
    stud, batt, lap = (require_positive(key, n[key]) for key in ("stud", "batt", "lap"))
    if batt > stud:
        raise FabricError(
            "batt", f"{show(batt)} mm is more than the {show(stud)} mm stud; give the wall's batt"
        )
    if lap > ABOVE - 60:
        raise FabricError("lap", f"{show(lap)} mm is no lap of wrap over a sheet; give 50 to 250")
    scale = min(0.29, 40 / stud)
    face, y0 = WIDTH * 0.55, 50.0
    meets = y0 + ABOVE * scale
    foot = meets + BELOW * scale
    thick = batt * scale
    inner = face + stud * scale
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.words(WIDTH - MARGIN, 18, words["inside"], "end", kind="soft")
    sheet.box(face, y0, stud * scale, foot - y0, "soft", 1, tint=0.03)
    sheet.batt(face, y0, thick, foot - y0, upright=True, kind="now batt")
    sheet.board(inner, y0, 5, foot - y0)
    # Outwards of the stud: the sheet up to above the roof, and the wrap that hangs down over its top edge.
    edge = meets - (lap + 45) * scale
    sheet.board(face - 5, edge, 5, foot - edge)
    sheet.line((face - 1, y0), (face - 1, edge - 6), "wrap ink", 2, "7 3")
    sheet.line((face - 1, edge - 6), (face - 8, edge), "wrap ink", 2)
    sheet.line((face - 8, edge), (face - 8, edge + lap * scale), "wrap ink", 2, "7 3")
    reach = min(face - 14 - MARGIN, (foot - meets) / slope)
    sheet.line((face - 12, meets), (face - 12 - reach, meets + reach * slope), "roof ink", 3)
    # The flashing comes with the roof: it goes up behind the wrap and lies on the cover.
    run = min(46.0, reach * 0.6)
    sheet.path(
        f"M{face - 5:.1f} {edge + 10:.1f}V{meets - 6:.1f}L{face - 8 - run:.1f} {meets - 4 + run * slope:.1f}",
        "now ink",
        1.8,
        "2 3",
    )
    sheet.upright(face - 22, edge, edge + lap * scale, words["lap"], left=True)
    sheet.across(face, inner, foot + 12, words["stud"], below=True, upto=foot + 4)
    sheet.number(1, inner + 42, y0 + 40, (face + thick / 2, y0 + 40))
    sheet.number(2, face - 50, y0 + 8, (face - 7, edge + 2))
    spot = (face - 8 - run * 0.7, meets - 4 + run * 0.7 * slope)
    sheet.number(3, MARGIN + 20, max(y0 + 34, spot[1] - 44), spot)
    sheet.number(4, inner + 42, foot - 26, (face - 2.5, foot - 26))
    sheet.floor = foot + 34
    sheet.note(1, words["batts"])
    sheet.note(2, words["wrap"])
    sheet.note(3, words["flashing"])
    sheet.note(4, words["sheet"])


ABUTMENT = Drawing(
    name="abutment",
    inputs=(
        PITCH,
        Input("stud", "mm", "depth of the upper wall's stud", 90),
        Input("batt", "mm", "thickness of the wall's batt", 90),
        Input("lap", "mm", "lap of the wrap over the sheet", from_limit="wrap.lap"),
    ),
    labels={
        "title": "Upper wall above a lower roof in section, to scale",
        "says": "The lower roof at {pitch} degrees runs up against the outside of an upper wall, which is "
        "filled, sheeted and wrapped before the roof closes it.",
        "outside": "over the lower roof",
        "inside": "upper room",
        "stud": "{stud}",
        "lap": "{lap}",
        "batts": "Bays and pockets filled {batt} mm before the lower roof closes them",
        "wrap": "Wrap hangs over the sheet by {lap} mm",
        "flashing": "Flashing comes with the roof: it goes up behind the wrap",
        "sheet": "Sheet on the roof side: no batt lies open to the roof space",
    },
    paint=_paint_abutment,
)


def _paint_cavity(sheet: Sheet, words: Words, n: Mapping[str, Any]) -> None:
    depth, cavity = require_positive("depth", n["depth"]), require_positive("cavity", n["cavity"])
    if cavity > depth:
        raise FabricError(
            "cavity", f"{show(cavity)} mm is deeper than the {show(depth)} mm wall; give the batten's depth"
        )
    scale = min(1.0, 84 / depth)
    y0, tall, board = 34.0, 168.0, 8.0
    wall = WIDTH * 0.5
    wrap = wall - 2.0
    out = wrap - cavity * scale
    foot = y0 + tall
    sheet.words(MARGIN, 18, words["outside"], kind="soft")
    sheet.words(WIDTH - MARGIN, 18, words["inside"], "end", kind="soft")
    sheet.batt(wall, y0, depth * scale, tall - 40 * scale, upright=True)
    sheet.timber(wall, foot - 40 * scale, depth * scale, 40 * scale)
    sheet.board(wall + depth * scale, y0, 6, tall)
    sheet.line((wrap, y0), (wrap, foot + 14), "wrap ink", 2, "7 3")
    sheet.box(out, y0, cavity * scale, tall - 8, "now ink", 1.2, tint=0.06)
    sheet.board(out - board, y0, board, tall + 8)
    # The strip at the bottom lets water out and keeps vermin out: drawn as an open row of dots.
    sheet.line((out, foot + 4), (wrap, foot + 4), "now ink", 3, "2 3")
    middle = (out + wrap) / 2
    sheet.arrow((middle, y0 + tall * 0.5), (middle, foot - 6), "pencil", 1.4)
    sheet.across(out, wrap, foot + 26, words["cavity"], below=True, upto=foot + 12)
    sheet.number(1, out - board - 40, y0 + 44, (out + cavity * scale / 2, y0 + 44))
    sheet.number(2, out - board - 40, foot - 22, (middle, foot + 4))
    sheet.number(3, wall + depth * scale + 34, foot + 18, (wrap, foot - 50))
    sheet.floor = foot + 50
    sheet.note(1, words["batten"])
    sheet.note(2, words["open"])
    sheet.note(3, words["wrap"])


CAVITY = Drawing(
    name="cavity",
    inputs=(
        Input("depth", "mm", "depth of the stud", 90),
        Input("cavity", "mm", "depth of the cavity's battens", 20),
    ),
    labels={
        "title": "Cavity behind the cladding in section, to scale",
        "says": "Battens keep the cladding off the wrap; the cavity drains and is open below.",
        "outside": "outside",
        "inside": "inside",
        "cavity": "{cavity}",
        "batten": "Battens {cavity} mm on the studs: nothing closes the cavity halfway",
        "open": "Open below behind a vermin strip: water runs out, air comes in",
        "wrap": "Wrap whole behind it, every tear taped",
    },
    paint=_paint_cavity,
)
