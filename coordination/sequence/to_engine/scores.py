"""The share of promises kept beside how sure they were, with its interval and a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coordination import engine
from coordination.sequence.models import GivenPromise

BANDS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
"""Promises are gathered at the nearest of these; whatever was less sure than a half counts as a half."""
LEAST = 10
"""Fewer promises say nothing."""


@dataclass(frozen=True)
class Score:
    """Promises of one group: how sure they were, how many of how many were kept, the 95 % interval of that.

    `verdict`: 'too few', 'too early' (fewer kept than promised), 'fits', 'too late' (dates too cautious).
    """

    confidence: float
    count: int
    kept: int
    share: float
    low: float
    high: float
    verdict: str


def score_by_confidence(promises: Sequence[GivenPromise]) -> list[Score]:
    """Scored promises gathered by how sure they were, the least sure first."""
    return _score([(_band(one.confidence), one) for one in promises])


def score_together(promises: Sequence[GivenPromise]) -> Score | None:
    """Scored promises as one group, at the mean of how sure they were; None for none."""
    if not promises:
        return None
    sure = sum(one.confidence for one in promises) / len(promises)
    return _score([(min(0.99, max(0.01, sure)), one) for one in promises])[0]


def _band(confidence: float) -> float:
    return min(BANDS, key=lambda band: abs(band - confidence))


def _score(promises: Sequence[tuple[float, GivenPromise]]) -> list[Score]:
    found = engine.score_promises(
        (
            engine.PromiseKept(confidence, one.promised, one.ready)
            for confidence, one in promises
            if one.ready is not None
        ),
        last=None,
        least=LEAST,
    )
    return [
        Score(one.confidence, one.count, one.kept, one.share, one.low, one.high, one.verdict) for one in found
    ]
