"""Gaps that were not sealed: heat that the winter's air carries out through them.

The basic model of the ASHRAE Handbook (after Sherman and Grimsrud): a leakage area A lets
A·√(Cs·ΔT + Cw·v²) litres of air through in a second, driven by warm air that rises and by the wind.

>>> round(airflow(area=100, difference=15, wind=3), 2)
5.58
"""

from __future__ import annotations

import math

from coordination.fabric import layers
from coordination.fabric.inputs import FabricError, require_not_negative, require_positive, show
from coordination.fabric.misses.kinds import CLIMATE, Loss, offer
from coordination.fabric.registry import Input
from coordination.fabric.sources import find_limit
from coordination.fabric.surface import require_warmer_inside

AIR_HEAT = 1.2
"""J that a litre of air takes up for each degree (1.2 kg/m³, 1,005 J/(kg·K))."""

INSIDE, OUTSIDE, _HUMIDITY = CLIMATE
WEATHER = (
    INSIDE,
    OUTSIDE,
    Input("wind", "m/s", "mean wind of the winter", from_limit="gap.wind_speed"),
    Input("stack", "(L/s)²/(cm⁴·K)", "what warm air that rises drives", from_limit="gap.stack"),
    Input("shelter", "(L/s)²/(cm⁴·(m/s)²)", "what the wind drives", from_limit="gap.shelter"),
)


def airflow(
    area: float, difference: float, wind: float, stack: float | None = None, shelter: float | None = None
) -> float:
    """Air in litres per second through a leakage area in cm² (at 4 Pa), averaged over time.

    `difference` in K between inside and outside, `wind` in m/s as the weather station has it. `stack` and
    `shelter` are the model's coefficients for the house's storeys and neighbours: see `sources`.
    """
    require_not_negative("area", area)
    require_positive("difference", difference)
    require_not_negative("wind", wind)
    stack = find_limit("gap.stack").value if stack is None else require_not_negative("stack", stack)
    if shelter is None:
        shelter = find_limit("gap.shelter").value
    return area * math.sqrt(stack * difference + require_not_negative("shelter", shelter) * wind**2)


def _leak(spared: float, what: str, inside: float, outside: float, wind: float, **model: float) -> Loss:
    require_warmer_inside(inside, outside)
    return Loss(
        watts=AIR_HEAT * airflow(spared, inside - outside, wind, **model),
        share=None,
        worst_r=None,
        film=layers.INSIDE_UP,
        assumptions=(
            what,
            f"{show(inside)} °C inside, {show(outside)} °C outside and wind of {show(wind)} m/s as the mean "
            "of a winter, sheltered by the neighbours",
            "damp air that passes outwards wets what it meets: that is not in this figure",
        ),
    )


def _spared(unsealed: float, sealed: float) -> float:
    require_positive("unsealed", unsealed)
    if require_not_negative("sealed", sealed) >= unsealed:
        raise FabricError(
            "sealed", f"{show(sealed)} is no less than {show(unsealed)} unsealed; give the smaller leakage"
        )
    return unsealed - sealed


@offer(
    "open_hole",
    "hole through the air seal left open",
    Input("unsealed", "cm²", "leakage area of the hole, open", from_limit="gap.hole_open"),
    Input("sealed", "cm²", "leakage area of the hole, sealed", from_limit="gap.hole_sealed"),
    *WEATHER,
)
def _open_hole(unsealed: float, sealed: float, **weather: float) -> Loss:
    what = f"leakage area at 4 Pa: {show(unsealed)} cm² open, {show(sealed)} cm² sealed, for each hole"
    return _leak(_spared(unsealed, sealed), what, **weather)


@offer(
    "open_frame",
    "gap round a window or door frame left open",
    Input("area", "m²", "area of the opening in the wall", 1.8),
    Input("unsealed", "cm²/m²", "leakage area for each m², not sealed", from_limit="gap.frame_open"),
    Input("sealed", "cm²/m²", "leakage area for each m², sealed", from_limit="gap.frame_sealed"),
    *WEATHER,
)
def _open_frame(area: float, unsealed: float, sealed: float, **weather: float) -> Loss:
    what = f"leakage area at 4 Pa: {show(unsealed)} cm² for each m² of opening, {show(sealed)} cm² sealed"
    return _leak(require_positive("area", area) * _spared(unsealed, sealed), what, **weather)
