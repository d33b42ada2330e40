"""Whether a plan's logic is sound: the engine's checks of schedule quality, for a house and for a sequence.

A house is judged as it is planned now, a sequence as a house with the usual features would be, in a five-day
week without holidays.
"""

from __future__ import annotations

from dataclasses import dataclass

from coordination import engine
from coordination.people.refusals import BadInput
from coordination.sequence.house_network import read_house_network
from coordination.sequence.models import House
from coordination.sequence.standard import StandardSequence, resolve
from coordination.sequence.to_engine.house_dates import lay_out

WEEK = (2, 2, 2, 2, 2, 0, 0)


@dataclass(frozen=True)
class Flaw:
    """One finding: what kind, at which activity, beside which other (a relationship), how many half-days."""

    kind: str
    key: str
    other: str
    link: str
    half_days: int


@dataclass(frozen=True)
class Check:
    """How often a kind is found, of how many, the share allowed, whether it passes, and by what source."""

    kind: str
    found: int
    of: int
    allowed: float
    passed: bool
    source: str


@dataclass(frozen=True)
class Soundness:
    """All checks in order, all flaws, and the activities' names by key."""

    checks: tuple[Check, ...]
    flaws: tuple[Flaw, ...]
    names: dict[str, str]

    @property
    def passed(self) -> bool:
        """Whether every check passes."""
        return all(one.passed for one in self.checks)


def judge_house(house: House) -> Soundness:
    """Judge a house as it is planned now.

    Raises:
        BadInput: what cannot be planned, by name.
    """
    rows = read_house_network(house)
    plan = house.plans.order_by("-number").first()
    laid = lay_out(house, stored=plan.calendars if plan else None, rows=rows)
    return _read(laid.plan, rows.names)


def judge_sequence(entry: StandardSequence) -> Soundness:
    """Judge a sequence as a house with the usual features would have it.

    Raises:
        BadInput: a circle, by its activities.
        FeatureErrors, SequenceError: it cannot be resolved for its own defaults.
    """
    usual = resolve(entry, {}, [])
    there = {one.id for one in usual.activities}
    try:
        network = engine.Network(
            activities=tuple(
                engine.Activity(one.id, one.half_days, "week", house=entry.name) for one in usual.activities
            ),
            relationships=tuple(
                engine.Relationship(
                    link.predecessor,
                    link.successor,
                    link.type,
                    link.lag,
                    link.lag_calendar if link.lag_calendar in ("elapsed", "every") else None,
                )
                for link in usual.relationships
                if link.predecessor in there and link.successor in there
            ),
            calendars={"week": engine.WorkingCalendar(week=WEEK)},
        )
        plan = engine.compute_dates(network)
    except engine.Refused as refused:
        raise BadInput(entry.name, str(refused)) from refused
    return _read(plan, {one.id: one.name for one in usual.activities})


def _read(plan: engine.Plan, names: dict[str, str]) -> Soundness:
    report = engine.assess_quality(plan)
    return Soundness(
        checks=tuple(
            Check(one.kind, one.found, one.of, one.allowed, one.passed, one.source) for one in report.checks
        ),
        flaws=tuple(_read_flaw(one) for one in report.findings),
        names=names,
    )


def _read_flaw(one: engine.Finding) -> Flaw:
    link = one.relationship
    return Flaw(
        kind=one.kind,
        key=one.activity_id,
        other=link.from_id if link else "",
        link=link.type if link else "",
        half_days=abs(one.half_days or 0),
    )
