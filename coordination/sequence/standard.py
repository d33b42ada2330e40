"""Entries of the library of standard sequences: read, resolve for a house, lint, compute limits.

    sequence = read_sequence(Path("fixtures/sequences/brick_veneer_90.toml"))
    house = resolve(sequence, {"pitch": 25, "heel": 150}, options=["ceiling-from-above"])
    findings = lint(house)
    limit_for(house.checks[0], house.features)

The modules behind this door are in `coordination.sequence.library`; the condition language is
`coordination.sequence.conditions`. Nothing here touches a database.
"""

from __future__ import annotations

from coordination.sequence.library.entry import (
    HOLDING,
    Activity,
    Check,
    Delivery,
    Detail,
    Feature,
    Link,
    LongestGap,
    Option,
    ResolvedSequence,
    Sampling,
    StandardSequence,
    StarterPlace,
    Trade,
    Visit,
)
from coordination.sequence.library.features import check_features
from coordination.sequence.library.limits import Limit, drawing_for, limit_for, number_for
from coordination.sequence.library.linting import lint, lint_entry
from coordination.sequence.library.misses import miss_of
from coordination.sequence.library.network import early_dates
from coordination.sequence.library.places import PlaceLike, places_for
from coordination.sequence.library.possible import find_impossible_numbers
from coordination.sequence.library.reading import flatten, read_sequence
from coordination.sequence.library.refusals import FeatureErrors, Finding, SequenceError
from coordination.sequence.library.resolving import resolve
from coordination.sequence.library.rows import BELOW_ZERO
from coordination.sequence.library.texts_read import refuse_misread
from coordination.sequence.library.trades_needed import options_of_trade
from coordination.sequence.library.visits import holds_before

__all__ = [
    "BELOW_ZERO",
    "HOLDING",
    "Activity",
    "Check",
    "Delivery",
    "Detail",
    "Feature",
    "FeatureErrors",
    "Finding",
    "Limit",
    "Link",
    "LongestGap",
    "Option",
    "PlaceLike",
    "ResolvedSequence",
    "Sampling",
    "SequenceError",
    "StandardSequence",
    "StarterPlace",
    "Trade",
    "Visit",
    "check_features",
    "drawing_for",
    "early_dates",
    "find_impossible_numbers",
    "flatten",
    "holds_before",
    "limit_for",
    "lint",
    "lint_entry",
    "miss_of",
    "number_for",
    "options_of_trade",
    "places_for",
    "read_sequence",
    "refuse_misread",
    "resolve",
]
