"""Points that are released zone by zone.

A point with `zones` gets a section for each of them, and each of its checks is asked once for every zone,
in the places of that zone. What is asked once for the house, and places in no named zone, stand in a
section of their own. So every check belongs to a part, and the hold lifts with the last part.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from coordination.sequence.conditions import Condition, read_condition
from coordination.sequence.library.entry import Activity, Check, Named
from coordination.sequence.library.refusals import SequenceError

WHOLE_HOUSE = "Whole house"


def name_sections(activity: Activity, zones: Iterable[Named], file: str) -> Activity:
    """The activity with a section for each of its zones; unchanged if it names none."""
    if not activity.zones:
        return activity
    named = {zone.key: zone.name for zone in zones}
    for key in activity.zones:
        if key not in named:
            raise SequenceError(
                file,
                f"activity '{activity.id}'",
                f"zone '{key}' is unknown",
                "name one of " + ", ".join(named),
            )
    return replace(activity, sections=(*(named[key] for key in activity.zones), WHOLE_HOUSE))


def split_checks(checks: Iterable[Check], activities: Iterable[Activity]) -> tuple[Check, ...]:
    """The checks, those at a point with zones once for each zone; `activities` have their sections."""
    points = {activity.id: activity for activity in activities if activity.zones}
    return tuple(part for check in checks for part in _split(check, points))


def _split(check: Check, points: Mapping[str, Activity]) -> list[Check]:
    point = points.get(check.point)
    if point is None or check.section:
        return [check]
    if check.places is None or check.once:
        return [replace(check, section=WHOLE_HOUSE)]
    share = len(point.zones)
    sampling = replace(
        check.sampling,
        least=math.ceil(check.sampling.least / share),
        every=check.sampling.every * share,
    )
    parts = [
        replace(
            check,
            id=f"{check.id}-{zone}",
            section=section,
            places=within(check.places, f'zone == "{zone}"'),
            sampling=sampling,
        )
        for zone, section in zip(point.zones, point.sections, strict=False)
    ]
    elsewhere = " and ".join(f'zone != "{zone}"' for zone in point.zones)
    return [*parts, replace(check, section=WHOLE_HOUSE, places=within(check.places, elsewhere))]


def within(places: Condition, where: str) -> Condition:
    """The places that also meet `where`."""
    return read_condition(f"({places}) and {where}")
