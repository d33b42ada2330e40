"""What a miss of a draft's detail costs in a house with the usual features, before any house has it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from coordination.fabric import FabricError
from coordination.people.refusals import BadInput
from coordination.sequence.library.misses import cost_of, keep_miss
from coordination.sequence.library.reading import build_sequence
from coordination.sequence.library.references import BREAKING, find_unknown_names
from coordination.sequence.misses_told import MissTold, tell_miss
from coordination.sequence.publishing import as_bad_input
from coordination.sequence.standard import FeatureErrors, SequenceError, check_features


def reckon_miss(tables: Mapping[str, Any], detail: str, file: str) -> MissTold | None:
    """The miss of one detail in words; None where its row reckons none, or its numbers give none.

    Raises:
        BadInput: the rows cannot be read, this one names what is not there or gives what cannot be, or the
            defaults fit no house.
    """
    try:
        entry = build_sequence(tables, file, "")
        row = f"detail '{detail}'"
        for unknown in find_unknown_names(entry):
            if unknown.entry == row and unknown.lint in BREAKING:
                raise BadInput(row, f"{unknown.message}; {unknown.remedy}")
        features = check_features(entry, {})
    except SequenceError as error:
        raise as_bad_input(error) from error
    except FeatureErrors as error:
        key, words = next(iter(error.errors.items()))
        raise BadInput(_("feature '%(key)s'") % {"key": key}, words) from error
    found = next((one for one in entry.details if one.id == detail), None)
    if found is None:
        return None
    try:
        miss = cost_of(found, features)
    except (FabricError, FeatureErrors) as error:
        raise BadInput(row, str(error)) from error
    return tell_miss(keep_miss(miss))
