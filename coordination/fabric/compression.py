"""What a batt still resists when it is squeezed.

R in m²K/W, lengths in mm. A squeezed batt conducts less per millimetre but has fewer of them, so its
R per millimetre rises and its R falls. Two laws over s = depth / batt thickness:

* fitted: R·s^0.62, fitted to the 17 squeezed cells of a glass-fibre maker's chart printed in the
  Journal of Light Construction (root-mean-square error 3.2 %, worst 6.1 %);
* proportional: R·s, a safe lower bound, as if squeezing helped nothing.

Neither is taken below half the thickness: the chart has no cell there. The chart itself is kept beside them.
"""

from __future__ import annotations

import math

from coordination.fabric.inputs import FabricError, require_positive, show

FITTED_EXPONENT = 0.62
LEAST_SHARE = 0.5

IMPERIAL_R = 5.678
"""h·ft²·°F/Btu in one m²K/W."""

CHART: dict[tuple[float, float], dict[float, float]] = {
    (19, 6.25): {3.5: 14, 5.5: 18, 7.25: 19},
    (21, 5.5): {3.5: 15, 5.5: 21},
    (22, 6.5): {3.5: 15, 5.5: 20, 7.25: 22},
    (25, 8): {5.5: 20, 7.25: 24, 9.25: 25},
    (30, 8.25): {5.5: 22, 7.25: 27, 9.25: 30},
    (30, 10): {5.5: 21, 7.25: 26, 9.25: 29, 11.25: 30},
    (38, 10): {7.25: 30, 9.25: 36, 11.25: 38},
    (38, 12): {7.25: 28, 9.25: 33, 11.25: 37},
}
"""A glass-fibre maker's chart as the Journal of Light Construction printed it: label (h·ft²·°F/Btu) and
thickness (in) of a batt; what it resists in a cavity of so many inches. Other makers' charts differ by
about 1 in the label's unit."""


def squeeze_share(batt: float, depth: float) -> float:
    """Depth as a share of the batt's thickness: 1 where the batt is not squeezed, refused below one half."""
    require_positive("batt", batt)
    require_positive("depth", depth)
    share = min(1.0, depth / batt)
    if share < LEAST_SHARE:
        raise FabricError(
            "depth",
            f"{show(depth)} mm is less than half of the {show(batt)} mm batt and no measurement reaches "
            "there; use a thinner batt, or split it",
        )
    return share


def compressed_r(r: float, batt: float, depth: float) -> float:
    """R of a batt of thickness `batt` held in `depth`, by the fitted law."""
    return require_positive("r", r) * math.pow(squeeze_share(batt, depth), FITTED_EXPONENT)


def charted_r(label: float, thickness: float, cavity: float) -> float:
    """R in m²K/W of a batt as the chart gives it; `label` in h·ft²·°F/Btu, the lengths in inches.

    Raises:
        FabricError: the chart has no such batt, or none in such a cavity; it names those that it has.
    """
    for name, value in (("label", label), ("thickness", thickness), ("cavity", cavity)):
        require_positive(name, value)
    batt = CHART.get((label, thickness))
    if batt is None:
        known = ", ".join(f"R{show(one)} of {show(depth)} in" for one, depth in CHART)
        raise FabricError(
            "label" if label not in {one for one, _depth in CHART} else "thickness",
            f"the chart has no R{show(label)} batt of {show(thickness)} in; it has {known}. "
            "For any other take the fitted law",
        )
    if cavity not in batt:
        known = ", ".join(show(one) for one in batt)
        raise FabricError(
            "cavity",
            f"the chart has this batt in cavities of {known} in, not of {show(cavity)} in; "
            "between them take the fitted law",
        )
    return batt[cavity] / IMPERIAL_R


def compressed_r_low(r: float, batt: float, depth: float) -> float:
    """R of a squeezed batt by the proportional lower bound."""
    return require_positive("r", r) * squeeze_share(batt, depth)
