"""How cold it is outside in the month in which a surface that was missed is coldest, by climate zone."""

from __future__ import annotations

from coordination.fabric.limits import Limit, Sure

# Mean of the coldest month at a cold place of the zone, rounded: Darwin, inland of Brisbane, Alice Springs,
# Wagga Wagga, Toowoomba, the hills behind Melbourne, Canberra, the Snowy Mountains.
COLDEST = (24, 14, 11, 8, 11, 8, 5, -1)

WINTER = tuple(
    Limit(
        key=f"winter.zone_{zone}",
        value=value,
        unit="°C",
        meaning=f"mean outside in the coldest month, climate zone {zone}",
        source="Bureau of Meteorology, monthly averages of a cold place of the zone, rounded",
        applies="Australia; a place's own figure prevails",
        sure=Sure.MEMORY,
    )
    for zone, value in enumerate(COLDEST, start=1)
)
