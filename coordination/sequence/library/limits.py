"""Numbers of a house: limits of checks, numbers in instructions and drawings, computed from its features."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from coordination.fabric import FabricError, calculate, find_limit
from coordination.fabric.numerals import write_number
from coordination.sequence.conditions import Condition, ConditionError, Value, read_condition
from coordination.sequence.library.entry import Check, CompareWord, Detail, Sampling, Source
from coordination.sequence.library.refusals import FeatureErrors

PLACEHOLDER = re.compile(r"\{([a-z][a-z0-9_]*)\}")
PHRASE = re.compile(r"\[([^\[\]]+?): ([^\[\]]*)\]")
"""Words that only some houses are told: `[second > 0: and {second} mm]`."""
QUOTED = re.compile(r'"([a-z][a-z0-9_-]*)"')
TINY = 1e-9


@dataclass(frozen=True)
class Limit:
    """What a check measures against on this house.

    `value` (and `value_high` for 'between') is in `unit`, rounded to the step of the tape or meter that
    the check is read with. `formula` and `inputs` say how it came about where it was calculated.
    """

    compare: CompareWord
    value: float
    value_high: float | None
    unit: str
    source: str
    applies: str
    sure: str
    formula: str = ""
    inputs: Mapping[str, Value] = field(default_factory=dict)

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        high = f" and {write_number(self.value_high)}" if self.value_high is not None else ""
        return f"{self.compare} {write_number(self.value)}{high}{unit}"

    def met_by(self, value: float) -> bool:
        """Whether a measured or counted value is within the limit."""
        if self.compare == "at least":
            return value >= self.value - TINY
        if self.compare == "at most":
            return value <= self.value + TINY
        if self.compare == "equals":
            return abs(value - self.value) <= TINY
        high = self.value if self.value_high is None else self.value_high
        return self.value - TINY <= value <= high + TINY


@dataclass(frozen=True)
class Number:
    """A number with what is known about it."""

    value: float
    unit: str = ""
    source: str = ""
    applies: str = ""
    sure: str = ""
    formula: str = ""
    inputs: Mapping[str, Value] = field(default_factory=dict)


def number_for(source: Source, features: Mapping[str, Value]) -> Number:
    """The number that a source gives for a house.

    Raises FeatureErrors naming the feature that a calculation refuses (a flat roof, a joist of no depth).
    """
    if source.value is not None:
        return Number(source.value)
    if source.feature:
        return Number(_feature_number(source.feature, features))
    if source.published:
        limit = find_limit(source.published)
        return Number(limit.value, limit.unit, limit.source, limit.applies, str(limit.sure))
    inputs = inputs_for(source.inputs, features)
    try:
        done = calculate(source.calculation, **inputs)
    except FabricError as error:
        given = source.inputs.get(error.input_name)
        name = given if isinstance(given, str) else error.input_name
        raise FeatureErrors(f"calculation '{source.calculation}'", {name: error.message}) from error
    value = done.result[source.result]
    if isinstance(value, str):
        raise FeatureErrors(f"calculation '{source.calculation}'", {source.result: f"'{value}' is no number"})
    return Number(
        value=float(value),
        unit=done.unit.get(source.result, ""),
        source=done.source,
        sure=str(done.sure),
        formula=done.formula,
        inputs=inputs,
    )


def with_own(numbers: Mapping[str, Source], features: Mapping[str, Value]) -> dict[str, Value]:
    """What the inputs and conditions of a row may ask for: features, and the row's own numbers.

    Raises FeatureErrors where one of those numbers cannot be reckoned for this house.
    """
    own = {name: number_for(source, features).value for name, source in numbers.items()}
    return {**features, **own}


def holds_for(when: Condition | None, numbers: Mapping[str, Source], features: Mapping[str, Value]) -> bool:
    """Whether a detail or a check is on a house: its condition may ask for features and for its own numbers.

    Raises FeatureErrors where one of those numbers cannot be reckoned for this house.
    """
    if when is None:
        return True
    asked = {name: source for name, source in numbers.items() if name in when.names}
    return when.true_for(with_own(asked, features))


def sample_for(sampling: Sampling, features: Mapping[str, Value]) -> Sampling:
    """The sample with at least as many pieces as its length asks for on this house."""
    if not sampling.along:
        return sampling
    pieces = math.ceil(_feature_number(sampling.along, features) / sampling.every - TINY)
    return replace(sampling, least=max(sampling.least, pieces))


def inputs_for(inputs: Mapping[str, str | float], features: Mapping[str, Value]) -> dict[str, Value]:
    """Inputs of a calculation or a drawing: names of features replaced by their values.

    A word in quotes, as conditions write it (`"subfloor"`), stands for itself.
    """
    return {
        name: (quoted_word(given) or features[given]) if isinstance(given, str) else given
        for name, given in inputs.items()
    }


def quoted_word(given: str | float) -> str:
    """The word between quotes; empty for a number or the name of a feature."""
    found = QUOTED.fullmatch(given) if isinstance(given, str) else None
    return found[1] if found else ""


def _feature_number(key: str, features: Mapping[str, Value]) -> float:
    value = features[key]
    if isinstance(value, (bool, str)):
        raise FeatureErrors("limit", {key: f"{value!r} is no number; name a feature that is one"})
    return float(value)


def limit_for(check: Check, features: Mapping[str, Value]) -> Limit | None:
    """The limit of `check` for a house with `features`; None for a check that is seen or a document."""
    rule = check.limit
    if rule is None:
        return None
    number = number_for(rule.of, features)
    high = None
    if rule.high is not None:
        high = number_for(rule.high, features).value
    elif rule.spread is not None:
        high = number.value + rule.spread
    return Limit(
        compare=rule.compare,
        value=_to_step(number.value, rule.step),
        value_high=None if high is None else _to_step(high, rule.step),
        unit=rule.unit or number.unit,
        source=rule.source or number.source,
        applies=rule.applies or number.applies,
        sure=rule.sure or number.sure,
        formula=number.formula,
        inputs=number.inputs,
    )


def _to_step(value: float, step: float) -> float:
    """The nearest value that the tape or the meter can show: 519.06 mm is 519 mm."""
    return round(math.floor(value / step + 0.5) * step, 9)


def drawing_for(detail: Detail, features: Mapping[str, Value]) -> tuple[str, dict[str, Value]] | None:
    """Name and inputs of the detail's drawing for this house, or None.

    An input is a number, a feature, or one of the detail's own numbers. Draw it with
    `coordination.fabric.drawings.draw(name, **inputs)`.
    """
    if not detail.drawing:
        return None
    return detail.drawing, inputs_for(detail.drawing_inputs, with_own(detail.numbers, features))


def fill_text(text: str, numbers: Mapping[str, Source], features: Mapping[str, Value]) -> str:
    """Text with {names} replaced by the numbers of this house; reckoned lengths in whole mm, as on a tape.

    Words in `[condition: words]` are told only where the condition holds, which may ask for features and for
    the row's own numbers as `when` does. Raises FeatureErrors where one cannot be read or reckoned.
    """

    def choose(match: re.Match[str]) -> str:
        try:
            told = holds_for(read_condition(match[1]), numbers, features)
        except ConditionError as error:
            raise FeatureErrors("words in brackets", {match[1]: str(error)}) from error
        return match[2] if told else ""

    def replace(match: re.Match[str]) -> str:
        name = match[1]
        if name in numbers:
            number = number_for(numbers[name], features)
            reckoned = numbers[name].calculation and number.unit == "mm"
            return _written(_to_step(number.value, 1) if reckoned else number.value)
        return _written(features[name])

    return PLACEHOLDER.sub(replace, PHRASE.sub(choose, text))


def _written(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return write_number(round(value) if abs(value) >= 100 else float(f"{value:.3g}"))
