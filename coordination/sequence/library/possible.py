"""Limits that can be met, and numbers that can be reckoned.

A limit that no wall can meet, or that asks for nothing, is refused before a sequence is saved or published;
so is a plain number of which nobody knows where it comes from. Versions that are published already are still
read: houses stand on them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from coordination.sequence.conditions import Value
from coordination.sequence.library.drawable import find_impossible_constants
from coordination.sequence.library.entry import Check, Detail, Feature, LimitRule, Source, StandardSequence
from coordination.sequence.library.limits import holds_for, number_for
from coordination.sequence.library.refusals import FeatureErrors, Finding
from coordination.sequence.library.rows import BELOW_ZERO, SIZES

IMPOSSIBLE = "impossible limit"
WITHOUT_SOURCE = "limit without source"


def find_impossible_limits(entry: StandardSequence) -> list[Finding]:
    """A refusal for each limit or feature that nothing can meet, and for each number without a source."""
    findings = []
    for check in entry.checks:
        if check.limit is not None:
            for lint, message, remedy in _judge_limit(check.limit):
                findings.append(
                    Finding("refused", lint, f"check '{check.id}', limit", message, remedy, entry.file)
                )
    for feature in entry.features:
        message = _judge_feature(feature)
        if message:
            remedy = "give 0 or more, or another unit"
            findings.append(
                Finding("refused", IMPOSSIBLE, f"feature '{feature.key}'", message, remedy, entry.file)
            )
    return findings


def find_impossible_numbers(entry: StandardSequence) -> list[Finding]:
    """What an author is refused: limits that nothing can meet, and impossible numbers of drawings and misses.

    A house that stands on an older version is not judged by the latter: it has gone without that drawing.
    """
    return find_impossible_limits(entry) + find_impossible_constants(entry)


def _judge_limit(limit: LimitRule) -> Iterator[tuple[str, str, str]]:
    """What is wrong with a limit: lint, message, remedy."""
    unit = f" {limit.unit}" if limit.unit else ""
    for source, key in ((limit.of, "value"), (limit.high, "high")):
        value = source.value if source is not None else None
        if value is not None and value < 0 and limit.unit not in BELOW_ZERO:
            yield IMPOSSIBLE, f"'{key}' is {value:g}{unit}: nothing can be less than 0", "give 0 or more"
    if limit.spread is not None and limit.spread < 0:
        yield (
            IMPOSSIBLE,
            f"'spread' is {limit.spread:g}{unit}: 'between' would end below its beginning",
            ("give how far it reaches up, 0 or more"),
        )
    low, high = limit.of.value, limit.high.value if limit.high is not None else None
    if low is not None and high is not None and high < low:
        yield IMPOSSIBLE, f"between {low:g} and {high:g}{unit} lies nothing", "give the lower number first"
    if limit.compare == "at least" and low == 0 and limit.unit not in BELOW_ZERO:
        yield IMPOSSIBLE, f"at least 0{unit} is always met", "give what is asked for, or make it a seen check"
    if low is not None and not limit.source.strip():
        yield (
            WITHOUT_SOURCE,
            f"{low:g}{unit} has no 'source'",
            ("say where the number comes from: a standard, a maker's sheet, common practice"),
        )


def _judge_feature(feature: Feature) -> str:
    if feature.kind != "number" or feature.unit not in SIZES:
        return ""
    for word, value in (("least", feature.least), ("most", feature.most), ("default", feature.default)):
        if isinstance(value, (int, float)) and value < 0:
            return f"'{word}' is {value:g} {feature.unit}: nothing can be less than 0"
    return ""


def find_failing_numbers(entry: StandardSequence, features: Mapping[str, Value]) -> list[Finding]:
    """A refusal for each row whose calculation cannot be reckoned for a house with `features`, named once."""
    findings: dict[Finding, None] = {}
    for row, source in _sources(entry, features):
        try:
            number_for(source, features)
        except FeatureErrors as error:
            findings[failing(row, error, entry.file)] = None
    return list(findings)


def failing(row: str, error: FeatureErrors, file: str) -> Finding:
    """The refusal of a row whose number cannot be reckoned."""
    message = "; ".join(f"{key}: {words}" for key, words in error.errors.items())
    remedy = "mend the inputs of this row, or the default of the feature that they name"
    return Finding("refused", "features", row, f"{error.file}: {message}", remedy, file)


def _sources(entry: StandardSequence, features: Mapping[str, Value]) -> Iterator[tuple[str, Source]]:
    """Every number that stands on a house with `features`, with the row that asks for it."""
    for detail in entry.details:
        if _may_stand(detail, features):
            yield from ((f"detail '{detail.id}'", one) for one in detail.numbers.values())
    gone = {one.id for one in entry.details if not _may_stand(one, features)}
    for check in entry.checks:
        if check.detail not in gone and _may_stand(check, features):
            yield from ((f"check '{check.id}'", one) for one in _sources_of(check))


def _sources_of(check: Check) -> Iterator[Source]:
    yield from check.numbers.values()
    if check.limit is not None:
        yield check.limit.of
        if check.limit.high is not None:
            yield check.limit.high


def _may_stand(row: Detail | Check, features: Mapping[str, Value]) -> bool:
    """Whether a house has the row; yes where its condition fails too, so that the number at fault is told."""
    try:
        return holds_for(row.when, row.numbers, features)
    except FeatureErrors:
        return True
