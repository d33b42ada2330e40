"""Every calculation on offer, by name.

>>> calculate("eave", pitch=22.5, heel=100, batt=290, airway=25).result["full_heel"]
315.0
"""

from __future__ import annotations

from coordination.fabric.catalogue.air import AIR
from coordination.fabric.catalogue.heat import HEAT
from coordination.fabric.catalogue.roof import ROOF
from coordination.fabric.catalogue.thickness import THICKNESS
from coordination.fabric.inputs import FabricError
from coordination.fabric.registry import Calculation, Definition

CATALOGUE: dict[str, Definition] = {one.name: one for one in (*ROOF, *THICKNESS, *HEAT, *AIR)}


def find_calculation(name: str) -> Definition:
    """The calculation of that name, or a refusal that lists those on offer."""
    found = CATALOGUE.get(name)
    if found is None:
        raise FabricError("calculation", f"'{name}' is unknown; there are {', '.join(CATALOGUE)}")
    return found


def calculate(name: str, **inputs: object) -> Calculation:
    """Run the calculation `name` on `inputs` (numbers or their text); see `CATALOGUE` for names and units."""
    return find_calculation(name).calculate(inputs)
