"""Calculations of air and of loads: wraps, roof openings, exhausts, the fan test, a tank on its nodes."""

from __future__ import annotations

import math

from coordination.fabric import loads, ventilation
from coordination.fabric.inputs import FabricError
from coordination.fabric.registry import Definition, Input, Result, Value, choice, whole
from coordination.fabric.sources import find_limit

OUTSIDE, ROOF_SPACE = "outside", "roof space"
EDITION = Input(
    "edition", "", "edition of the code: 2019, 2022 or 2025", "2022", read=choice(*ventilation.EDITIONS)
)
ZONE = Input("zone", "", "climate zone of the National Construction Code, 1 to 8", read=whole)


def _ventilation(
    pitch: float,
    eaves: float,
    ridge: float,
    zone: int,
    ceiling: str,
    edition: str,
    exhaust: str,
    area: float,
    strip: float,
    chord: float,
    centres: float,
) -> dict[str, Value]:
    if exhaust == ROOF_SPACE:
        if edition != "2019":
            raise FabricError("exhaust", f"the code of {edition} carries every exhaust outside; give outside")
        low, high = ventilation.openings_for_exhaust(pitch, area + strip)
    else:
        low, high = ventilation.roof_openings(pitch, eaves, ridge, zone, ceiling == "raked", edition)
    return {
        "low": low,
        "high": high,
        "low_slot": _whole_slot(low / eaves, chord, centres),
        "high_slot": _whole_slot(high / ridge, 0, centres) if ridge else 0,
    }


def _whole_slot(area: float, chord: float, centres: float) -> int:
    """A slot in whole mm that leaves at least `area` mm² per metre, as a tape can show it: 26.5 is 27."""
    return math.ceil(ventilation.slot_width(area, chord, centres) - 1e-9) if area else 0


def _slot(area: float, chord: float, centres: float, free: float) -> dict[str, Value]:
    return {"width": ventilation.slot_width(area, chord, centres, free)}


def _permeance(zone: int, edition: str) -> dict[str, Value]:
    least = ventilation.least_permeance(zone, edition)
    return {"least": least.least, "class": least.wrap_class}


def _exhaust(room: str) -> dict[str, Value]:
    return {"flow": ventilation.exhaust_flow(room)}


def _heater(litres: float, unit: float, nodes: int) -> dict[str, Value]:
    return {
        "newtons": loads.node_load(litres, unit, nodes),
        "limit": find_limit("heater.node_load").value,
    }


def _fan(q50: float, volume: float, envelope: float) -> dict[str, Value]:
    return {"n50": loads.air_changes(q50, volume), "qe50": loads.envelope_leakage(q50, envelope)}


def _fan_flow(flow: float, pressure: float, exponent: float) -> dict[str, Value]:
    return {"q50": loads.flow_at_reference(flow, pressure, exponent)}


AIR: tuple[Definition, ...] = (
    Definition(
        name="ventilation",
        question="How much free opening does the roof need, low and high?",
        inputs=(
            Input("pitch", "°", "roof pitch"),
            Input("eaves", "m", "length of eaves with openings (two opposing ends below 10°)"),
            Input("ridge", "m", "length of ridge with openings"),
            ZONE,
            Input(
                "ceiling",
                "",
                "flat, or raked where it follows the roof",
                "flat",
                read=choice("flat", "raked"),
            ),
            EDITION,
            Input(
                "exhaust",
                "",
                "where exhausts end: outside, or roof space (2019 only)",
                OUTSIDE,
                read=choice(OUTSIDE, ROOF_SPACE),
            ),
            Input("area", "m²", "ceiling, where exhausts end in the roof space above it", 0),
            Input("strip", "m²", "strip of that ceiling along the eaves, counted beside it", 0),
            Input("chord", "mm", "width of truss that closes a slot at the eaves", 0),
            Input("centres", "mm", "spacing of the trusses", 600),
        ),
        results=(
            Result("low", "mm²", "free area at the eaves"),
            Result("high", "mm²", "free area high up"),
            Result("low_slot", "mm", "clear slot all along the eaves that leaves it, in whole mm"),
            Result("high_slot", "mm", "clear slot all along the ridge that leaves it, in whole mm"),
        ),
        run=_ventilation,
        formula="zones 6 to 8: low = 25000·eaves under 15°, else 7000·eaves (+ 18000·eaves raked); "
        "high = 5000·ridge from 10° on; zones 1 to 5: none asked for (2025: 1 to 3); 2019, exhausts into "
        "the roof space: ceiling/300 over 22°, else ceiling/150, 30 % of it high",
        source="NCC 2022 10.8.3, from memory; 2019: 3.8.7, read; 2025: ABCB draft, areas as 2022; "
        "areas are net of mesh and trusses where the certifier says so",
        limits=(
            "roof.low_flat",
            "roof.low_steep",
            "roof.high",
            "roof.raked_extra",
            "roof.exhaust_steep_2019",
            "roof.exhaust_flat_2019",
            "roof.exhaust_high_2019",
        ),
    ),
    Definition(
        name="slot",
        question="How wide is the continuous slot that leaves this free area?",
        inputs=(
            Input("area", "mm²/m", "free area per metre"),
            Input("chord", "mm", "width of truss that closes the slot", 0),
            Input("centres", "mm", "spacing of the trusses", 600),
            Input("free", "share", "open share of the mesh", 1),
        ),
        results=(Result("width", "mm", "width of the slot"),),
        run=_slot,
        formula="width = area / 1000 / (1 - chord/centres) / free",
        source="geometry; whether the net area counts is the certifier's question",
    ),
    Definition(
        name="permeance",
        question="How open to vapour must the wall wrap be?",
        inputs=(
            ZONE,
            EDITION,
        ),
        results=(
            Result("least", "µg/(N·s)", "vapour permeance, at least"),
            Result("class", "", "class of AS/NZS 4200.1, at least"),
        ),
        run=_permeance,
        formula="2022: 0.143 (class 3) in zones 4 and 5, 1.14 (class 4) in zones 6 to 8; "
        "2019: permeable in zones 6 to 8; 2025: draft, class 4 in zones 6 to 8",
        source="NCC 10.8.1 and AS/NZS 4200.1:2017, from memory; 2025 from the ABCB consultation draft",
        limits=(
            "wrap.permeance_mild",
            "wrap.permeance_cold",
            "wrap.permeance_2019",
            "wrap.permeance_cold_2025",
        ),
    ),
    Definition(
        name="exhaust",
        question="How much air must this room's exhaust move to the outside?",
        inputs=(
            Input("room", "", "bathroom, toilet, kitchen or laundry", read=lambda name, value: str(value)),
        ),
        results=(Result("flow", "L/s", "exhaust, at least"),),
        run=_exhaust,
        formula="25 L/s from a bathroom or toilet, 40 L/s from a kitchen or laundry",
        source="NCC 2019 3.8.7.3; the same in NCC 2022 10.8.2 (from memory)",
        limits=("exhaust.bathroom", "exhaust.kitchen"),
    ),
    Definition(
        name="heater",
        question="How heavy is the tank on each truss node?",
        inputs=(
            Input("litres", "L", "water in the tank"),
            Input("unit", "kg", "weight of the empty tank with its platform"),
            Input("nodes", "", "truss nodes that share it", read=whole),
        ),
        results=(
            Result("newtons", "N", "load on one node"),
            Result("limit", "N", "most on one node"),
        ),
        run=_heater,
        formula="newtons = (litres + unit)·9.81 / nodes",
        source="BS 5268-3 practice, read in United Kingdom guidance; the load must stand in the truss design",
        limits=("heater.node_load",),
    ),
    Definition(
        name="fan",
        question="How leaky is the house under the fan?",
        inputs=(
            Input("q50", "m³/h", "flow at 50 Pa"),
            Input("volume", "m³", "volume inside the envelope"),
            Input("envelope", "m²", "area of the envelope"),
        ),
        results=(
            Result("n50", "1/h", "air changes at 50 Pa"),
            Result("qe50", "m³/(h·m²)", "leakage of the envelope at 50 Pa"),
        ),
        run=_fan,
        formula="n50 = q50/volume; qe50 = q50/envelope",
        source="ISO 9972",
    ),
    Definition(
        name="fan_flow",
        question="What is the flow at 50 Pa, measured at another pressure?",
        inputs=(
            Input("flow", "m³/h", "measured flow"),
            Input("pressure", "Pa", "measured pressure"),
            Input("exponent", "", "flow exponent", 0.65),
        ),
        results=(Result("q50", "m³/h", "flow at 50 Pa"),),
        run=_fan_flow,
        formula="q50 = flow·(50/pressure)^n",
        source="ISO 9972 (Q = C·Δp^n)",
    ),
)
