"""Where the full ceiling batt may start: the eave as a triangle.

Lengths in mm, angles in degrees. Above the wall line the roof leaves the heel height; it rises with
the tangent of the pitch. A batt with its clear air above it fits from where there is room for both.

    x = max(0, (batt + airway - heel) / tan(pitch))

The heel height is measured from the upper face of the lining to the underside of the roof, between
two trusses. Many drawings give it to the underside of the truss's top chord instead; the roof then
lies higher by the chord's depth divided by the cosine of the pitch. Say which one you mean.

>>> round(set_back(pitch=22.5, heel=100, batt=290, airway=25))
519
"""

from __future__ import annotations

import math
from typing import Literal

from coordination.fabric.inputs import (
    FabricError,
    require_not_negative,
    require_pitch,
    require_positive,
    show,
)

Line = Literal["roof", "chord"]


def chord_rise(pitch: float, chord: float) -> float:
    """Height in mm from the chord's underside up to the roof's underside, at one plumb line."""
    require_pitch("pitch", pitch)
    require_not_negative("chord", chord)
    return chord / math.cos(math.radians(pitch))


def roof_height(pitch: float, heel: float, line: Line = "roof", chord: float = 0) -> float:
    """Height in mm from the lining to the roof's underside at the wall line.

    `heel` is measured to the underside named by `line`; `chord` is the depth of the top chord and is
    needed only where `line` is "chord".
    """
    require_pitch("pitch", pitch)
    require_not_negative("heel", heel)
    if line == "roof":
        return heel
    if line == "chord":
        require_positive("chord", chord)
        return heel + chord_rise(pitch, chord)
    raise FabricError("line", f"'{line}' is unknown; give roof or chord")


def room_for_batt(
    pitch: float, heel: float, airway: float, distance: float, line: Line = "roof", chord: float = 0
) -> float:
    """Thickness in mm that fits under the airway at `distance` inside the wall line (never below 0)."""
    require_not_negative("airway", airway)
    require_not_negative("distance", distance)
    rise = distance * math.tan(math.radians(require_pitch("pitch", pitch)))
    return max(0.0, roof_height(pitch, heel, line, chord) + rise - airway)


def set_back(
    pitch: float, heel: float, batt: float, airway: float, line: Line = "roof", chord: float = 0
) -> float:
    """Distance in mm inside the wall line from which a batt keeps its thickness and the air its way."""
    require_not_negative("airway", airway)
    require_positive("batt", batt)
    missing = batt + airway - roof_height(pitch, heel, line, chord)
    return max(0.0, missing / math.tan(math.radians(pitch)))


def edge_of_strip(
    pitch: float, heel: float, perimeter: float, airway: float, line: Line = "roof", chord: float = 0
) -> tuple[float, float]:
    """What fits under the airway at the wall line, and from where inside it the whole perimeter batt, in mm.

    A batt thicker than what fits there is cut to a taper. A heel that leaves nothing under the airway is
    refused: no batt would lie over the plate, and below the airway's own height not even its air would pass.
    """
    room = room_for_batt(pitch, heel, airway, 0, line, chord)
    if room <= 0:
        least = airway - roof_height(pitch, 0, line, chord)
        raise FabricError(
            "heel",
            f"{show(heel)} mm to the {line} leave no room for a batt under {show(airway)} mm of air at the "
            f"wall line; give more than {show(round(least, 1))} mm, or have this eave drawn up on its own",
        )
    return room, set_back(pitch, heel, perimeter, airway, line, chord)


def full_heel(pitch: float, batt: float, airway: float, line: Line = "roof", chord: float = 0) -> float:
    """Heel height in mm, measured to the underside named by `line`, that needs no set-back."""
    require_positive("batt", batt)
    require_not_negative("airway", airway)
    return max(0.0, batt + airway - roof_height(pitch, 0, line, chord))


def perimeter_strip(length: float, width: float, distance: float) -> tuple[float, float]:
    """Area in m² and share of the ceiling within `distance` mm of the outside walls of a hipped house.

    `length` and `width` of the ceiling in m. A house too narrow for two strips is all strip.
    """
    require_positive("length", length)
    require_positive("width", width)
    inset = require_not_negative("distance", distance) / 1000
    whole = length * width
    inner = max(0.0, length - 2 * inset) * max(0.0, width - 2 * inset)
    return whole - inner, (whole - inner) / whole
