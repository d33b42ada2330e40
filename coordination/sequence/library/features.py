"""Features of a house: defaults filled in, nonsense and what the entry does not cover refused by name."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from coordination.sequence.conditions import Value, unknown_name_remedy
from coordination.sequence.library.entry import Feature, StandardSequence
from coordination.sequence.library.refusals import FeatureErrors
from coordination.sequence.library.rows import refuse_value


def check_features(
    sequence: StandardSequence, given: Mapping[str, object], fixed: Collection[str] = ()
) -> dict[str, Value]:
    """Every feature of the house with its value: as given, else the entry's default.

    A feature whose condition does not hold for this house keeps its default, whatever was given; those in
    `fixed`, which an option has decided, hold in any case.

    Raises FeatureErrors with a message for each feature that is unknown, has no such value, or belongs to
    a combination for which this entry sets nothing out.
    """
    known = {feature.key: feature for feature in sequence.features}
    errors: dict[str, str] = {}
    for key in given:
        if key not in known:
            errors[key] = f"is no feature of '{sequence.name}'; {unknown_name_remedy(key, known)}"
    values: dict[str, Value] = {}
    # What every house is asked for goes first: conditions rest on it.
    for key, feature in sorted(known.items(), key=lambda one: one[1].when is not None):
        value = given.get(key, feature.default)
        if key not in fixed and not applies(feature, values):
            value = feature.default
        message = refuse_value(feature, value)
        if message:
            errors[key] = f"{feature.label}: {message}"
        else:
            values[key] = _plain(feature, value)
    if not errors:
        errors = _refuse_not_covered(sequence, values)
    if errors:
        raise FeatureErrors(sequence.file, errors)
    return {key: values[key] for key in known}


def applies(feature: Feature, values: Mapping[str, Value]) -> bool:
    """Whether a house with these values is asked for the feature; yes, while what decides is not known."""
    when = feature.when
    return when is None or not when.names <= values.keys() or when.true_for(values)


def _plain(feature: Feature, value: object) -> Value:
    """Whole numbers as int, so that a stored house reads '2 storeys' and not '2.0'."""
    if feature.kind == "number" and isinstance(value, (int, float)):
        return int(value) if value == int(value) else float(value)
    return value  # type: ignore[return-value]  # refuse_value has let nothing else through


def _refuse_not_covered(sequence: StandardSequence, values: Mapping[str, Value]) -> dict[str, str]:
    errors: dict[str, str] = {}
    for rule in sequence.not_covered:
        if rule.when.true_for(values):
            errors.setdefault(rule.feature, f"{rule.why}; {rule.remedy}")
    return errors
