"""Drawings that can be drawn and misses that can be reckoned, by what their rows give them.

A house whose own features leave nothing to draw or to reckon stands without either. Where the fault is the
row's, no house would ever have them, and nobody would be told: so a draft is not saved with a number that
nothing can have, and not published while a usual house has no drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache

from coordination.fabric import FabricError
from coordination.fabric.drawings import DRAWINGS, draw
from coordination.fabric.misses import MISSES
from coordination.sequence.conditions import Value
from coordination.sequence.library.entry import Detail, StandardSequence
from coordination.sequence.library.limits import drawing_for
from coordination.sequence.library.misses import cost_of
from coordination.sequence.library.refusals import FeatureErrors, Finding
from coordination.sequence.library.rows import BELOW_ZERO

IMPOSSIBLE = "impossible number"
FAILING = "failing drawing or miss"
Given = Mapping[str, str | float]
Units = Mapping[str, str]


def find_impossible_constants(entry: StandardSequence) -> list[Finding]:
    """A refusal for each plain number of a drawing or a miss that nothing can have: less than 0, or none."""
    return [
        Finding("refused", IMPOSSIBLE, f"detail '{detail.id}'", message, "give 0 or more", entry.file)
        for detail in entry.details
        for message in _judge_constants(detail)
    ]


def _judge_constants(detail: Detail) -> Iterator[str]:
    for what, given, units in _asked(detail):
        for name, value in given.items():
            if isinstance(value, str):
                continue
            unit = units.get(name, "")
            if not math.isfinite(value):
                yield f"{what}, input '{name}' is {value:g}: that is no number"
            elif value < 0 and unit not in BELOW_ZERO:
                yield f"{what}, input '{name}' is {value:g} {unit}".rstrip() + ": nothing can be less than 0"


def _asked(detail: Detail) -> Iterator[tuple[str, Given, Units]]:
    """What a detail gives to its drawing and its miss, with the units that they are taken in."""
    drawing = DRAWINGS.get(detail.drawing)
    if drawing is not None:
        yield (
            f"drawing '{drawing.name}'",
            detail.drawing_inputs,
            {one.name: one.unit for one in drawing.inputs},
        )
    kind = MISSES.get(detail.miss.kind) if detail.miss is not None else None
    if detail.miss is not None and kind is not None:
        units = {name: one.unit for name, one in kind.takes.items()}
        yield f"miss '{kind.name}'", detail.miss.inputs, units


def find_failing_drawings(
    details: Iterable[Detail], features: Mapping[str, Value], file: str
) -> list[Finding]:
    """A refusal for each detail of a usual house that cannot be drawn, or whose miss cannot be reckoned."""
    findings = []
    for detail in details:
        for what, message in _try(detail, features):
            remedy = "mend the inputs of this row, or the default of the feature that they name"
            findings.append(
                Finding("refused", FAILING, f"detail '{detail.id}'", f"{what}: {message}", remedy, file)
            )
    return findings


def _try(detail: Detail, features: Mapping[str, Value]) -> Iterator[tuple[str, str]]:
    try:
        drawing = drawing_for(detail, features)
        if drawing is not None and (fault := _try_drawing(drawing[0], tuple(drawing[1].items()))):
            yield f"drawing '{detail.drawing}'", fault
    except FeatureErrors as error:
        yield f"drawing '{detail.drawing}'", str(error)
    try:
        cost_of(detail, features)
    except (FabricError, FeatureErrors) as error:
        yield f"miss '{detail.miss.kind if detail.miss else ''}'", str(error)


@lru_cache(maxsize=512)
def _try_drawing(name: str, inputs: tuple[tuple[str, Value], ...]) -> str:
    """What is wrong with a drawing, or nothing; most options leave most drawings as they are."""
    try:
        draw(name, None, **dict(inputs))
    except FabricError as error:
        return str(error)
    return ""
