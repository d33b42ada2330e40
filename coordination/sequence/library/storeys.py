"""Details whose numbers differ from storey to storey: brick below, light cladding above.

A feature whose key is that of a zone and of another feature, joined, stands for that other one in the zone:
`upper_wall_outside` says of the upper floor what `wall_outside` says of the house. A detail that asks for
such a feature, and is in the zone and outside it, becomes two where the values differ: drawn, reckoned and
judged with what is there. The part keeps the detail's id with the zone's key behind it. Where a detail is,
the entry's own places say; one that is in the zone alone is asked for its zone's values as it stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from coordination.sequence.conditions import Condition, Value
from coordination.sequence.library.entry import (
    Check,
    Detail,
    LimitRule,
    Named,
    Sampling,
    Source,
    StandardSequence,
)
from coordination.sequence.library.places import places_for
from coordination.sequence.library.zoning import within

Names = Mapping[str, str]
"""By feature the one that stands for it in a zone."""


def part_by_storey(
    entry: StandardSequence, details: Sequence[Detail], checks: Sequence[Check], values: Mapping[str, Value]
) -> tuple[list[Detail], list[Check]]:
    """Details and checks of a house, those that differ from storey to storey once for each."""
    parted, judged = list(details), list(checks)
    for zone in entry.zones:
        stands_for = _find_stand_ins(entry, zone, values)
        if not stands_for:
            continue
        for detail in [one for one in details if _asks_for(one, stands_for)]:
            if detail.places is None:
                continue
            there, elsewhere = _split_places(detail, detail.places, zone)
            at = next(number for number, one in enumerate(parted) if one.id == detail.id)
            if not places_for(there, entry.places, entry):
                continue
            if not places_for(elsewhere, entry.places, entry):
                parted[at] = replace(_read_with(detail, stands_for), id=detail.id, name=detail.name)
                continue
            parted[at : at + 1] = [
                replace(parted[at], places=within(parted[at].places or detail.places, _not(zone))),
                _read_with(there, stands_for),
            ]
            judged = [part for one in judged for part in _part_check(one, detail, zone, stands_for, entry)]
    return parted, judged


def _find_stand_ins(entry: StandardSequence, zone: Named, values: Mapping[str, Value]) -> dict[str, str]:
    """Features that another one stands for in the zone, where this house has two values."""
    before = zone.key.replace("-", "_") + "_"
    found = {one.key: before + one.key for one in entry.features if before + one.key in values}
    return found if any(values[key] != values[other] for key, other in found.items()) else {}


def _asks_for(detail: Detail, stands_for: Names) -> bool:
    given = [*detail.drawing_inputs.values(), *(detail.miss.inputs.values() if detail.miss else ())]
    for source in detail.numbers.values():
        given += [source.feature, *source.inputs.values()]
    return any(one in stands_for for one in given)


def _in(zone: Named) -> str:
    return f'zone == "{zone.key}"'


def _not(zone: Named) -> str:
    return f'zone != "{zone.key}"'


def _split_places(detail: Detail, places: Condition, zone: Named) -> tuple[Detail, Detail]:
    """The detail in the zone, and the detail elsewhere."""
    there = replace(
        detail,
        id=f"{detail.id}-{zone.key}",
        name=f"{detail.name} ({zone.name[:1].lower()}{zone.name[1:]})",
        places=within(places, _in(zone)),
    )
    return there, replace(detail, places=within(places, _not(zone)))


def _read_with(detail: Detail, stands_for: Names) -> Detail:
    """The detail with the features of the zone."""
    miss = detail.miss
    return replace(
        detail,
        drawing_inputs=_swap(detail.drawing_inputs, stands_for),
        numbers=_swap_sources(detail.numbers, stands_for),
        miss=replace(miss, inputs=_swap(miss.inputs, stands_for)) if miss else None,
    )


def _swap(inputs: Mapping[str, str | float], stands_for: Names) -> dict[str, str | float]:
    return {
        name: stands_for.get(given, given) if isinstance(given, str) else given
        for name, given in inputs.items()
    }


def _swap_sources(numbers: Mapping[str, Source], stands_for: Names) -> dict[str, Source]:
    return {name: _swap_source(source, stands_for) for name, source in numbers.items()}


def _swap_source(source: Source, stands_for: Names) -> Source:
    feature = stands_for.get(source.feature, source.feature)
    return replace(source, feature=feature, inputs=_swap(source.inputs, stands_for))


def _swap_limit(limit: LimitRule | None, stands_for: Names) -> LimitRule | None:
    if limit is None:
        return None
    high = _swap_source(limit.high, stands_for) if limit.high is not None else None
    return replace(limit, of=_swap_source(limit.of, stands_for), high=high)


def _part_check(
    check: Check, detail: Detail, zone: Named, stands_for: Names, entry: StandardSequence
) -> Iterable[Check]:
    """The check, and what of it belongs to the detail's part in the zone."""
    if check.detail != detail.id or check.once or check.places is None:
        return [check]
    part = replace(
        check,
        detail=f"{detail.id}-{zone.key}",
        numbers=_swap_sources(check.numbers, stands_for),
        limit=_swap_limit(check.limit, stands_for),
    )
    if any(zone.key in one.zones for one in entry.activities if one.id == check.point):
        # Asked zone by zone already: one of those parts is this one.
        return [part if check.section == zone.name else check]
    fewer = _halve(check.sampling)
    return [
        replace(check, places=within(check.places, _not(zone)), sampling=fewer),
        replace(part, id=f"{check.id}-{zone.key}", places=within(check.places, _in(zone)), sampling=fewer),
    ]


def _halve(sampling: Sampling) -> Sampling:
    """Of a sample over the house, what is looked at in one of two parts."""
    return replace(sampling, least=math.ceil(sampling.least / 2), every=sampling.every * 2)
