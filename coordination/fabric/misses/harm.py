"""Misses that are no loss of heat: what they do instead, and why they rank where they do.

No figure is made up for them. Each says in plain words what happens, and has a rank of its own.
"""

from __future__ import annotations

from coordination.fabric import gaps, layers
from coordination.fabric.inputs import require_positive
from coordination.fabric.misses.kinds import BASE, Loss, R, Rank, offer
from coordination.fabric.registry import Input


def _no_heat(*assumptions: str) -> Loss:
    return Loss(watts=0.0, share=None, worst_r=None, film=layers.INSIDE_SIDEWAYS, assumptions=assumptions)


@offer(
    "hot_fitting",
    "hot fitting without its clearance",
    Input("diameter", "mm", "cut-out of the fitting", 90),
    Input("clearance", "mm", "clearance that it keeps"),
    R,
    BASE,
    rank=Rank.DANGER,
)
def _hot_fitting(diameter: float, clearance: float, r: float, base: float) -> Loss:
    """The ring that has to stay bare costs heat; a fitting that may be covered would cost none."""
    require_positive("diameter", diameter)
    require_positive("r", r)
    area = gaps.cutout_area(1, diameter, clearance)
    return Loss(
        watts=area * (1 / base - 1 / (r + base)),
        share=None,
        worst_r=None,
        film=layers.INSIDE_UP,
        assumptions=(
            "what a covered fitting does depends on its make: its marking and its maker's sheet decide",
            "the loss is that of the ring that has to stay clear, for each fitting; "
            "one that may be covered needs none",
        ),
    )


@offer("fumes", "way for fumes between garage and house left open", rank=Rank.DANGER)
def _fumes() -> Loss:
    return _no_heat("exhaust gas of a car is poison; no gap is small enough to be judged harmless here")


@offer("pierced_cable", "cable or pipe within reach of a fixing", rank=Rank.DANGER)
def _pierced_cable() -> Loss:
    return _no_heat("how a cable is protected is the electrician's to state; nothing is judged here")


@offer("live_frame", "cable against a bare edge of steel", rank=Rank.DANGER)
def _live_frame() -> Loss:
    return _no_heat("steel conducts; how the frame is bonded is the electrician's to state")


@offer("rain_in", "way for rain into the wall left open", rank=Rank.DAMP)
def _rain_in() -> Loss:
    return _no_heat("how much water comes depends on wind and rain; timber that stays wet rots")


@offer("ground_damp", "way for the ground's damp into the slab left open", rank=Rank.DAMP)
def _ground_damp() -> Loss:
    return _no_heat(
        "a torn or open membrane lets damp rise as long as the house stands",
        "slab-edge insulation, where there is any, is not reckoned here",
    )


@offer("stale_roof_air", "airway of the roof closed or too small", rank=Rank.DAMP)
def _stale_roof_air() -> Loss:
    return _no_heat("how wet a roof gets depends on rooms, sarking and weather; no figure is given")


@offer("damp_air_inside", "damp air that ends inside the house's fabric", rank=Rank.DAMP)
def _damp_air_inside() -> Loss:
    return _no_heat("air of kitchens and bathrooms wets the first cold surface that it meets")


@offer("leaking_pipe", "pipe or waste that leaks where nobody looks", rank=Rank.DAMP)
def _leaking_pipe() -> Loss:
    return _no_heat("a small leak behind a lining is seen when the lining stains")


@offer("frozen_pipe", "pipe on the cold side of its batt", rank=Rank.DAMP)
def _frozen_pipe() -> Loss:
    return _no_heat("where winters freeze; elsewhere it costs the heat of warm water only")


@offer("metal_bridge", "metal left bare between inside and outside", rank=Rank.METAL)
def _metal_bridge() -> Loss:
    return _no_heat("the combined method of ISO 6946 does not hold for insulation bridged by metal")


@offer("noise", "inner wall without its batts", rank=Rank.COMFORT)
def _noise() -> Loss:
    return _no_heat("both sides are heated: little heat passes; how much quieter it gets is not reckoned")
