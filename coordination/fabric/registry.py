"""One shape for every calculation: named inputs with units in, named numbers with units out.

A calculation is offered once and then reachable from the command line, from a hold point's check and
from a drawing, always by the same names.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from coordination.fabric.inputs import FabricError, read_choice, read_number, read_whole
from coordination.fabric.limits import Sure
from coordination.fabric.sources import find_limit

Reader = Callable[[str, object], Any]
Value = float | int | bool | str


@dataclass(frozen=True)
class Input:
    """A named input: unit, meaning, and what stands in for it when it is not given.

    `default` is a value, or the key of a limit in `sources` when `from_limit` is set; without either
    the input must be given.
    """

    name: str
    unit: str
    meaning: str
    default: float | str | None = None
    from_limit: str | None = None
    read: Reader = read_number

    @property
    def required(self) -> bool:
        return self.default is None and self.from_limit is None

    def value_of(self, given: Mapping[str, object]) -> Any:
        """The input as the calculation takes it, read from what was given or from its default."""
        value = given.get(self.name)
        if value is not None:
            return self.read(self.name, value)
        if self.from_limit is not None:
            return self.read(self.name, find_limit(self.from_limit).value)
        if self.default is not None:
            return self.read(self.name, self.default)
        unit = f" in {self.unit}" if self.unit else ""
        raise FabricError(self.name, f"missing; give the {self.meaning}{unit}")


@dataclass(frozen=True)
class Result:
    """A named number that a calculation returns, with its unit."""

    name: str
    unit: str
    meaning: str


@dataclass(frozen=True)
class Calculation:
    """A finished calculation: what went in, what came out, in which units, by which formula and source.

    `sure` is that of the weakest published value that it rests on; without one the result is derived.
    """

    inputs: dict[str, Any]
    result: dict[str, Value]
    unit: dict[str, str]
    formula: str
    source: str
    sure: Sure = Sure.DERIVED

    def as_dict(self) -> dict[str, Any]:
        """The calculation as plain data, for JSON."""
        return {
            "inputs": self.inputs,
            "result": self.result,
            "unit": self.unit,
            "formula": self.formula,
            "source": self.source,
        }


@dataclass(frozen=True)
class Definition:
    """A calculation on offer. `run` takes the read inputs by name and returns the results by name.

    `limits` are the keys of the published values inside it, beside those that stand in for an input.
    """

    name: str
    question: str
    inputs: tuple[Input, ...]
    results: tuple[Result, ...]
    run: Callable[..., dict[str, Value]]
    formula: str
    source: str
    limits: tuple[str, ...] = ()
    units: dict[str, str] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        named = {one.name: one.unit for one in self.inputs}
        named |= {one.name: one.unit for one in self.results}
        object.__setattr__(self, "units", named)

    def calculate(self, given: Mapping[str, object]) -> Calculation:
        """Read the inputs, run, and return the finished calculation; nonsense is refused by name."""
        known = [one.name for one in self.inputs]
        for name in given:
            if name not in known:
                raise FabricError(name, f"is no input of {self.name}; it takes {', '.join(known)}")
        values = {one.name: one.value_of(given) for one in self.inputs}
        result = self.run(**values)
        for name, found in result.items():
            if isinstance(found, float) and not math.isfinite(found):
                raise FabricError(name, f"{self.name} gives no finite number; check what was given")
        return Calculation(
            inputs={one.name: _plain(given, one, values[one.name]) for one in self.inputs},
            result=result,
            unit=dict(self.units),
            formula=self.formula,
            source=self.source,
            sure=self._sure_of(given),
        )

    def _sure_of(self, given: Mapping[str, object]) -> Sure:
        stand_in = [one.from_limit for one in self.inputs if one.from_limit and given.get(one.name) is None]
        return weakest(find_limit(key).sure for key in (*self.limits, *stand_in))


WEAKER_AND_WEAKER = (Sure.DERIVED, Sure.READ, Sure.MEMORY, Sure.PRACTICE)


def weakest(several: Iterable[Sure]) -> Sure:
    """How sure a result is that rests on several values: no surer than the weakest; derived without any."""
    return max(several, key=WEAKER_AND_WEAKER.index, default=Sure.DERIVED)


def _plain(given: Mapping[str, object], one: Input, value: Any) -> Any:
    """An input as it can be shown: numbers and words as read, structured inputs as they were written."""
    if isinstance(value, (int, float, str, bool)):
        return value
    written = given.get(one.name)
    return written if isinstance(written, str) else str(written if written is not None else one.default)


def choice(*words: str) -> Reader:
    """A reader that takes one of `words`."""

    def read(name: str, value: object) -> str:
        return read_choice(name, value, words)

    return read


whole: Reader = read_whole
