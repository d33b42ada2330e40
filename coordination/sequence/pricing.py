"""What each detail of a house costs when it is missed: as the house keeps it, else reckoned when asked.

Houses that were set out before misses were priced keep none. Their own sequence is asked, and where that
prices nothing either, the builder's newest version of it: a price orders lists and tells a trade why; it is
no limit, and nothing of the house changes with it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from django.db.models import Exists, OuterRef

from coordination.sequence import standard
from coordination.sequence.misses_told import weight_of
from coordination.sequence.models import Detail, House, SequenceVersion

Key = tuple[int, str]
"""House and key of a detail."""

PRICED = r"miss(\s*=\s*\{\s*[a-z]|\.(kind|inputs)\s*=|\])"
"""Found in the text of a sequence that prices misses; `miss = {}` prices none."""


def misses_of(rows: Iterable[tuple[int, str, Mapping[str, Any]]]) -> dict[Key, Mapping[str, Any]]:
    """The misses of details given as house, key and what is stored; empty where none can be reckoned.

    Two queries when a house shows none at all, else none.
    """
    found: dict[Key, Mapping[str, Any]] = {(house, key): miss for house, key, miss in rows}
    bare = {house for house, _key in found} - {house for (house, _key), miss in found.items() if miss}
    houses = _read_bare_houses(bare)
    versions = _pricing_versions(houses)
    for house in houses:
        version = versions.get(house.pk)
        reckoned = _reckon(house, version) if version is not None else {}
        for key in [key for owner, key in found if owner == house.pk]:
            found[(house.pk, key)] = reckoned.get(key, {})
    return found


def weigh_details(details: Iterable[Detail | None]) -> dict[int, float]:
    """By detail's id: how much a miss matters beside others, larger first."""
    rows = [one for one in details if one is not None]
    misses = misses_of((one.house_id, one.key, one.miss) for one in rows)
    return {one.pk: weight_of(misses[(one.house_id, one.key)]) for one in rows}


def _read_bare_houses(ids: set[int]) -> list[House]:
    """Of these houses those that keep no price at all."""
    if not ids:
        return []
    priced = Detail.objects.filter(house=OuterRef("pk")).exclude(miss={})
    return list(House.objects.filter(~Exists(priced), pk__in=ids).select_related("sequence_version"))


def _pricing_versions(houses: Iterable[House]) -> dict[int, SequenceVersion]:
    """By house: its own version if that prices misses, else the newest later one of its key that does."""
    found = {one.pk: one.sequence_version for one in houses if re.search(PRICED, one.sequence_version.text)}
    rest = [one for one in houses if one.pk not in found]
    if rest:
        later: dict[tuple[int, str], SequenceVersion] = {}
        versions = SequenceVersion.objects.filter(
            builder__in={one.sequence_version.builder_id for one in rest},
            key__in={one.sequence_version.key for one in rest},
            text__regex=PRICED,
        )
        for version in versions.order_by("number"):
            later[(version.builder_id, version.key)] = version
        for one in rest:
            own = one.sequence_version
            newest = later.get((own.builder_id, own.key))
            if newest is not None and newest.number > own.number:
                found[one.pk] = newest
    return found


def _reckon(house: House, version: SequenceVersion) -> Mapping[str, Mapping[str, Any]]:
    known = json.dumps(house.features, sort_keys=True)
    return _reckon_text(version.text, f"{version.key} {version.number}", known, tuple(house.options))


@lru_cache(maxsize=64)
def _reckon_text(
    text: str, name: str, features: str, options: tuple[str, ...]
) -> Mapping[str, Mapping[str, Any]]:
    entry = standard.read_sequence(text, name)
    asked = {one.key for one in entry.features}
    there = {one.key for one in entry.options}
    given = {key: value for key, value in json.loads(features).items() if key in asked}
    try:
        resolved = standard.resolve(entry, given, [one for one in options if one in there])
    except (standard.FeatureErrors, standard.SequenceError):
        # Another version asks for what this house does not have: then nothing is claimed of it.
        return {}
    return {one.id: miss for one in resolved.details if (miss := standard.miss_of(one, resolved.features))}
