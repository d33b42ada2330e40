"""Air through a gap that was not sealed: how large it stays, and how much passes in a winter."""

from __future__ import annotations

from coordination.fabric.limits import Limit, Sure

LIST = "NIST CONTAM libraries, residential leakage areas at 4 Pa (list C2)"
MODEL = "ASHRAE Handbook of Fundamentals, basic model of infiltration after Sherman and Grimsrud"

GAPS = (
    Limit(
        key="gap.hole_open",
        value=5,
        unit="cm²",
        meaning="leakage area of a hole through the ceiling's line, as found",
        source=f"{LIST}: ceiling penetration, typical",
        applies="houses in the United States; taken as the default elsewhere",
        sure=Sure.READ,
    ),
    Limit(
        key="gap.hole_sealed",
        value=1,
        unit="cm²",
        meaning="leakage area of the same hole when it is sealed",
        source=f"{LIST}: ceiling penetration, tight",
        applies="houses in the United States; taken as the default elsewhere",
        sure=Sure.READ,
    ),
    Limit(
        key="gap.frame_open",
        value=1.7,
        unit="cm²/m²",
        meaning="leakage area round a frame, for each square metre of its opening, as found",
        source=f"{LIST}: frame of an outside door in a timber wall, typical",
        applies="houses in the United States; taken for windows too, and as the default elsewhere",
        sure=Sure.READ,
    ),
    Limit(
        key="gap.frame_sealed",
        value=0.3,
        unit="cm²/m²",
        meaning="leakage area round the same frame when it is sealed",
        source=f"{LIST}: frame of an outside door in a timber wall, tight",
        applies="houses in the United States; taken for windows too, and as the default elsewhere",
        sure=Sure.READ,
    ),
    Limit(
        key="gap.stack",
        value=0.000145,
        unit="(L/s)²/(cm⁴·K)",
        meaning="how much warm air that rises drives through a gap",
        source=MODEL,
        applies="one storey; 0.000290 with two",
        sure=Sure.MEMORY,
    ),
    Limit(
        key="gap.shelter",
        value=0.000104,
        unit="(L/s)²/(cm⁴·(m/s)²)",
        meaning="how much the wind drives through a gap",
        source=MODEL,
        applies="one storey, heavy shelter by the neighbours; 0.000137 with two storeys",
        sure=Sure.MEMORY,
    ),
    Limit(
        key="gap.wind_speed",
        value=3,
        unit="m/s",
        meaning="mean wind of a winter",
        source="common practice for a suburb",
        applies="where no figure of the place is at hand",
        sure=Sure.PRACTICE,
    ),
)
