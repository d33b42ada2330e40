"""What it costs to leave a detail undone, in one plain sentence, and what that sentence stands on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _


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
    facts = {
        "loss": f"{stored['loss']:.2g}" if stored["loss"] < 10 else f"{stored['loss']:.0f}",
        "share": _say_share(stored["kind"]) % {"share": f"{100 * stored['share']:.0f}"},
    }
    words = _say_start(stored["kind"]) % facts
    if stored["mould"]:
        words = _("%(words)s; mould can grow there") % {"words": words}
    elif stored["temperature"] is not None:
        facts = {"words": words, "degrees": f"{stored['temperature']:.0f}"}
        words = _("%(words)s; the surface cools to %(degrees)s °C") % facts
    return MissTold(
        words=f"{words}.",
        assumptions=tuple(stored["assumptions"]),
        inputs=tuple(f"{meaning}: {value:g} {unit}".strip() for meaning, unit, value in stored["inputs"]),
    )


def weight_of(stored: Mapping[str, Any]) -> float:
    """How much a miss matters beside others, larger first: mould before heat, then the loss in W/K."""
    if not stored:
        return 0.0
    return float(stored["loss"]) + (1000.0 if stored["mould"] else 0.0)


def _say_start(kind: str) -> str:
    starts = {
        "bare_perimeter": _("Left bare, this strip loses %(loss)s W/K: %(share)s"),
        "bare_ceiling": _("Left bare, this share of the ceiling loses %(loss)s W/K: %(share)s"),
        "crushed_platform": _("Crushed under the deck, the batts lose %(loss)s W/K: %(share)s"),
        "empty_bay": _("Each bay left empty loses %(loss)s W/K: %(share)s"),
        "squeezed_strip": _("Each squeezed batt loses %(loss)s W/K: %(share)s"),
        "open_void": _("Each void left open loses %(loss)s W/K: %(share)s"),
        "empty_pocket": _("Each pocket left empty loses %(loss)s W/K: %(share)s"),
        "bare_face": _("Each square metre of the face left bare loses %(loss)s W/K: %(share)s"),
        "off_the_plane": _("Batts that hang off the plane lose %(loss)s W/K: %(share)s"),
    }
    return starts.get(kind, _("Left undone, this loses %(loss)s W/K: %(share)s"))


def _say_share(kind: str) -> str:
    if kind in ("bare_perimeter", "bare_ceiling"):
        return _("%(share)s %% of the ceiling's added R")
    if kind in ("crushed_platform", "squeezed_strip"):
        return _("%(share)s %% of the batt's R there")
    if kind in ("empty_bay", "empty_pocket"):
        return _("%(share)s %% of the wall's R there")
    return _("%(share)s %% of the R there")
