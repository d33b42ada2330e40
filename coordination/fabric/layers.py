"""Layers of a wall or ceiling: what each resists.

Lengths in mm, conductivity in W/(mK), R in m²K/W.

>>> layer_r(thickness=90, conductivity=0.036)
2.5
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType

from coordination.fabric.inputs import FabricError, require_positive
from coordination.fabric.sources import find_limit

# NCC 2022 Volume One, Specification 36: conductivities that the code gives for common materials.
CONDUCTIVITIES: Mapping[str, float] = MappingProxyType(
    {
        "radiata pine": 0.12,
        "kiln-dried hardwood": 0.16,
        "gypsum plasterboard": 0.17,
        "light clay brick": 0.55,
        "medium clay brick": 0.65,
        "heavy clay brick": 0.78,
        "plywood": 0.14,
        "particleboard": 0.12,
        "fibre-cement": 0.25,
        "steel": 47.5,
        "roof tile": 0.81,
    }
)

# ISO 6946 surface resistances, and an unventilated air layer of 25 mm or more, heat flowing sideways.
INSIDE_SIDEWAYS = 0.13
INSIDE_UP = 0.10
INSIDE_DOWN = 0.17
OUTSIDE = 0.04
STILL_AIR_LAYER = 0.18
# Thinner ones: thickness in mm and R (ISO 6946, table of unventilated air layers, heat flowing sideways).
THIN_AIR_LAYERS = ((0.0, 0.0), (5.0, 0.11), (7.0, 0.13), (10.0, 0.15), (15.0, 0.17), (25.0, STILL_AIR_LAYER))

# The wall that stands in for a brick-veneer bay where a house gives no layers of its own: outside film,
# 110 mm medium brick, unventilated cavity; 10 mm plasterboard, inside film.
BRICK = 110 / 1000 / CONDUCTIVITIES["medium clay brick"]
PLASTERBOARD = 10 / 1000 / CONDUCTIVITIES["gypsum plasterboard"]
VENEER_OUTSIDE = OUTSIDE + BRICK + STILL_AIR_LAYER
# What lies outside a well-ventilated cavity counts as still air: ISO 6946:2017, 6.9.4 (from memory).
CLAD_OUTSIDE = INSIDE_SIDEWAYS
VENEER_INSIDE = PLASTERBOARD + INSIDE_SIDEWAYS


OUTER_LEAVES: Mapping[str, float] = MappingProxyType({"masonry": VENEER_OUTSIDE, "cladding": CLAD_OUTSIDE})


def outer_leaf_r(outside: str, own: float | None = None) -> float:
    """R of what lies outside the batt of a wall, outside film included: by its kind, or an own figure.

    Masonry is 110 mm of brick before a still cavity, cladding a light one on a well-ventilated cavity.
    """
    if outside not in OUTER_LEAVES:
        raise FabricError("outside", f"'{outside}' is unknown; give one of {', '.join(OUTER_LEAVES)}")
    return OUTER_LEAVES[outside] if own is None else require_positive("own", own)


def layer_r(thickness: float, conductivity: float) -> float:
    """R of a plane layer (ISO 6946: R = d / λ)."""
    require_positive("thickness", thickness)
    require_positive("conductivity", conductivity)
    return thickness / 1000 / conductivity


def conductivity_of(thickness: float, r: float) -> float:
    """Conductivity of a layer of known thickness and R: the inverse of `layer_r`."""
    require_positive("thickness", thickness)
    require_positive("r", r)
    return thickness / 1000 / r


def is_plausible_label(thickness: float, r: float) -> bool:
    """Whether a bag's thickness and R belong together: a conductivity that batts have (from memory)."""
    conductivity = round(conductivity_of(thickness, r), 4)
    least, most = find_limit("batts.conductivity_least"), find_limit("batts.conductivity_most")
    return least.value <= conductivity <= most.value


def material_r(material: str, thickness: float) -> float:
    """R of a layer of a named material of NCC 2022 Specification 36."""
    conductivity = CONDUCTIVITIES.get(material)
    if conductivity is None:
        raise FabricError("material", f"'{material}' is unknown; give one of {', '.join(CONDUCTIVITIES)}")
    return layer_r(thickness, conductivity)


def still_air_r(thickness: float) -> float:
    """R of an unventilated air layer of `thickness` mm, heat flowing sideways (ISO 6946, interpolated).

    From 25 mm on it grows no further: the air turns over.
    """
    require_positive("thickness", thickness)
    for (thin, less), (thick, more) in pairwise(THIN_AIR_LAYERS):
        if thickness <= thick:
            return less + (more - less) * (thickness - thin) / (thick - thin)
    return STILL_AIR_LAYER


def lagging_r(pipe: float, lagging: float, conductivity: float) -> float:
    """R of pipe lagging over its outer area: `pipe` is the outer diameter, `lagging` its thickness.

    A cylinder resists more than the flat layer of the same thickness: R = ro·ln(ro/ri)/λ.
    """
    require_positive("pipe", pipe)
    require_positive("lagging", lagging)
    require_positive("conductivity", conductivity)
    inner = pipe / 2
    outer = inner + lagging
    return outer / 1000 * math.log(outer / inner) / conductivity
