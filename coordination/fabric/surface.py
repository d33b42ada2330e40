"""Inside surface temperature, and whether mould can grow on it (ISO 13788).

Temperatures in °C, U in W/(m²K), humidity as a share.

Mould needs no wet wall: 80 % relative humidity at the surface, over weeks, is enough. The check uses a
larger inside film (0.25 m²K/W: corners, cupboards, curtains) than the heat loss does (0.13).
"""

from __future__ import annotations

import math

from coordination.fabric.inputs import FabricError, require_positive, show

MOULD_FILM = 0.25
MOULD_HUMIDITY = 0.8
# No room is drier; a smaller number above 1 is a slip.
LEAST_PER_CENT = 5
# Magnus constants over water, as ISO 13788 writes them (Pa, dimensionless, °C).
PRESSURE_AT_ZERO = 610.5
SLOPE = 17.269
OFFSET = 237.3


def saturation_pressure(temperature: float) -> float:
    """Water vapour saturation pressure in Pa, for 0 °C and above."""
    return PRESSURE_AT_ZERO * math.exp(SLOPE * temperature / (OFFSET + temperature))


def temperature_at(pressure: float) -> float:
    """Temperature at which `pressure` (Pa) saturates the air: the inverse of `saturation_pressure`."""
    logarithm = math.log(require_positive("pressure", pressure) / PRESSURE_AT_ZERO)
    return OFFSET * logarithm / (SLOPE - logarithm)


def read_humidity(name: str, humidity: float) -> float:
    """Relative humidity as a share: up to 1 taken as it is, from 5 to 100 as per cent.

    Between them nobody knows what was meant: 1.5 may be a slip for 15 % or for 0.15.
    """
    if not math.isfinite(humidity) or not 0 < humidity <= 100 or 1 < humidity < LEAST_PER_CENT:
        raise FabricError(
            name, f"{show(humidity)} is no humidity; give 0.5 or 50 for one half, {LEAST_PER_CENT} % at least"
        )
    return humidity / 100 if humidity > 1 else humidity


def require_warmer_inside(inside: float, outside: float) -> None:
    """Refuse a house that is not warmer than the air outside: no surface factor exists."""
    for name, value in (("inside", inside), ("outside", outside)):
        if not math.isfinite(value) or not -60 <= value <= 60:
            raise FabricError(name, f"{show(value)} °C is no air temperature; give -60 to 60")
    if inside <= outside:
        raise FabricError(
            "inside", f"{show(inside)} °C is not warmer than {show(outside)} °C outside; give a winter's day"
        )


def surface_factor(u: float, film: float = MOULD_FILM) -> float:
    """Temperature factor fRsi of a plain element on the mould check's film (0.25).

    `film` is the inside surface resistance that `u` was reckoned with. With 0.25 this is 1 - 0.25·U, as
    ISO 13788 writes it; a U for heat loss carries 0.13, and then the film is exchanged first.
    """
    require_positive("film", film)
    r = 1 / require_positive("u", u)
    if r <= film:
        raise FabricError("u", f"{show(u)} is more than the inside film alone lets through; check the value")
    return 1 - MOULD_FILM / (r - film + MOULD_FILM)


def surface_temperature(u: float, inside: float, outside: float, film: float = MOULD_FILM) -> float:
    """Temperature of the inside surface on the mould check's film."""
    require_warmer_inside(inside, outside)
    return outside + surface_factor(u, film) * (inside - outside)


def lowest_safe_temperature(inside: float, humidity: float) -> float:
    """Coldest inside surface on which the humidity stays at or under 80 %."""
    share = read_humidity("humidity", humidity)
    return temperature_at(share / MOULD_HUMIDITY * saturation_pressure(inside))


def dew_point(inside: float, humidity: float) -> float:
    """Temperature at which the room's air drips."""
    return temperature_at(read_humidity("humidity", humidity) * saturation_pressure(inside))


def needed_factor(inside: float, outside: float, humidity: float) -> float:
    """Least fRsi that keeps mould away at this inside climate and outside temperature."""
    require_warmer_inside(inside, outside)
    return (lowest_safe_temperature(inside, humidity) - outside) / (inside - outside)
