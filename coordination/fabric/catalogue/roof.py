"""Calculations of the roof's edge and its openings."""

from __future__ import annotations

from coordination.fabric import eaves
from coordination.fabric.registry import Definition, Input, Result, Value, choice

PITCH = Input("pitch", "°", "roof pitch")
HEEL = Input("heel", "mm", "heel height from the lining's upper face, at the wall line")
AIRWAY = Input("airway", "mm", "clear air above the batt", from_limit="airway.least")
LINE = Input(
    "line",
    "",
    "underside that the heel height is measured to, roof or chord",
    "roof",
    read=choice("roof", "chord"),
)
CHORD = Input("chord", "mm", "depth of the top chord, where the heel is measured to it", 0)


def _eave(
    pitch: float, heel: float, batt: float, airway: float, line: eaves.Line, chord: float
) -> dict[str, Value]:
    return {
        "set_back": eaves.set_back(pitch, heel, batt, airway, line, chord),
        "full_heel": eaves.full_heel(pitch, batt, airway, line, chord),
    }


def _room(
    pitch: float, heel: float, airway: float, distance: float, line: eaves.Line, chord: float
) -> dict[str, Value]:
    return {"thickness": eaves.room_for_batt(pitch, heel, airway, distance, line, chord)}


def _perimeter(
    pitch: float, heel: float, perimeter: float, airway: float, line: eaves.Line, chord: float
) -> dict[str, Value]:
    room, whole_from = eaves.edge_of_strip(pitch, heel, perimeter, airway, line, chord)
    return {"room": room, "whole_from": whole_from}


def _strip(length: float, width: float, set_back: float) -> dict[str, Value]:
    area, share = eaves.perimeter_strip(length, width, set_back)
    return {"area": area, "share": share}


ROOF = (
    Definition(
        name="eave",
        question="From where inside the wall line may the full ceiling batt start?",
        inputs=(PITCH, HEEL, Input("batt", "mm", "thickness of the full batt"), AIRWAY, LINE, CHORD),
        results=(
            Result("set_back", "mm", "distance of the full batt inside the wall line"),
            Result("full_heel", "mm", "heel height that needs no set-back"),
        ),
        run=_eave,
        formula="set_back = max(0, (batt + airway - heel) / tan pitch); full_heel = batt + airway; "
        "measured to the chord, the roof lies chord / cos pitch above the heel height",
        source="geometry of a straight roof; airway default 25 mm: BRANZ Build (New Zealand)",
    ),
    Definition(
        name="eave_room",
        question="How thick a batt fits under the airway at this distance from the wall line?",
        inputs=(
            PITCH,
            HEEL,
            AIRWAY,
            Input("distance", "mm", "distance inside the wall line", 0),
            LINE,
            CHORD,
        ),
        results=(Result("thickness", "mm", "thickest batt that keeps the airway"),),
        run=_room,
        formula="thickness = heel + distance · tan pitch - airway",
        source="geometry of a straight roof",
    ),
    Definition(
        name="perimeter",
        question="How much of the perimeter batt fits at the wall line, and from where on the whole of it?",
        inputs=(
            PITCH,
            HEEL,
            Input("perimeter", "mm", "thickness of the perimeter batt"),
            AIRWAY,
            LINE,
            CHORD,
        ),
        results=(
            Result("room", "mm", "thickest batt that keeps the airway at the wall line"),
            Result("whole_from", "mm", "distance inside the wall line from which the whole batt fits"),
        ),
        run=_perimeter,
        formula="room = heel - airway; whole_from = max(0, (perimeter + airway - heel) / tan pitch); "
        "measured to the chord, the roof lies chord / cos pitch above the heel height",
        source="geometry of a straight roof; airway default 25 mm: BRANZ Build (New Zealand)",
    ),
    Definition(
        name="strip",
        question="How much of the ceiling lies between the outside walls and the full batt?",
        inputs=(
            Input("length", "m", "length of the ceiling"),
            Input("width", "m", "width of the ceiling"),
            Input("set_back", "mm", "set-back of the full batt, same on all sides"),
        ),
        results=(Result("area", "m²", "area of the strip"), Result("share", "", "share of the ceiling")),
        run=_strip,
        formula="area = L·W - (L - 2x)·(W - 2x)",
        source="geometry of a hipped roof over a rectangle",
    ),
)
