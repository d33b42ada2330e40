"""What missing and loose insulation costs: bare shares of a ceiling, voids beside batts, cut-outs.

Never average R over an area: average U. A bare share works beside the batts like an open door beside
a wall; the better the batt, the larger the share of it that is lost.

R in m²K/W, U in W/(m²K).

>>> round(added_r(r=6, base=0.36, fraction=0.05), 2)
3.11
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from coordination.fabric.inputs import (
    FabricError,
    require_fraction,
    require_not_negative,
    require_positive,
    require_some,
    show,
)
from coordination.fabric.sources import find_limit

# ISO 6946, air void correction by level (values from memory; annex D in 2007, annex F in 2017).
VOID_CORRECTIONS = (0.0, find_limit("void.level_1").value, find_limit("void.level_2").value)
NEGLIGIBLE_SHARE = find_limit("void.negligible").value


def parallel_r(parts: Sequence[tuple[float, float]]) -> float:
    """R of areas side by side, given as (share, R), shares adding up to 1: the inverse of their mean U."""
    require_some("parts", parts, "give pairs of share and R")
    for share, r in parts:
        require_fraction("parts", share)
        require_positive("parts", r)
    if abs(sum(share for share, _ in parts) - 1) > 1e-6:
        raise FabricError("parts", "the shares must add up to 1")
    return 1 / sum(share / r for share, r in parts)


def added_r(r: float, base: float, fraction: float) -> float:
    """R that batts of `r` add to a ceiling of `base` when `fraction` of it stays bare."""
    require_not_negative("r", r)
    require_positive("base", base)
    require_fraction("fraction", fraction)
    return 1 / (fraction / base + (1 - fraction) / (r + base)) - base


def lost_share(r: float, base: float, fraction: float) -> float:
    """Share of the batts' R that a bare `fraction` takes away."""
    require_positive("r", r)
    # The last bit of a full ceiling must not read as a gain.
    return min(1.0, max(0.0, 1 - added_r(r, base, fraction) / r))


def most_bare(r: float, base: float) -> float:
    """Bare share from which no batt, however thick, brings back `r`."""
    require_not_negative("r", r)
    require_positive("base", base)
    return base / (r + base)


def restoring_r(r: float, base: float, fraction: float) -> float:
    """R of the batts that bring a ceiling with a bare `fraction` back to an added `r`."""
    require_positive("r", r)
    require_positive("base", base)
    require_fraction("fraction", fraction)
    limit = most_bare(r, base)
    if fraction >= limit:
        raise FabricError(
            "fraction",
            f"{show(fraction)} bare cannot be recovered by any batt: R{show(r)} needs less than {limit:.3f}; "
            "cover the bare part",
        )
    return (1 - fraction) / (1 / (r + base) - fraction / base) - base


def void_correction(level: int, r: float, total: float) -> float:
    """Correction ΔU of ISO 6946 for voids beside insulation of `r` in an element of `total`.

    Level 0: no gap to speak of; 1: gaps bridge the insulation, no air circulates on its warm side;
    2: gaps, and air circulates on the warm side.
    """
    if level not in (0, 1, 2):
        raise FabricError("level", f"{show(level)} is unknown; give 0, 1 or 2")
    require_positive("r", r)
    require_positive("total", total)
    return VOID_CORRECTIONS[level] * (r / total) ** 2


def corrected_u(level: int, r: float, total: float) -> float:
    """U with the void correction, which counts only from 3 % of U on."""
    correction = void_correction(level, r, total)
    u = 1 / total
    return u + correction if correction >= NEGLIGIBLE_SHARE * u else u


def cutout_area(count: int, diameter: float, clearance: float) -> float:
    """Bare area in m² round `count` fittings of `diameter` mm that each keep `clearance` mm free."""
    require_not_negative("count", count)
    require_positive("diameter", diameter)
    require_not_negative("clearance", clearance)
    return count * math.pi * ((diameter / 2 + clearance) / 1000) ** 2
