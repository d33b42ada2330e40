"""What a batt still resists when it is squeezed.

R in m²K/W, lengths in mm. A squeezed batt conducts less per millimetre but has fewer of them, so its
R per millimetre rises and its R falls. Two laws over s = depth / batt thickness:

* fitted: R·s^0.62, fitted to the 17 squeezed cells of a glass-fibre maker's chart printed in the
  Journal of Light Construction (root-mean-square error 3.2 %, worst 6.1 %);
* proportional: R·s, a safe lower bound, as if squeezing helped nothing.

Neither is taken below half the thickness: the chart has no cell there.
"""

from __future__ import annotations

import math

from coordination.fabric.inputs import FabricError, require_positive, show

FITTED_EXPONENT = 0.62
LEAST_SHARE = 0.5


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


def compressed_r_low(r: float, batt: float, depth: float) -> float:
    """R of a squeezed batt by the proportional lower bound."""
    return require_positive("r", r) * squeeze_share(batt, depth)
