"""The nightly count: holds, network and checks as the sequence asks, lifted holds as the record says.

Triggers and acts keep all of it so. A line here is a fault to be looked into: somebody wrote in the database
past both.
"""

from __future__ import annotations

import json
from typing import Any

from coordination.sequence.models import Hold, House
from coordination.sequence.recounting import foreseen_places, recount_network, resolve_again
from coordination.sequence.standard import ResolvedSequence
from hold_points.models import Check, Inspection, RecordEntry, Release
from hold_points.standard import describe_checks

ASKED = ("safety", "evidence", "kind", "section")
"""What a check must still ask as its sequence does. A later version of the program may reckon a limit
otherwise; the triggers keep the one that the house was given."""


def recount(house: House) -> list[str]:
    """Every difference of a house from its sequence and from its record, one line each; empty is good."""
    resolved = resolve_again(house)
    if isinstance(resolved, str):
        return [resolved, *_compare_with_record(house)]
    return [
        *recount_network(house, resolved),
        *_compare_checks(house, resolved),
        *_compare_with_record(house),
    ]


def _compare_checks(house: House, resolved: ResolvedSequence) -> list[str]:
    """Checks that the sequence asks for and the house does not, or asks otherwise."""
    inspections = {
        one.point.key: one for one in Inspection.objects.filter(house=house).select_related("point")
    }
    found = [
        f"{house}: {one.id} has no inspection"
        for one in resolved.activities
        if one.is_point and one.id not in inspections
    ]
    current = {
        (one.inspection_id, one.key, one.place_id): one
        for one in Check.objects.filter(inspection__house=house, withdrawn_at=None)
    }
    wanted = describe_checks(house, resolved, inspections, foreseen_places(house))
    for same, asked in wanted.items():
        there = current.get(same)
        where = f" ({asked.place.name})" if asked.place else ""
        name = f"{house}: {asked.inspection.point.key}, '{asked.text}'{where}"
        if there is None:
            found.append(f"{name} is no longer checked")
        elif any(getattr(there, one) != getattr(asked, one) for one in ASKED):
            found.append(f"{name} asks something else than the sequence")
        elif bool(there.sample) != bool(asked.sample):
            found.append(f"{name} is not looked at as often as the sequence asks")
    return found


def _compare_with_record(house: House) -> list[str]:
    """Lifted holds whose release is not of their point, not in the record, or older than a re-opening."""
    entries = list(
        RecordEntry.objects.filter(house=house, kind__in=("release", "part release", "re-opening"))
        .order_by("n")
        .values_list("n", "kind", "text")
    )
    numbers: dict[str, int] = {}
    reopened: dict[str, int] = {}
    for n, kind, text in entries:
        facts: dict[str, Any] = json.loads(text)["facts"]
        if kind == "re-opening":
            reopened[str(facts.get("point"))] = n
        else:
            numbers[str(facts.get("release"))] = n
    points = {
        one.pk: one.inspection.point_id
        for one in Release.objects.filter(inspection__house=house).select_related("inspection")
    }
    found = []
    for hold in Hold.objects.filter(house=house, lifted_at__isnull=False).select_related("point"):
        signed = hold.lifted_by
        entry = numbers.get(str(signed))
        if signed is None or points.get(signed) != hold.point_id:
            found.append(f"{house}: {hold.label} is lifted by no release of its point")
        elif entry is None:
            found.append(f"{house}: {hold.label} is lifted by a release that is not in the record")
        elif reopened.get(hold.point.key, 0) > entry:
            found.append(f"{house}: {hold.label} is lifted by a release from before it was re-opened")
    return found
