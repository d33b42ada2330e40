"""Lints: what makes a sequence unfit for use, and what its author should have thought of.

A refused sequence sets out no house. A warning may stand; where the entry explains it (a row
`[[explained]]`), the finding carries the explanation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import combinations

from coordination.sequence.library.drawable import find_failing_drawings, find_impossible_constants
from coordination.sequence.library.entry import (
    WITHOUT_SUCCESSOR,
    Activity,
    Detail,
    ResolvedSequence,
    StandardSequence,
)
from coordination.sequence.library.network import early_dates, find_cycle, reach_after_finish, reach_before
from coordination.sequence.library.possible import (
    failing,
    find_failing_numbers,
    find_impossible_limits,
    find_impossible_numbers,
)
from coordination.sequence.library.references import BREAKING, find_unknown_names
from coordination.sequence.library.refusals import FeatureErrors, Finding, SequenceError
from coordination.sequence.library.resolving import resolve
from coordination.sequence.library.visits import holds_before, joined_pairs


def lint(resolved: ResolvedSequence) -> list[Finding]:
    """Everything wrong (refused) or doubtful (warned) with the sequence of one house, refusals first.

    Unknown names and a cycle are reported alone: nothing that rests on them can be judged.
    """
    unknown = find_unknown_names(resolved.entry)
    if unknown:
        return unknown
    house = _House(resolved)
    house.findings += find_impossible_limits(resolved.entry)
    cycle = find_cycle(house.activities, resolved.relationships)
    if cycle:
        house.refuse(
            "cycle",
            f"activity '{cycle[0]}'",
            "the network goes round in a circle: " + " > ".join(cycle),
            "remove one of these relationships",
        )
        return house.findings
    for judge in _REFUSING + _WARNING:
        judge(house)
    return sorted(house.findings, key=lambda finding: finding.level)


def lint_entry(sequence: StandardSequence) -> list[Finding]:
    """Findings of an entry with its default features: plain, with each option, and with each pair of them.

    A finding that several of these share is reported once.
    """
    unknown = find_unknown_names(sequence)
    if any(finding.lint in BREAKING for finding in unknown):
        return unknown
    failing_rows = find_failing_numbers(sequence, {one.key: one.default for one in sequence.features})
    if failing_rows:
        return [*find_impossible_numbers(sequence), *failing_rows]
    findings = dict.fromkeys(_find_empty_options(sequence))
    excluded = {frozenset((one.key, other)) for one in sequence.options for other in one.excludes}
    keys = [option.key for option in sequence.options]
    choices: list[tuple[str, ...]] = [(), *((key,) for key in keys)]
    choices += [pair for pair in combinations(keys, 2) if frozenset(pair) not in excluded]
    for chosen in choices:
        row = "options " + " and ".join(chosen) if chosen else "defaults"
        try:
            usual = resolve(sequence, {}, chosen)
            found = lint(usual) + find_impossible_constants(usual.entry)
            found += find_failing_drawings(usual.details, usual.features, sequence.file)
        except SequenceError as error:
            found = [Finding("refused", "options", error.entry, error.message, error.remedy, sequence.file)]
        except FeatureErrors as error:
            if error.row:
                found = [failing(error.row, error, sequence.file)]
            else:
                found = [
                    Finding("refused", "features", row, str(error), "change the defaults", sequence.file)
                ]
        findings |= dict.fromkeys(found)
    return sorted(findings, key=lambda finding: finding.level)


def _find_empty_options(sequence: StandardSequence) -> list[Finding]:
    """Options that change nothing: a draft may hold one while its rows are written, no version may."""
    return [
        Finding(
            "refused",
            "empty option",
            f"option '{one.key}'",
            "it changes nothing",
            "give it a feature that it fixes, or a row that it adds, changes or takes out",
            sequence.file,
        )
        for one in sequence.options
        if not (one.sets or one.added or one.changed or one.removed)
    ]


class _House:
    """One resolved sequence, with what several lints ask of it, and the findings so far."""

    def __init__(self, resolved: ResolvedSequence) -> None:
        self.resolved = resolved
        self.links = resolved.relationships
        self.activities = {activity.id: activity for activity in resolved.activities}
        self.explained = {(one.lint, one.entry): one.why for one in resolved.entry.explained}
        self.findings: list[Finding] = []

    def refuse(self, lint_name: str, row: str, message: str, remedy: str) -> None:
        self.findings.append(Finding("refused", lint_name, row, message, remedy, self.resolved.entry.file))

    def warn(self, lint_name: str, key: str, row: str, message: str, remedy: str) -> None:
        """Warn about the row with id `key`, with the entry's own explanation if it has one."""
        finding = Finding("warned", lint_name, row, message, remedy, self.resolved.entry.file)
        self.findings.append(replace(finding, explained=self.explained.get((lint_name, key), "")))

    def installers(self, detail: Detail) -> list[Activity]:
        return [self.activities[key] for key in detail.installed_by if key in self.activities]


def _refuse_detail_without_ends(house: _House) -> None:
    for detail in house.resolved.details:
        row = f"detail '{detail.id}'"
        if not detail.point:
            house.refuse("detail without point", row, "it is judged at no point", "name its point")
        if not detail.installed_by:
            house.refuse(
                "detail without installer", row, "no one installs it", "name who does, or say 'when' not"
            )
        if not detail.covered_by:
            house.refuse("detail without coverer", row, "nothing covers it", "name what buries it")


def _refuse_walk_out_of_order(house: _House) -> None:
    """Every installer has finished when the point begins and when a coverer does."""
    for detail in house.resolved.details:
        for installer in house.installers(detail):
            starts, finishes = reach_after_finish(installer.id, house.links)
            if detail.point and detail.point not in starts:
                house.refuse(
                    "installer not before point",
                    f"detail '{detail.id}'",
                    f"'{detail.point}' can begin before '{installer.id}' has finished",
                    f"let '{detail.point}' follow '{installer.id}' (FS)",
                )
            for coverer in detail.covered_by:
                behind = finishes if coverer in detail.along else starts
                if coverer not in behind:
                    house.refuse(
                        "installer not before coverer",
                        f"detail '{detail.id}'",
                        f"'{coverer}' can bury it before '{installer.id}' has finished",
                        f"let '{coverer}' follow '{installer.id}' (FS)",
                    )


def _refuse_hold_behind_coverer(house: _House) -> None:
    for detail in house.resolved.details:
        point = house.activities.get(detail.point)
        if point is None or not point.holds:
            continue
        behind = reach_before(point.id, house.links)
        for coverer in detail.covered_by:
            if coverer not in behind:
                house.refuse(
                    "hold not before coverer",
                    f"detail '{detail.id}'",
                    f"'{coverer}' buries it without waiting for hold '{point.id}'",
                    f"let '{coverer}' follow '{point.id}', or judge the detail at another point",
                )


def _refuse_successor_of_notice(house: _House) -> None:
    for link in house.links:
        point = house.activities[link.predecessor].point
        if point in WITHOUT_SUCCESSOR:
            house.refuse(
                "witness or photo point with successor",
                f"activity '{link.successor}'",
                f"it waits for {point} point '{link.predecessor}', which stops nothing",
                "follow the work before it, or make it a hold",
            )


def _refuse_negative_word_time(house: _House) -> None:
    for link in house.links:
        if link.lag < 0 and house.activities[link.predecessor].holds:
            house.refuse(
                "negative lag out of a hold",
                f"activity '{link.successor}'",
                f"it may begin {-link.lag} half-days before hold '{link.predecessor}' is released",
                "give a lag of 0 or more",
            )


def _refuse_visit_across_hold(house: _House) -> None:
    before = holds_before(house.resolved)
    for visit in house.resolved.visits:
        first, *others = visit.activities
        for other in others:
            different = before[first] ^ before[other]
            if different:
                house.refuse(
                    "visit spans a hold",
                    f"visit '{visit.key}'",
                    f"hold {', '.join(sorted(different))} lies between '{first}' and '{other}'",
                    "give one of them a visit of its own",
                )
            if house.activities[first].trade != house.activities[other].trade:
                house.refuse(
                    "visit of two trades",
                    f"visit '{visit.key}'",
                    f"'{first}' and '{other}' are work of different trades",
                    "give each trade its own visit",
                )


def _refuse_check_outside_the_parts(house: _House) -> None:
    """A hold that is released part by part lifts with the last part: a check in none would be lost."""
    for check in house.resolved.checks:
        point = house.activities.get(check.point)
        if point is not None and point.sections and not check.section:
            house.refuse(
                "check outside the parts",
                f"check '{check.id}'",
                f"'{point.id}' is released part by part, and this check is in none",
                "give its 'section': " + ", ".join(point.sections),
            )


def _refuse_other_than_one_stake(house: _House) -> None:
    stakes = [activity.id for activity in house.resolved.activities if activity.stake]
    if len(stakes) != 1:
        house.refuse(
            "one stake",
            "file",
            f"{len(stakes)} activities are the stake ({', '.join(stakes) or 'none'})",
            "mark the linings, and nothing else, with stake = true",
        )


def _warn_no_time_to_walk(house: _House) -> None:
    """Time to a walk only; a crew's own photograph is taken as it finishes."""
    dates = early_dates(house.resolved.activities, house.links)
    late: dict[tuple[str, str], list[str]] = {}
    for detail in house.resolved.details:
        point = house.activities.get(detail.point)
        installers = house.installers(detail)
        if point is None or point.point == "photo" or not installers:
            continue
        last = max(installers, key=lambda one: dates[one.id][1])
        if dates[last.id][1] >= dates[point.id][0]:
            late.setdefault((last.id, point.id), []).append(detail.id)
    for (installer, walk), details in late.items():
        house.warn(
            "no time to the walk",
            walk,
            f"activity '{walk}'",
            f"0 half-days from '{installer}' to its walk ({', '.join(details)})",
            "leave time to put things right, or explain why none is needed",
        )


def _warn_no_word_time(house: _House) -> None:
    dates = early_dates(house.resolved.activities, house.links)
    for hold in (activity for activity in house.resolved.activities if activity.holds):
        surprised = [
            link.successor
            for link in house.links
            if link.predecessor == hold.id
            and link.lag == 0
            and not house.activities[link.successor].is_point
            and dates[link.successor][0] <= dates[hold.id][1]
        ]
        if surprised:
            house.warn(
                "no word time",
                hold.id,
                f"activity '{hold.id}'",
                f"{', '.join(surprised)} may begin in the half-day after its release",
                "give the relationship out of the hold a lag, or explain why the crew needs no word",
            )


def _warn_one_crew_in_two_visits(house: _House) -> None:
    visit_of = {activity.id: activity.visit for activity in house.resolved.activities}
    for first, second in joined_pairs(house.resolved):
        if visit_of[first.id] != visit_of[second.id]:
            house.warn(
                "one trade in two visits",
                second.id,
                f"activity '{second.id}'",
                f"the {first.trade} comes for '{first.id}' and again for '{second.id}' with nothing between",
                "give both the same visit, or explain why the crew leaves",
            )


def _warn_own_visit_covers(house: _House) -> None:
    visit_of = {activity.id: activity.visit for activity in house.resolved.activities}
    for detail in house.resolved.details:
        point = house.activities.get(detail.point)
        if point is None or point.holds or point.point == "photo":
            continue
        own = {visit_of[key] for key in detail.installed_by if key in visit_of}
        for coverer in detail.covered_by:
            if visit_of.get(coverer) in own:
                house.warn(
                    "own visit covers it",
                    detail.id,
                    f"detail '{detail.id}'",
                    f"'{coverer}' buries it in the installing visit, and a {point.point} point stops no one",
                    "make its point a photo point or a hold",
                )


def _warn_nothing_to_judge(house: _House) -> None:
    judged = {check.point for check in house.resolved.checks}
    checked = {check.detail for check in house.resolved.checks}
    for activity in house.resolved.activities:
        if activity.is_point and activity.id not in judged:
            house.warn(
                "nothing to judge",
                activity.id,
                f"activity '{activity.id}'",
                "the point has no check",
                "add one",
            )
    for detail in house.resolved.details:
        if detail.id not in checked:
            house.warn(
                "nothing to judge", detail.id, f"detail '{detail.id}'", "no check asks for it", "add one"
            )


Lint = Callable[[_House], None]
_REFUSING: tuple[Lint, ...] = (
    _refuse_detail_without_ends,
    _refuse_walk_out_of_order,
    _refuse_hold_behind_coverer,
    _refuse_successor_of_notice,
    _refuse_negative_word_time,
    _refuse_visit_across_hold,
    _refuse_check_outside_the_parts,
    _refuse_other_than_one_stake,
)
_WARNING: tuple[Lint, ...] = (
    _warn_no_time_to_walk,
    _warn_no_word_time,
    _warn_one_crew_in_two_visits,
    _warn_own_visit_covers,
    _warn_nothing_to_judge,
)


def refusals_in(findings: Iterable[Finding]) -> list[Finding]:
    """Those findings that forbid using the sequence."""
    return [finding for finding in findings if finding.level == "refused"]
