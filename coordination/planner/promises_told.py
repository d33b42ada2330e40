"""Promises given and kept, in words: by crew and by how sure they were."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from coordination.people.models import Builder, Crew
from coordination.sequence.models import GivenPromise
from coordination.sequence.to_engine import Score, score_by_confidence, score_together

SCORED = 500
"""The latest promises that count."""


@dataclass(frozen=True)
class ScoreTold:
    """One group of promises: who or how sure, kept of given, the interval, and what that means."""

    name: str
    sure: str
    kept: str
    share: str
    interval: str
    means: str
    fits: bool


@dataclass(frozen=True)
class PromisesTold:
    """All promises of a builder."""

    by_crew: tuple[ScoreTold, ...]
    by_confidence: tuple[ScoreTold, ...]
    open_ones: int
    stale: int


def tell_promises(builder: Builder) -> PromisesTold:
    """Scored promises of the builder's houses."""
    given: QuerySet[GivenPromise] = GivenPromise.objects.filter(house__builder=builder)
    scored = list(given.filter(scored_at__isnull=False).order_by("-scored_at", "-pk")[:SCORED])[::-1]
    groups: dict[int, list[GivenPromise]] = defaultdict(list)
    for one in scored:
        groups[one.crew_id].append(one)
    crews = Crew.objects.in_bulk(groups)
    by_crew = [
        _tell(crews[pk].name, score)
        for pk in sorted(groups, key=lambda pk: crews[pk].name)
        if (score := score_together(groups[pk])) is not None
    ]
    return PromisesTold(
        by_crew=tuple(by_crew),
        by_confidence=tuple(_tell("", score) for score in score_by_confidence(scored)),
        open_ones=given.filter(scored_at__isnull=True).count(),
        stale=sum(one.stale for one in scored),
    )


def _tell(name: str, score: Score) -> ScoreTold:
    return ScoreTold(
        name=name,
        sure=_per_cent(score.confidence),
        kept=_("%(kept)s of %(count)s") % {"kept": score.kept, "count": score.count},
        share=_per_cent(score.share),
        interval=_("%(low)s to %(high)s") % {"low": _per_cent(score.low), "high": _per_cent(score.high)},
        means=_say_verdict(score.verdict),
        fits=score.verdict in ("fits", "too few"),
    )


def _per_cent(share: float) -> str:
    return _("%(number)s %%") % {"number": round(100 * share)}


def _say_verdict(verdict: str) -> str:
    return {
        "too few": _("too few to say"),
        "too early": _("promised too early: give later days"),
        "fits": _("kept as promised"),
        "too late": _("kept more often than promised: days could be earlier"),
    }[verdict]
