"""What a miss costs: heat, share of the element's R, surface temperature, and whether mould can grow.

Each answer is for the place that was missed, in this house's numbers, and carries the assumptions it
stands on. Losses are in W/K: times the degrees between inside and outside they are watts. What is no
loss of heat (fire, fumes, water, damp air, noise) gets no figure, but a rank and its reason.

>>> bay = cost_miss("empty_bay", clear=555, height=2.4, r=2.5, depth=90)
>>> round(bay.temperature, 1), bay.mould
(15.7, False)
"""

from coordination.fabric.misses import ceilings, harm, leaks, walls
from coordination.fabric.misses.costing import Miss, cost_miss
from coordination.fabric.misses.kinds import MISSES, Loss, MissKind, Rank

__all__ = [
    "MISSES",
    "Loss",
    "Miss",
    "MissKind",
    "Rank",
    "ceilings",
    "cost_miss",
    "harm",
    "leaks",
    "walls",
]
