"""What the checks of a house measure against, in words, with the source of each number."""

from __future__ import annotations

from dataclasses import dataclass

from coordination.planner.judging_told import say_evidence, say_sampling
from coordination.sequence.models import House
from coordination.sequence.set_out import resolved_of
from coordination.sequence.standard import Check, Limit, ResolvedSequence, limit_for


@dataclass(frozen=True)
class LimitTold:
    """One check of a house.

    Attributes:
        limit: 'at least 519 mm', or empty for what is seen or a document.
        source, sure: where the number comes from, and how sure that is.
        formula: how it was calculated, where it was.
        inputs: names and values that the calculation took.
        evidence, sampling: what it needs to be met, and how many are looked at; in words.
        drawn: only a sample is looked at, which a crew's earlier houses enlarge or reduce.
    """

    check: str
    text: str
    kind: str
    detail: str
    point: str
    limit: str
    source: str
    applies: str
    sure: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    safety: bool
    evidence: str
    sampling: str
    drawn: bool


def read_limits(house: House) -> list[LimitTold]:
    """The checks of a house as its sequence and features give them.

    Raises:
        BadInput: the stored sequence can no longer be read.
    """
    return tell_limits(resolved_of(house))


def tell_limits(resolved: ResolvedSequence) -> list[LimitTold]:
    """The checks of a resolved sequence in words."""
    return [_tell(check, limit_for(check, resolved.features), resolved) for check in resolved.checks]


def _tell(check: Check, limit: Limit | None, resolved: ResolvedSequence) -> LimitTold:
    labels = {feature.key: feature.label for feature in resolved.entry.features}
    return LimitTold(
        check=check.id,
        text=check.text,
        kind=check.kind,
        detail=check.detail,
        point=check.point,
        limit=str(limit) if limit else "",
        source=(limit.source if limit else "") or check.source,
        applies=limit.applies if limit else "",
        sure=(limit.sure if limit else "") or check.sure,
        formula=limit.formula if limit else "",
        inputs=tuple((labels.get(name, name), str(value)) for name, value in limit.inputs.items())
        if limit
        else (),
        safety=check.safety,
        evidence=say_evidence(check.evidence),
        sampling=say_sampling(check.sampling),
        drawn=check.sampling.rule == "sample",
    )
