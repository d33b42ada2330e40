"""Matter: heat, thickness and geometry of the things that plasterboard hides, and drawings of them.

Standard library only; no database, no clock, no web framework.

>>> from coordination.fabric import calculate
>>> calculate("platform", joist=90, batt=290).result
{'rise': 200.0}
"""

from __future__ import annotations

from coordination.fabric.catalogue import CATALOGUE, calculate
from coordination.fabric.inputs import FabricError
from coordination.fabric.registry import Calculation, Definition, Input, Result
from coordination.fabric.sources import LIMITS, Limit, Sure, find_limit

__all__ = [
    "CATALOGUE",
    "LIMITS",
    "Calculation",
    "Definition",
    "FabricError",
    "Input",
    "Limit",
    "Result",
    "Sure",
    "calculate",
    "find_limit",
]
