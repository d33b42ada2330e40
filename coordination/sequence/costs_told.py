"""What it costs to leave details undone, in words, for many rows of a page at once."""

from __future__ import annotations

from collections.abc import Iterable

from coordination.sequence.misses_told import MissTold, tell_miss
from coordination.sequence.models import Detail
from coordination.sequence.pricing import misses_of


def tell_costs(details: Iterable[Detail | None]) -> dict[int, MissTold]:
    """By detail's id what a miss costs; a detail without a price is not there.

    As few queries as `misses_of`, however many details: give all of a page together.
    """
    rows = {one.pk: one for one in details if one is not None}
    misses = misses_of((one.house_id, one.key, one.miss) for one in rows.values())
    told = {pk: tell_miss(misses[(one.house_id, one.key)]) for pk, one in rows.items()}
    return {pk: words for pk, words in told.items() if words is not None}
