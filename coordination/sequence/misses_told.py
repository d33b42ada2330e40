"""What it costs to leave a detail undone, in one plain sentence, and what that sentence stands on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from coordination.fabric.numerals import write_number

BANDS: Mapping[str, float] = {
    "danger": 50_000.0,
    "damp": 40_000.0,
    "heat": 30_000.0,
    "metal": 20_000.0,
    "comfort": 10_000.0,
}
"""Where each rank begins: so far apart that no house's loss in W/K reaches from one into the next."""
MOST = 9_999.0


@dataclass(frozen=True)
class MissTold:
    """One sentence for the trade; `assumptions` and `inputs` for whoever wants to know."""

    words: str
    assumptions: tuple[str, ...]
    inputs: tuple[str, ...]


def tell_miss(stored: Mapping[str, Any]) -> MissTold | None:
    """The cost that a house keeps with a detail, in words; None where none is reckoned."""
    if not stored:
        return None
    return MissTold(
        words=f"{_say_harm(stored) or _say_heat(stored)}.",
        assumptions=tuple(stored["assumptions"]),
        inputs=tuple(
            f"{meaning}: {write_number(value)} {unit}".strip() for meaning, unit, value in stored["inputs"]
        ),
    )


def weight_of(stored: Mapping[str, Any]) -> float:
    """How much a miss matters beside others, larger first; 0 where nothing is said of it.

    People first, then what lets damp in or mould grow, then heat by its loss in W/K, then what no figure
    can compare. Houses set out before ranks were kept have heat and mould alone.
    """
    if not stored:
        return 0.0
    rank = stored.get("rank") or ("damp" if stored["mould"] else "heat")
    return BANDS[rank] + min(float(stored["loss"]), MOST)


def _say_heat(stored: Mapping[str, Any]) -> str:
    areas = [value for _meaning, unit, value in stored["inputs"] if unit == "m²"]
    facts = {"loss": _say_loss(stored["loss"]), "area": f"{areas[0]:g}" if areas else ""}
    words = _say_start(stored["kind"]) % facts
    if stored["share"] is not None:
        share = _say_share(stored) % {"share": f"{100 * stored['share']:.0f}"}
        words = _("%(words)s: %(share)s") % {"words": words, "share": share}
    return _say_surface(stored, words)


def _say_loss(loss: float) -> str:
    return f"{loss:.2g}" if loss < 10 else f"{loss:.0f}"


def _say_surface(stored: Mapping[str, Any], words: str) -> str:
    """How cold the surface gets, in which winter, and whether mould can grow on it."""
    if stored["temperature"] is None:
        return words
    climate = stored.get("climate") or {}
    facts = {"words": words, "degrees": f"{stored['temperature']:.0f}"}
    facts |= {name: f"{climate[name]:g}" for name in ("outside", "humidity") if name in climate}
    if stored["mould"]:
        if climate:
            return (
                _(
                    "%(words)s; the surface cools to %(degrees)s °C at %(outside)s °C outside: with "
                    "%(humidity)s %% humidity mould can grow there"
                )
                % facts
            )
        return _("%(words)s; the surface cools to %(degrees)s °C: mould can grow there") % facts
    if climate:
        words = _("%(words)s; the surface cools to %(degrees)s °C at %(outside)s °C outside") % facts
    else:
        words = _("%(words)s; the surface cools to %(degrees)s °C") % facts
    if stored.get("between_steel"):
        return _("%(words)s, and further beside the steel, where mould is not judged") % {"words": words}
    return words


def _say_start(kind: str) -> str:
    starts = {
        "bare_perimeter": _("Left bare, this strip loses %(loss)s W/K"),
        "bare_strip": _("Left bare on one side, this strip loses %(loss)s W/K"),
        "bare_ceiling": _("Left bare, this share of the ceiling loses %(loss)s W/K"),
        "bare_floor": _("Each square metre of this floor left bare loses %(loss)s W/K"),
        "crushed_platform": _("Crushed under the deck, the batts lose %(loss)s W/K"),
        "empty_bay": _("Each bay left empty loses %(loss)s W/K"),
        "empty_garage_bay": _("Each bay left empty loses %(loss)s W/K"),
        "gap_between_pieces": _("Each gap of a finger's width across a bay loses %(loss)s W/K"),
        "bare_lintel": _("Each lintel left bare loses %(loss)s W/K"),
        "empty_rim": _("Each metre of rim left empty loses %(loss)s W/K"),
        "squeezed_strip": _("Each squeezed batt loses %(loss)s W/K"),
        "open_void": _("Each void left open loses %(loss)s W/K"),
        "empty_pocket": _("Each pocket left empty loses %(loss)s W/K"),
        "bare_face": _("Each square metre of the face left bare loses %(loss)s W/K"),
        "off_the_plane": _("Over %(area)s m², batts that hang off the plane lose %(loss)s W/K"),
        "open_hole": _("Through each hole left open the winter's air carries %(loss)s W/K out"),
        "open_frame": _("Round each frame left open the winter's air carries %(loss)s W/K out"),
    }
    return starts.get(kind, _("Left undone, this loses %(loss)s W/K"))


def _say_share(stored: Mapping[str, Any]) -> str:
    if stored.get("between_steel"):
        return _("%(share)s %% of the R there, midway between the steel")
    kind = stored["kind"]
    if kind in ("bare_perimeter", "bare_strip", "bare_ceiling"):
        return _("%(share)s %% of the ceiling's added R")
    if kind in ("crushed_platform", "squeezed_strip"):
        return _("%(share)s %% of the batt's R there")
    if kind in ("empty_bay", "empty_garage_bay", "empty_pocket", "gap_between_pieces", "bare_lintel"):
        return _("%(share)s %% of the wall's R there")
    return _("%(share)s %% of the R there")


def _say_harm(stored: Mapping[str, Any]) -> str:
    """What a miss does that is no loss of heat; empty for one that is."""
    harms = {
        "hot_fitting": _(
            "Batt too near, a hot fitting can set the ceiling on fire: that comes before any heat. "
            "The ring that has to stay clear costs %(loss)s W/K for each"
        ),
        "fumes": _("Left open, a car's fumes reach the rooms: danger to life, before any heat"),
        "pierced_cable": _("A fixing can meet a live cable or a pipe: danger to life, before any heat"),
        "live_frame": _("A bare edge cuts a sheath and the whole frame can be live: danger to life"),
        "rain_in": _("Left open, rain gets into the wall: timber rots, mould grows; no heat is reckoned"),
        "ground_damp": _("Left open, the ground's damp rises for the life of the house; no heat is reckoned"),
        "stale_roof_air": _(
            "Without this way for air, damp stays in the roof: mould and rot there; no heat is reckoned"
        ),
        "damp_air_inside": _("Damp air ends inside the house's fabric: mould there; no heat is reckoned"),
        "leaking_pipe": _("A leak here is seen when the lining stains: damp and mould; no heat is reckoned"),
        "frozen_pipe": _(
            "A pipe on the cold side can freeze and burst: water in the wall; no heat is reckoned"
        ),
        "metal_bridge": _("Bare metal carries heat past the batts; how much has no plain method"),
        "noise": _("Sound passes from room to room; little heat is lost, none is reckoned"),
    }
    return harms.get(stored["kind"], "") % {"loss": _say_loss(stored["loss"])}
