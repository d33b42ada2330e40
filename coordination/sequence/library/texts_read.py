"""Texts of a house that a calculation or a drawing reads, such as the batts in stock: judged when given.

A house may ask for none of those calculations today and for one of them later, when a feature is changed;
nonsense would then stop a change that has nothing to do with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from coordination.fabric import CATALOGUE, FabricError
from coordination.fabric.drawings import DRAWINGS
from coordination.fabric.registry import Input
from coordination.sequence.library.entry import Source, StandardSequence
from coordination.sequence.library.refusals import FeatureErrors

Reader = Callable[[str, object], object]


def refuse_misread(entry: StandardSequence, given: Mapping[str, object]) -> None:
    """Raises FeatureErrors naming each text that a calculation or a drawing of the sequence cannot read."""
    labels = {one.key: one.label for one in entry.features if one.kind == "text" and one.key in given}
    errors: dict[str, str] = {}
    for key, name, read in _readers(entry):
        if key not in labels or key in errors:
            continue
        try:
            read(name, given[key])
        except FabricError as error:
            errors[key] = f"{labels[key]}: {error.message}"
    if errors:
        raise FeatureErrors(entry.file, errors)


def _readers(entry: StandardSequence) -> Iterator[tuple[str, str, Reader]]:
    """What reads a feature: the feature, the name of the input, its reader."""
    for detail in entry.details:
        yield from _of_sources(detail.numbers.values())
        drawing = DRAWINGS.get(detail.drawing)
        yield from _of_inputs(drawing.inputs if drawing else (), detail.drawing_inputs)
    for check in entry.checks:
        yield from _of_sources(check.numbers.values())
        if check.limit is not None:
            yield from _of_sources(one for one in (check.limit.of, check.limit.high) if one is not None)


def _of_sources(sources: Iterable[Source]) -> Iterator[tuple[str, str, Reader]]:
    for source in sources:
        calculation = CATALOGUE.get(source.calculation)
        yield from _of_inputs(calculation.inputs if calculation else (), source.inputs)


def _of_inputs(
    inputs: Iterable[Input], given: Mapping[str, str | float]
) -> Iterator[tuple[str, str, Reader]]:
    for one in inputs:
        key = given.get(one.name)
        if isinstance(key, str):
            yield key, one.name, one.read
