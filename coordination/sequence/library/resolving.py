"""From an entry of the library to the sequence of one house.

Options are applied first, then features are checked, then conditions decided. An activity that this house
does not have is **bridged**, so that what it kept apart stays in order:

* each of its predecessors is joined to each of its successors, from the end that the first relationship
  leaves to the end that the second one holds, as if the activity took no time;
* lags add up; a lag out of a hold lapses, whether the hold is dropped or the work behind it: it is word
  time, and either there is no word to wait for or no crew that needs it;
* a bridge of lag 0 that the rest of the network already implies is left out;
* lags that count in two different ways cannot be added and are refused: the entry then needs a row of its
  own for that case.

A detail loses the installers and coverers that are dropped, a check goes with its detail or point, a gap
with either of its ends.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from coordination.sequence.conditions import Condition, Value
from coordination.sequence.library.entry import (
    Activity,
    Check,
    Detail,
    Dropped,
    Link,
    ResolvedSequence,
    StandardSequence,
)
from coordination.sequence.library.features import check_features
from coordination.sequence.library.limits import fill_text, holds_for, limit_for, sample_for
from coordination.sequence.library.network import reach_after_finish, reach_before
from coordination.sequence.library.options import apply_options
from coordination.sequence.library.reading import build_sequence, read_document
from coordination.sequence.library.references import BREAKING, find_unknown_names
from coordination.sequence.library.refusals import FeatureErrors, SequenceError
from coordination.sequence.library.storeys import part_by_storey
from coordination.sequence.library.visits import group_visits

RowT = TypeVar("RowT", Detail, Check)


def resolve(
    sequence: StandardSequence, features: Mapping[str, object], options: Iterable[str] = ()
) -> ResolvedSequence:
    """The sequence of a house with `features` (missing ones take the entry's defaults) and `options` (keys).

    Raises FeatureErrors (a message for each feature) and SequenceError (an unknown option, two that
    exclude each other, a condition that asks for an unknown feature).
    """
    chosen = _choose_options(sequence, tuple(options))
    document = read_document(sequence.text, sequence.file)
    applied = apply_options(document, [one for one in sequence.options if one.key in chosen], sequence.file)
    entry = build_sequence(applied.document, sequence.file, sequence.text)
    for unknown in find_unknown_names(entry):
        if unknown.lint in BREAKING:
            raise SequenceError(unknown.file, unknown.entry, unknown.message, unknown.remedy)
    values = check_features(entry, _with_fixed(entry, features, applied.sets), applied.sets)
    dropped = _find_dropped(entry, values, applied.removed)
    links = list(entry.relationships)
    for gone in dropped:
        links = bridge(entry, links, gone.id)
    gone_ids = {one.id for one in dropped}
    activities = _join_links([one for one in entry.activities if one.id not in gone_ids], links)
    details = _keep_details(entry, values, gone_ids)
    kept = {one.id for one in details}
    checks = [
        one for one in entry.checks if one.point not in gone_ids and (not one.detail or one.detail in kept)
    ]
    details, checks = part_by_storey(entry, details, checks, values)
    resolved = ResolvedSequence(
        entry=entry,
        features=values,
        options=tuple(chosen),
        activities=activities,
        relationships=tuple(links),
        visits=(),
        gaps=tuple(
            gap for gap in entry.gaps if not {gap.first, gap.then} & gone_ids and _holds(gap.when, values)
        ),
        details=tuple(_fill(_fill_detail, f"detail '{one.id}'", one, values) for one in details),
        checks=tuple(
            _fill(_fill_check, f"check '{one.id}'", one, values)
            for one in checks
            if _stands(f"check '{one.id}'", one, values)
        ),
        dropped=tuple(dropped),
    )
    return group_visits(resolved)


def _choose_options(sequence: StandardSequence, options: tuple[str, ...]) -> list[str]:
    known = {option.key: option for option in sequence.options}
    for key in options:
        if key not in known:
            remedy = "choose from " + ", ".join(known) if known else "this entry has none"
            raise SequenceError(sequence.file, f"option '{key}'", "is unknown", remedy)
        for other in known[key].excludes:
            if other in options:
                message = f"cannot stand beside option '{other}'"
                raise SequenceError(sequence.file, f"option '{key}'", message, "choose one of the two")
    return [key for key in known if key in options]


def _with_fixed(
    entry: StandardSequence, features: Mapping[str, object], fixed: Mapping[str, object]
) -> dict[str, object]:
    """Features with those that an option fixes; another value given for one of them is refused."""
    defaults = {feature.key: feature.default for feature in entry.features}
    errors = {
        key: f"an option fixes it at {value!r}; leave it, or leave out the option"
        for key, value in fixed.items()
        if features.get(key, value) not in (value, defaults.get(key))
    }
    if errors:
        raise FeatureErrors(entry.file, errors)
    return {**features, **fixed}


def _holds(when: Condition | None, values: Mapping[str, Value]) -> bool:
    return when is None or when.true_for(values)


def _find_dropped(
    entry: StandardSequence, values: Mapping[str, Value], removed: Mapping[str, str]
) -> list[Dropped]:
    dropped = []
    for activity in entry.activities:
        if activity.id in removed:
            dropped.append(Dropped(activity.id, removed[activity.id]))
        elif not _holds(activity.when, values):
            dropped.append(Dropped(activity.id, f"not: {activity.when}"))
    return dropped


def bridge(entry: StandardSequence, links: Sequence[Link], gone: str) -> list[Link]:
    """Relationships without activity `gone`, its predecessors joined to its successors."""
    before = [link for link in links if link.successor == gone]
    after = [link for link in links if link.predecessor == gone]
    rest = [link for link in links if gone not in (link.predecessor, link.successor)]
    holds = {activity.id for activity in entry.activities if activity.holds}
    for first in before:
        for second in after:
            joined = _join(entry, _without_word_time(first, holds), _without_word_time(second, holds))
            _add_bridge(entry, rest, joined, gone)
    return rest


def _without_word_time(link: Link, holds: set[str]) -> Link:
    return replace(link, lag=0, lag_calendar="") if link.predecessor in holds else link


def _join(entry: StandardSequence, first: Link, second: Link) -> Link:
    if first.lag and second.lag and first.lag_calendar != second.lag_calendar:
        raise SequenceError(
            entry.file,
            f"activity '{first.successor}'",
            f"dropped, it adds lags counted in two ways, '{first.predecessor}' to '{second.successor}'",
            "count both in the same way, or write that relationship as a row of its own",
        )
    return Link(
        predecessor=first.predecessor,
        successor=second.successor,
        type=first.type[0] + second.type[1],  # type: ignore[arg-type]  # ends of two types make a type
        lag=first.lag + second.lag,
        lag_calendar=first.lag_calendar if first.lag else second.lag_calendar if second.lag else "",
    )


def _add_bridge(entry: StandardSequence, links: list[Link], bridged: Link, gone: str) -> None:
    """Add a bridge unless the network implies it; between the same ends the longer lag stays."""
    if bridged.lag == 0 and _implied(bridged, links):
        return
    ends = (bridged.predecessor, bridged.successor, bridged.type)
    for number, there in enumerate(links):
        if (there.predecessor, there.successor, there.type) != ends:
            continue
        if there.lag and bridged.lag and there.lag_calendar != bridged.lag_calendar:
            raise SequenceError(
                entry.file,
                f"activity '{gone}'",
                f"dropping it meets a lag counted in another way, from '{ends[0]}' to '{ends[1]}'",
                "count both in the same way",
            )
        if bridged.lag > there.lag:
            links[number] = bridged
        return
    links.append(bridged)


def _implied(bridged: Link, links: Sequence[Link]) -> bool:
    if bridged.type == "FS":
        return bridged.successor in reach_after_finish(bridged.predecessor, links)[0]
    if bridged.type == "FF":
        return bridged.successor in reach_after_finish(bridged.predecessor, links)[1]
    return bridged.type == "SS" and bridged.successor in reach_before(bridged.predecessor, links)


def _join_links(activities: Sequence[Activity], links: Sequence[Link]) -> tuple[Activity, ...]:
    return tuple(
        replace(activity, after=tuple(link for link in links if link.successor == activity.id))
        for activity in activities
    )


def _keep_details(entry: StandardSequence, values: Mapping[str, Value], gone: set[str]) -> list[Detail]:
    return [
        replace(
            detail,
            installed_by=tuple(one for one in detail.installed_by if one not in gone),
            covered_by=tuple(one for one in detail.covered_by if one not in gone),
            along=tuple(one for one in detail.along if one not in gone),
            point="" if detail.point in gone else detail.point,
        )
        for detail in entry.details
        if _stands(f"detail '{detail.id}'", detail, values)
    ]


def _stands(name: str, row: Detail | Check, values: Mapping[str, Value]) -> bool:
    """Whether this house has the row; a refused number of its condition says which row it was."""
    try:
        return holds_for(row.when, row.numbers, values)
    except FeatureErrors as error:
        raise FeatureErrors(error.file, error.errors, name) from error


def _fill(
    fill: Callable[[RowT, Mapping[str, Value]], RowT], name: str, row: RowT, values: Mapping[str, Value]
) -> RowT:
    """The filled row; a refusal says which row it was."""
    try:
        return fill(row, values)
    except FeatureErrors as error:
        raise FeatureErrors(error.file, error.errors, name) from error


def _fill_detail(detail: Detail, values: Mapping[str, Value]) -> Detail:
    """Instructions with this house's numbers."""
    return replace(
        detail,
        instruction=fill_text(detail.instruction, detail.numbers, values),
        tells={trade: fill_text(words, detail.numbers, values) for trade, words in detail.tells.items()},
    )


def _fill_check(check: Check, values: Mapping[str, Value]) -> Check:
    """Words and sample with this house's numbers; a limit that these make impossible is refused here."""
    limit_for(check, values)
    return replace(
        check,
        text=fill_text(check.text, check.numbers, values),
        sampling=sample_for(check.sampling, values),
    )
