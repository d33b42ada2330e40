"""To-scale sections of the details, drawn from the numbers that the checks use.

>>> "519" in draw("eave", pitch=22.5, heel=100, batt=290)
True
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from coordination.fabric.drawings.air_seal import VOID_CAP, WINDOW_SEAL
from coordination.fabric.drawings.bulkheads import BULKHEAD
from coordination.fabric.drawings.drawing import Drawing
from coordination.fabric.drawings.eave import EAVE
from coordination.fabric.drawings.faces import LINTEL, PIECES, SWITCHBOARD, WRAP_LAPS
from coordination.fabric.drawings.floor_services import FLOOR_DUCT, FLOOR_PIPES, RIM
from coordination.fabric.drawings.floors import FLOOR_ZONE, PLATFORM
from coordination.fabric.drawings.garage import GARAGE_WALL, SEAL_LINE
from coordination.fabric.drawings.inside_walls import INNER_BAY
from coordination.fabric.drawings.openings import EXHAUST_DUCT, PLATE_HOLE, RIDGE, SLAB_EDGE
from coordination.fabric.drawings.outside_walls import ABUTMENT, CAVITY
from coordination.fabric.drawings.pockets import POCKETS
from coordination.fabric.drawings.roof_space import CLEAR_FITTING, LINING_PLANE, RAKED_WALL, TRUSS_PIPES
from coordination.fabric.drawings.steel import BREAK_ROOF, BREAK_WALL, GROMMET
from coordination.fabric.drawings.walls import PIPE_SPLIT, STUD_BAY
from coordination.fabric.inputs import FabricError

__all__ = ["DRAWINGS", "Drawing", "draw"]

DRAWINGS: Mapping[str, Drawing] = MappingProxyType(
    {
        one.name: one
        for one in (
            EAVE,
            PLATFORM,
            FLOOR_ZONE,
            RIM,
            FLOOR_PIPES,
            FLOOR_DUCT,
            STUD_BAY,
            INNER_BAY,
            PIPE_SPLIT,
            POCKETS,
            VOID_CAP,
            BULKHEAD,
            TRUSS_PIPES,
            RAKED_WALL,
            SWITCHBOARD,
            WINDOW_SEAL,
            WRAP_LAPS,
            LINTEL,
            PIECES,
            LINING_PLANE,
            CLEAR_FITTING,
            RIDGE,
            EXHAUST_DUCT,
            PLATE_HOLE,
            SLAB_EDGE,
            ABUTMENT,
            CAVITY,
            GARAGE_WALL,
            SEAL_LINE,
            BREAK_ROOF,
            BREAK_WALL,
            GROMMET,
        )
    }
)


def draw(name: str, labels: Mapping[str, str] | None = None, **numbers: object) -> str:
    """The drawing `name` as SVG text, for these numbers in mm, degrees and so on.

    `labels` replaces texts by their key (see `DRAWINGS[name].labels`); numbers are written into them by
    name in braces. Unknown drawings, numbers and texts are refused by name.
    """
    found = DRAWINGS.get(name)
    if found is None:
        raise FabricError("drawing", f"'{name}' is unknown; there are {', '.join(DRAWINGS)}")
    return found.draw(numbers, labels)
