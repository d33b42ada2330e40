"""How much of a sample is looked at: tightened and eased over a crew's houses, detail by detail. Pure.

After the switching of ISO 2859-1 between normal, tightened and reduced inspection, with a house as the lot.
There it counts lots of a factory (two of five refused tighten, five accepted ease again, a score of thirty
reduces); houses are fewer, so the counts here are common practice on house sites and the builder's to change.

A house is clean when nothing of the detail was found not met at the first look. Two rooms of one house that
miss it tighten (twice as many places) until so many houses in a row were clean; so many clean houses in a row
reduce (half as many, never less than one); one miss ends a reduction and any run of clean houses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

ROOMS_THAT_TIGHTEN = 2


class Severity(StrEnum):
    """How closely a crew's detail is looked at."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"


@dataclass(frozen=True)
class Lot:
    """One house of a crew that was walked: in how many rooms the detail was not met at the first look."""

    house: str
    rooms_missed: int

    @property
    def clean(self) -> bool:
        return self.rooms_missed == 0


@dataclass(frozen=True)
class Switch:
    """What the crew's earlier houses make of its next one. `since`: the house that tightened it."""

    severity: Severity
    clean_in_a_row: int = 0
    since: Lot | None = None


def find_severity(lots: Sequence[Lot], *, tightened_for: int = 3, reduced_after: int = 5) -> Switch:
    """Go through a crew's houses in the order in which they were walked.

    Args:
        tightened_for: clean houses in a row that end tightened inspection.
        reduced_after: clean houses in a row that allow reduced inspection.
    """
    severity, clean, since = Severity.NORMAL, 0, None
    for lot in lots:
        clean = clean + 1 if lot.clean else 0
        if lot.rooms_missed >= ROOMS_THAT_TIGHTEN:
            severity, since = Severity.TIGHTENED, lot
        elif severity is Severity.TIGHTENED:
            if clean >= tightened_for:
                # Those houses were looked at more closely: the run towards a reduction begins now.
                severity, since, clean = Severity.NORMAL, None, 0
        elif not lot.clean:
            severity = Severity.NORMAL
        elif clean >= reduced_after:
            severity = Severity.REDUCED
    return Switch(severity, clean, since)


def size_of(normal: int, severity: Severity, most: int | None = None) -> int:
    """How many places are looked at where it would be `normal`: twice, or half of them, at least one."""
    wanted = {
        Severity.NORMAL: normal,
        Severity.TIGHTENED: 2 * normal,
        Severity.REDUCED: math.ceil(normal / 2),
    }[severity]
    found = max(1, wanted)
    return found if most is None else min(found, most)


def say_why(switch: Switch, crew: str) -> str:
    """Why it is so many, in words for the walk and the record."""
    if switch.severity is Severity.TIGHTENED and switch.since is not None:
        return _("twice as many: %(crew)s missed it in %(rooms)d rooms at %(house)s") % {
            "crew": crew,
            "rooms": switch.since.rooms_missed,
            "house": switch.since.house,
        }
    if switch.severity is Severity.REDUCED:
        return _("half as many: the last %(count)d houses of %(crew)s were clean") % {
            "count": switch.clean_in_a_row,
            "crew": crew,
        }
    if not crew:
        return _("the usual number: no crew is booked for it")
    return ngettext(
        "the usual number: %(count)d clean house of %(crew)s in a row",
        "the usual number: %(count)d clean houses of %(crew)s in a row",
        switch.clean_in_a_row,
    ) % {"count": switch.clean_in_a_row, "crew": crew}
