"""Schedule quality: what in a plan's logic would let a slip go unseen, each finding with its remedy.

The checks and limits are those of the U.S. Defense Contract Management Agency's 14-point assessment (DCMA-EA
PAM 200.1, Earned Value Management System Program Analysis Pamphlet, October 2012, section 4: logic below 5 %,
no leads, lags below 5 %, at least 90 % finish-to-start, hard constraints below 5 %, float above 44 days below
5 %, no negative float, duration above 44 days below 5 %, no invalid dates) and, for dangling starts and
finishes and work out of sequence, of the U.S. Government Accountability Office's Schedule Assessment Guide
(GAO-16-89G, December 2015). A day is two half-days here. The limits are parameters: they were written for
large programmes, and a house has cures and word times that are lags by nature.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from coordination.engine.network import Activity, Relationship
from coordination.engine.plan import Plan
from coordination.engine.workdays import Refused, write_half_day

DCMA, GAO = "DCMA-EA PAM 200.1 (2012), section 4", "GAO-16-89G (2015)"

FindingKind = Literal[
    "missing predecessor",
    "missing successor",
    "dangling start",
    "dangling finish",
    "lead",
    "lag",
    "long lag",
    "not finish to start",
    "hard constraint",
    "high float",
    "negative float",
    "long duration",
    "invalid date",
    "out of sequence",
]


@dataclass(frozen=True)
class QualityLimits:
    """Thresholds: shares (0 to 1) of activities or relationships, and lengths in half-days.

    `missing_logic`, `lags`, `hard_constraints`, `high_float_share`, `long_duration_share` are the shares not
    to be exceeded, `finish_to_start` the least share; `high_float`, `long_duration` (44 days) and `long_lag`
    (5 days, common practice, no published figure) say from which length on one is a finding.
    """

    missing_logic: float = 0.05
    lags: float = 0.05
    finish_to_start: float = 0.90
    hard_constraints: float = 0.05
    high_float_share: float = 0.05
    long_duration_share: float = 0.05
    high_float: int = 88
    long_duration: int = 88
    long_lag: int = 10

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if name in ("high_float", "long_duration", "long_lag"):
                if type(value) is not int or value < 0:
                    raise Refused(f"limit {name!r} must be a whole number of half-days, not {value!r}")
            elif type(value) not in (int, float) or not 0 <= value <= 1:
                raise Refused(f"limit {name!r} must be a share from 0 to 1, not {value!r}")


@dataclass(frozen=True)
class Finding:
    """One defect: at which activity, what it is in a sentence, and what to do about it.

    `relationship` is the one meant, where it is one (then `activity_id` is its successor); `half_days` the
    length found, where it is one.
    """

    kind: FindingKind
    activity_id: str
    house: str | None
    words: str
    remedy: str
    relationship: Relationship | None = None
    half_days: int | None = None


@dataclass(frozen=True)
class QualityCheck:
    """How often a kind of finding occurs, of how many, and the most that is allowed (with its source)."""

    kind: FindingKind
    found: int
    of: int
    allowed: float
    passed: bool
    source: str

    @property
    def share(self) -> float:
        """Found over possible, 0 to 1."""
        return self.found / self.of if self.of else 0.0


@dataclass(frozen=True)
class QualityReport:
    """All checks in order, and all findings (by check, then in input order)."""

    checks: tuple[QualityCheck, ...]
    findings: tuple[Finding, ...]

    @property
    def passed(self) -> bool:
        """Whether every check passed."""
        return all(check.passed for check in self.checks)

    def of_activity(self, activity_id: str) -> tuple[Finding, ...]:
        """The findings at one activity."""
        return tuple(one for one in self.findings if one.activity_id == activity_id)


def assess_quality(plan: Plan, limits: QualityLimits | None = None) -> QualityReport:
    """Judge the logic and the dates of a plan.

    Finished work is not judged. In every house one activity may begin it (the first to start of those that
    wait for nothing) and one may end it (the last to finish of those that nothing waits for); a point of 0
    half-days that nothing waits for is a notice and may end too.
    """
    return _Assessor(plan, limits or QualityLimits()).assess()


class _Assessor:
    def __init__(self, plan: Plan, limits: QualityLimits) -> None:
        self.plan, self.limits = plan, limits
        self.left = [a for a in plan.network.activities if not a.finished]
        self.into: dict[str, list[Relationship]] = {a.id: [] for a in plan.network.activities}
        self.out: dict[str, list[Relationship]] = {a.id: [] for a in plan.network.activities}
        for link in plan.network.relationships:
            self.into[link.to_id].append(link)
            self.out[link.from_id].append(link)
        self.links = [x for x in plan.network.relationships if not plan.network[x.to_id].finished]
        self.begins = self._best_by_house((a for a in self.left if not self.into[a.id]), lambda p: -p.es)
        self.ends = self._best_by_house((a for a in self.left if not self.out[a.id]), lambda p: p.ef)

    def _best_by_house(self, among: Iterable[Activity], rank: Callable[..., int]) -> set[str]:
        best: dict[str | None, Activity] = {}
        for a in among:
            held = best.get(a.house)
            if held is None or rank(self.plan[a.id]) > rank(self.plan[held.id]):
                best[a.house] = a
        return {a.id for a in best.values()}

    def assess(self) -> QualityReport:
        limits, activities, links = self.limits, len(self.left), len(self.links)
        long_lags = self.long_lags()
        rows: list[tuple[FindingKind, list[Finding], int, float, str]] = [
            ("missing predecessor", self.missing_predecessors(), activities, limits.missing_logic, DCMA),
            ("missing successor", self.missing_successors(), activities, limits.missing_logic, DCMA),
            ("dangling start", self.dangling_starts(), activities, 0.0, GAO),
            ("dangling finish", self.dangling_finishes(), activities, 0.0, GAO),
            ("lead", self.leads(), links, 0.0, DCMA),
            ("lag", self.lags(), links, limits.lags, DCMA),
            ("long lag", long_lags, links, 0.0, "common practice"),
            ("not finish to start", self.other_types(), links, 1 - limits.finish_to_start, DCMA),
            ("hard constraint", self.hard_constraints(), activities, limits.hard_constraints, DCMA),
            ("high float", self.high_floats(), activities, limits.high_float_share, DCMA),
            ("negative float", self.negative_floats(), activities, 0.0, DCMA),
            ("long duration", self.long_durations(), activities, limits.long_duration_share, DCMA),
            ("invalid date", self.invalid_dates(), activities, 0.0, DCMA),
            ("out of sequence", self.out_of_sequence(), activities, 0.0, GAO),
        ]
        checks = tuple(
            QualityCheck(kind, count, of, allowed, count <= allowed * of + 1e-9, source)
            for kind, found, of, allowed, source in rows
            # A long lag is a lag as well; it is a finding once.
            for count in (len(found) + (len(long_lags) if kind == "lag" else 0),)
        )
        return QualityReport(checks, tuple(one for _, found, *_ in rows for one in found))

    def at(
        self, kind: FindingKind, a: Activity, words: str, remedy: str, length: int | None = None
    ) -> Finding:
        return Finding(kind, a.id, a.house, words, remedy, None, length)

    def on(self, kind: FindingKind, link: Relationship, words: str, remedy: str) -> Finding:
        house = self.plan.network[link.to_id].house
        return Finding(kind, link.to_id, house, words, remedy, link, link.lag)

    # --- logic ----------------------------------------------------------------------------------------------

    def missing_predecessors(self) -> list[Finding]:
        return [
            self.at(
                "missing predecessor",
                a,
                f"{a.id} waits for nothing: no slip before it would ever move it",
                "say which work has to be done before it can begin",
            )
            for a in self.left
            if not self.into[a.id] and a.id not in self.begins and not a.under_way
        ]

    def missing_successors(self) -> list[Finding]:
        return [
            self.at(
                "missing successor",
                a,
                f"nothing waits for {a.id}: it may slip without anybody seeing whom that holds up",
                "say which work waits for it, if only the end of the house",
            )
            for a in self.left
            if not self.out[a.id] and a.id not in self.ends and a.duration
        ]

    def dangling_starts(self) -> list[Finding]:
        return [
            self.at(
                "dangling start",
                a,
                f"only the finish of {a.id} is held: nothing says when it can begin",
                "add a relationship to its start (FS or SS)",
            )
            for a in self.left
            if self.into[a.id] and not a.under_way and all(x.type[1] == "F" for x in self.into[a.id])
        ]

    def dangling_finishes(self) -> list[Finding]:
        return [
            self.at(
                "dangling finish",
                a,
                f"only the start of {a.id} holds others: however long it takes, nobody behind it moves",
                "add a relationship from its finish (FS or FF)",
            )
            for a in self.left
            if a.duration and self.out[a.id] and all(x.type[0] == "S" for x in self.out[a.id])
        ]

    def leads(self) -> list[Finding]:
        return [
            self.on(
                "lead",
                x,
                f"{x.to_id} is planned {-x.lag} half-days ahead of what it waits for ({x.from_id}, {x.type})",
                "divide the work before it into the part that it waits for and the rest",
            )
            for x in self.links
            if x.lag < 0
        ]

    def lags(self) -> list[Finding]:
        return [
            self.on(
                "lag",
                x,
                f"{x.lag} half-days between {x.from_id} and {x.to_id} have no work in them",
                "keep it if it is a cure or a word time; else name the work in it as an activity",
            )
            for x in self.links
            if 0 < x.lag <= self.limits.long_lag
        ]

    def long_lags(self) -> list[Finding]:
        return [
            self.on(
                "long lag",
                x,
                f"{x.lag} half-days between {x.from_id} and {x.to_id} have no work and no owner",
                "make the wait an activity with somebody's name on it, or shorten it",
            )
            for x in self.links
            if x.lag > self.limits.long_lag
        ]

    def other_types(self) -> list[Finding]:
        return [
            self.on(
                "not finish to start",
                x,
                f"{x.to_id} is tied to {x.from_id} by {x.type}, not from finish to start",
                "keep it where both really work side by side; else divide the work and use FS",
            )
            for x in self.links
            if x.type != "FS"
        ]

    # --- dates ----------------------------------------------------------------------------------------------

    def hard_constraints(self) -> list[Finding]:
        return [
            self.at(
                "hard constraint",
                a,
                f"{a.id} is wanted finished by {write_half_day(a.not_after - 1)} whatever comes before it",
                "keep a date only where a contract sets it; let the logic give the others",
            )
            for a in self.left
            if a.not_after is not None and self.out[a.id]
        ]

    def high_floats(self) -> list[Finding]:
        return [
            self.at(
                "high float",
                a,
                f"{a.id} could slip {total} half-days before it matters: a relationship may be missing",
                "look for the work that waits for it",
                total,
            )
            for a in self.left
            if (total := self.plan[a.id].total_float) is not None and total > self.limits.high_float
        ]

    def negative_floats(self) -> list[Finding]:
        return [
            self.at(
                "negative float",
                a,
                f"{a.id} is {-total} half-days too late for a date that is wanted behind it",
                "bring work forward, or agree another date",
                total,
            )
            for a in self.left
            if (total := self.plan[a.id].total_float) is not None and total < 0
        ]

    def long_durations(self) -> list[Finding]:
        return [
            self.at(
                "long duration",
                a,
                f"{a.id} takes {a.duration} half-days in one piece: its progress cannot be judged",
                "divide it where somebody else can take over",
                a.duration,
            )
            for a in self.left
            if a.duration > self.limits.long_duration
        ]

    def invalid_dates(self) -> list[Finding]:
        at = self.plan.data_date
        found = []
        for a in self.left:
            dates = self.plan[a.id]
            if (a.actual_start is None and dates.es < at) or dates.ef < at:
                words = f"{a.id} is not finished and planned before {write_half_day(at)}, which is past"
                found.append(self.at("invalid date", a, words, "record what happened, or compute again"))
        for a in self.plan.network.activities:
            late = [t for t in (a.actual_start, a.actual_finish) if t is not None and t > at]
            if late:
                words = f"{a.id} is recorded as done after {write_half_day(at)}, which has not come yet"
                found.append(self.at("invalid date", a, words, "correct the recorded date"))
        return found

    def out_of_sequence(self) -> list[Finding]:
        return [
            self.on(
                "out of sequence",
                x,
                f"{x.to_id} has begun although {x.from_id}, which it waits for, is not finished",
                "correct the record, or replace the relationship by what was really waited for",
            )
            for x in self.links
            if self.plan.network[x.to_id].under_way
            and x.type == "FS"
            and x.lag >= 0
            and not self.plan.network[x.from_id].finished
        ]
