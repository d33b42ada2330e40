"""A tank's weight on its truss nodes, and a house's leaks under the fan.

The weight is a check of arithmetic only: the load must stand in the truss design, and no member of a
truss is cut, notched, drilled or moved without the fabricator's written approval.
"""

from __future__ import annotations

import math

from coordination.fabric.inputs import FabricError, require_not_negative, require_positive, show

GRAVITY = 9.81
WATER = 1.0
REFERENCE_PRESSURE = 50.0


def node_load(litres: float, unit: float, nodes: int) -> float:
    """Load in N on each of `nodes` truss nodes from a heater of `unit` kg holding `litres` of water."""
    require_not_negative("litres", litres)
    require_not_negative("unit", unit)
    require_positive("nodes", nodes)
    return (litres * WATER + unit) * GRAVITY / nodes


def flow_at_reference(flow: float, pressure: float, exponent: float = 0.65) -> float:
    """Flow at 50 Pa from a `flow` measured at another `pressure` (Pa): Q = C·Δp^n."""
    require_positive("flow", flow)
    require_positive("pressure", pressure)
    if not math.isfinite(exponent) or not 0.5 <= exponent <= 1:
        raise FabricError("exponent", f"{show(exponent)} is no leak; give 0.5 to 1, commonly 0.65")
    return flow * math.pow(REFERENCE_PRESSURE / pressure, exponent)


def air_changes(q50: float, volume: float) -> float:
    """Air changes per hour at 50 Pa (ISO 9972 n50), from m³/h and m³."""
    return require_positive("q50", q50) / require_positive("volume", volume)


def envelope_leakage(q50: float, envelope: float) -> float:
    """Leakage in m³/h per m² of envelope at 50 Pa (ISO 9972 qE50)."""
    return require_positive("q50", q50) / require_positive("envelope", envelope)
