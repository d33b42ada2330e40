"""Air that must keep moving: wraps that let vapour out, roofs with openings low and high, exhausts.

Climate zones are those of the National Construction Code of Australia, 1 (hot, humid) to 8 (alpine).
Values are defaults from memory unless `sources` says otherwise; the certifier's reading prevails.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from coordination.fabric.inputs import (
    FabricError,
    require_not_negative,
    require_pitch,
    require_positive,
    show,
)
from coordination.fabric.sources import find_limit

ZONES = range(1, 9)
Edition = Literal["2019", "2022", "2025"]
EDITIONS: tuple[Edition, ...] = ("2019", "2022", "2025")

# AS/NZS 4200.1:2017 (from memory): least vapour permeance of each class, in µg/(N·s).
CLASS_BOUNDS = ((4, 1.1403), (3, 0.1429), (2, 0.0022), (1, 0.0))


@dataclass(frozen=True)
class Permeance:
    """Least vapour permeance in µg/(N·s) of what lies outside the insulation, and the least class."""

    least: float
    wrap_class: int


def require_zone(zone: int) -> int:
    """Refuse a climate zone that the code does not have."""
    if zone not in ZONES:
        raise FabricError("zone", f"{show(zone)} is no climate zone; give 1 to 8")
    return zone


def wrap_class(permeance: float) -> int:
    """Class 1 to 4 of AS/NZS 4200.1 for a measured permeance in µg/(N·s)."""
    require_not_negative("permeance", permeance)
    return next(number for number, least in CLASS_BOUNDS if permeance >= least)


def least_permeance(zone: int, edition: str = "2022") -> Permeance:
    """Least permeance of a wall's wrap by climate zone and edition of the code.

    Where the code asks for none, the answer is 0 and class 1. The 2025 edition is known from its
    consultation draft only, and for zones 6 to 8 only: elsewhere it is refused.
    """
    require_zone(zone)
    require_edition(edition)
    cold = zone >= 6
    if edition == "2019":
        return Permeance(find_limit("wrap.permeance_2019").value, 3) if cold else Permeance(0.0, 1)
    if cold:
        key = "wrap.permeance_cold" if edition == "2022" else "wrap.permeance_cold_2025"
        return Permeance(find_limit(key).value, 4)
    if edition == "2025":
        raise FabricError(
            "edition",
            "2025 is known for zones 6 to 8 only, from its draft; take 2022 or enter your certifier's figure",
        )
    return Permeance(find_limit("wrap.permeance_mild").value, 3) if zone in (4, 5) else Permeance(0.0, 1)


def require_edition(edition: str) -> str:
    """Refuse an edition of the code that nobody here has read of."""
    if edition not in EDITIONS:
        raise FabricError("edition", f"'{edition}' is unknown; give 2019, 2022 or 2025")
    return edition


def openings_for_exhaust(pitch: float, ceiling: float) -> tuple[float, float]:
    """Free area in mm², low and high, of a roof space into which exhausts end, under NCC 2019 only.

    1 m² for each 300 m² of `ceiling` (in m²) over 22°, for each 150 m² up to it; 30 % of it within 900 mm of
    the ridge. Later editions want every exhaust carried to the outside.
    """
    require_pitch("pitch", pitch)
    key = "roof.exhaust_steep_2019" if pitch > 22 else "roof.exhaust_flat_2019"
    whole = require_positive("area", ceiling) * 1e6 / find_limit(key).value
    high = whole * find_limit("roof.exhaust_high_2019").value
    return whole - high, high


def roof_openings(
    pitch: float, eaves: float, ridge: float, zone: int, raked: bool = False, edition: str = "2022"
) -> tuple[float, float]:
    """Free area in mm² that a roof needs low and high, over `eaves` and `ridge` metres.

    NCC 2022 10.8.3 for zones 6 to 8 (from memory); no area is asked for in zones 1 to 5. Below 10° the
    openings lie at two opposing ends: give their length as `eaves`. `raked`: the ceiling follows the roof.
    The draft of 2025 extends them to zones 4 and 5 and joins the bands from 10°; how it joins them is not
    known, so the areas of 2022 stand. The code of 2019 asks for none: the areas are good practice then.
    """
    require_pitch("pitch", pitch)
    require_positive("eaves", eaves)
    require_not_negative("ridge", ridge)
    if require_zone(zone) < (4 if require_edition(edition) == "2025" else 6):
        return 0.0, 0.0
    if pitch >= 75:
        raise FabricError("pitch", f"{show(pitch)}° is a wall to the code; give less than 75")
    low = find_limit("roof.low_steep" if pitch >= 15 else "roof.low_flat").value
    high = find_limit("roof.high").value if pitch >= 10 else 0.0
    if raked:
        low += find_limit("roof.raked_extra").value
    if high and ridge == 0:
        raise FabricError("ridge", "0 m leaves no place for the high openings; give the ridge's length")
    return low * eaves, high * ridge


def slot_width(area: float, chord: float = 0, centres: float = 600, free: float = 1) -> float:
    """Width in mm of a continuous slot that leaves `area` mm² free per metre.

    `chord` mm of every `centres` mm are closed by a truss; `free` is the open share of the mesh.
    """
    require_positive("area", area)
    require_not_negative("chord", chord)
    if require_positive("centres", centres) <= chord:
        raise FabricError("centres", f"{show(centres)} mm is all chord; give the spacing centre to centre")
    if not math.isfinite(free) or not 0 < free <= 1:
        raise FabricError("free", f"{show(free)} is no open share; give more than 0 and up to 1")
    return area / 1000 / (1 - chord / centres) / free


def exhaust_flow(room: str) -> float:
    """Least exhaust in litres per second from a room to the outside."""
    if room in ("bathroom", "toilet"):
        return find_limit("exhaust.bathroom").value
    if room in ("kitchen", "laundry"):
        return find_limit("exhaust.kitchen").value
    raise FabricError("room", f"'{room}' is unknown; give bathroom, toilet, kitchen or laundry")
