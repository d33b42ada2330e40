"""Every limit with its value, unit, source, where it applies and how sure we are.

No limit is a truth of nature: a builder, a certifier or a maker's instruction may overrule each that
is marked so, and the record then names the new source. Where a standard was not at hand, the value is
marked "published, from memory": read the standard before you rely on it.

>>> find_limit("airway.least").value
25
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from coordination.fabric.inputs import FabricError
from coordination.fabric.limits import Limit, Sure
from coordination.fabric.limits.air import AIR
from coordination.fabric.limits.gaps import GAPS
from coordination.fabric.limits.heat import HEAT
from coordination.fabric.limits.pipes_and_cables import SERVICES
from coordination.fabric.limits.thickness import THICKNESS
from coordination.fabric.limits.winter import WINTER

__all__ = ["LIMITS", "Limit", "Sure", "find_limit"]

LIMITS: Mapping[str, Limit] = MappingProxyType(
    {one.key: one for one in (*THICKNESS, *HEAT, *AIR, *GAPS, *SERVICES, *WINTER)}
)


def find_limit(key: str) -> Limit:
    """The limit of that key, or a refusal that lists what there is."""
    found = LIMITS.get(key)
    if found is None:
        raise FabricError(key, f"is no limit; there are {', '.join(sorted(LIMITS))}")
    return found
