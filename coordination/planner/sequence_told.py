"""A standard sequence in words: its visits, details, points with their checks, and what the lints warn of."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from coordination import clock
from coordination.planner.forms.feature_fields import say_value
from coordination.planner.judging_told import say_evidence, say_sampling
from coordination.planner.limits_told import LimitTold, tell_limits
from coordination.sequence.standard import Check, Feature, Finding, StandardSequence, lint_entry, resolve


@dataclass(frozen=True)
class VisitTold:
    """One visit: its trade and its work with durations."""

    name: str
    trade: str
    work: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class DetailTold:
    """One detail: who makes it, what buries it, where it is judged."""

    name: str
    made_by: tuple[str, ...]
    buried_by: tuple[str, ...]
    point: str


@dataclass(frozen=True)
class CheckTold:
    """One check, how it is judged, and the limit that it has in a house with the usual features."""

    check: Check
    evidence: str
    sampling: str
    limit: LimitTold | None


@dataclass(frozen=True)
class PointTold:
    """One point with its checks."""

    name: str
    kind: str
    walker: str
    checks: tuple[CheckTold, ...]


@dataclass(frozen=True)
class QuestionTold:
    """One feature: what a house is asked, which answers there are, and what is taken without one."""

    label: str
    key: str
    answers: str
    default: str
    source: str
    help: str
    when: str


@dataclass(frozen=True)
class SequenceTold:
    """What the page of a sequence shows; visits and points are those of a house with the usual features."""

    description: str
    visits: tuple[VisitTold, ...]
    details: tuple[DetailTold, ...]
    points: tuple[PointTold, ...]
    options: tuple[tuple[str, str], ...]
    features: tuple[QuestionTold, ...]
    warnings: tuple[Finding, ...]


def tell_sequence(entry: StandardSequence) -> SequenceTold:
    """An entry of the library in words.

    Raises:
        FeatureErrors, SequenceError: the entry cannot be resolved for its own defaults.
    """
    usual = resolve(entry, {}, [])
    limits = {one.check: one for one in tell_limits(usual) if one.limit}
    work = {one.id: one for one in entry.activities}
    names = {key: one.name for key, one in work.items()}
    trades = {one.key: one.name for one in entry.trades}
    return SequenceTold(
        description=entry.description,
        visits=tuple(
            VisitTold(
                visit.name,
                trades.get(visit.trade, visit.trade),
                tuple((names[key], clock.say_length(work[key].half_days)) for key in visit.activities),
            )
            for visit in usual.visits
        ),
        details=tuple(
            DetailTold(
                one.name,
                tuple(names.get(key, key) for key in one.installed_by),
                tuple(names.get(key, key) for key in one.covered_by),
                names.get(one.point, one.point),
            )
            for one in entry.details
        ),
        points=tuple(
            PointTold(
                one.name,
                one.point,
                one.walker,
                tuple(
                    CheckTold(
                        check,
                        say_evidence(check.evidence),
                        say_sampling(check.sampling),
                        limits.get(check.id),
                    )
                    for check in entry.checks
                    if check.point == one.id
                ),
            )
            for one in entry.activities
            if one.is_point
        ),
        options=tuple((one.name, one.what) for one in entry.options),
        features=tuple(_tell_question(one) for one in entry.features),
        warnings=tuple(one for one in lint_entry(entry) if one.level == "warned"),
    )


def _tell_question(feature: Feature) -> QuestionTold:
    return QuestionTold(
        label=feature.label,
        key=feature.key,
        answers=_say_answers(feature),
        default=say_value(feature, feature.default),
        source=feature.source,
        help=feature.help,
        when=str(feature.when or ""),
    )


def _say_answers(feature: Feature) -> str:
    """'3 to 60 °', 'metal, tiles', 'yes or no'; the kind alone where nothing bounds it."""
    if feature.kind == "flag":
        return _("yes or no")
    if feature.kind == "choice":
        return ", ".join(feature.choices)
    if feature.kind == "text":
        return _("a text")
    unit = f" {feature.unit}" if feature.unit else ""
    least, most = feature.least, feature.most
    if least is not None and most is not None:
        return _("%(least)s to %(most)s") % {"least": f"{least:g}", "most": f"{most:g}"} + unit
    if least is not None:
        return _("%(least)s or more") % {"least": f"{least:g}{unit}"}
    if most is not None:
        return _("%(most)s or less") % {"most": f"{most:g}{unit}"}
    return _("a number") + unit
