"""The difference of two plans: what moved, by how much, whose it is, and the one change that drove it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coordination.engine.network import Relationship
from coordination.engine.plan import Plan, PlannedActivity

CauseKind = Literal[
    "duration",
    "not_before",
    "calendar",
    "progress",
    "relationship",
    "crew",
    "data_date",
    "added",
    "removed",
]


@dataclass(frozen=True)
class Cause:
    """The change of input that drove a move: what was changed, at which activity, and what it is worth there.

    `half_days` are axis half-days by which the change moves its own activity. For a ``relationship`` that was
    added, changed or taken away `relationship` is the one meant.
    """

    kind: CauseKind
    activity_id: str
    half_days: int
    relationship: Relationship | None = None


@dataclass(frozen=True)
class Move:
    """An activity whose dates changed.

    `start_moved` and `finish_moved` are axis half-days (weekends count), later is positive; `half_days` are
    working half-days of its calendar by which the finish moved. `crews` are the crews whose work it is.
    """

    activity_id: str
    house: str | None
    crews: tuple[str, ...]
    old: PlannedActivity
    new: PlannedActivity
    start_moved: int
    finish_moved: int
    half_days: int
    cause: Cause | None


@dataclass(frozen=True)
class PlanDifference:
    """What two plans of the same work differ in: moves in the input order of the new plan, added, removed."""

    moves: tuple[Move, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    houses: dict[str, int]
    """Half-days of the axis by which the finish of each house moved, where it did."""


def compare_plans(old: Plan, new: Plan) -> PlanDifference:
    """Say what moved between two plans.

    What holds an activity back now is on its driving chain in the new plan; what used to hold it back and
    does no more, on that in the old one. So a move to later is explained along the new chain and a move to
    earlier along the old one: of the changes of input on the chain the one that is worth most half-days.
    """
    kept = [name for name in new.activities if name in old.activities]
    moves = []
    for name in kept:
        before, after = old[name], new[name]
        if (before.es, before.ef) == (after.es, after.ef):
            continue
        moves.append(
            Move(
                activity_id=name,
                house=after.house,
                crews=tuple(new.network[name].crew),
                old=before,
                new=after,
                start_moved=after.es - before.es,
                finish_moved=after.ef - before.ef,
                half_days=new.network.calendar_of(name).count(before.ef, after.ef),
                cause=_find_cause(old, new, name),
            )
        )
    houses = {h: new.houses[h] - old.houses[h] for h in new.houses if h in old.houses}
    return PlanDifference(
        moves=tuple(moves),
        added=tuple(name for name in new.activities if name not in old.activities),
        removed=tuple(name for name in old.activities if name not in new.activities),
        houses={house: moved for house, moved in houses.items() if moved},
    )


def _find_cause(old: Plan, new: Plan, name: str) -> Cause | None:
    """The change on the driving chain that is worth most in the direction of the move."""
    shift = (new[name].ef - old[name].ef) or (new[name].es - old[name].es)
    plan = new if shift > 0 else old
    links = plan.driving_links(name)
    chain = (*(link.from_id for link in links), name)
    head = plan[chain[0]].reason
    data_date_moved = new.data_date - old.data_date
    arrived = data_date_moved if "data_date" in (head.kind, head.after) else 0
    carrier: Relationship | None = None
    best: Cause | None = None
    for step, at in enumerate(chain):
        if at not in old.activities or at not in new.activities:
            return Cause("added" if at in new.activities else "removed", at, shift, carrier)
        leaves_by_start = step < len(links) and links[step].type[0] == "S"
        moved = new[at].es - old[at].es if leaves_by_start else new[at].ef - old[at].ef
        own = moved - arrived  # what the chain carried in is not of this activity's making
        if own * shift > 0 and (best is None or abs(own) > abs(best.half_days)):
            best = _name_change(old, new, at, own, carrier, leaves_by_start) or best
        arrived, carrier = moved, links[step] if step < len(links) else None
    if best is None and data_date_moved:
        best = Cause("data_date", chain[0], data_date_moved)
    return best


def _name_change(
    old: Plan, new: Plan, at: str, own: int, carrier: Relationship | None, by_start: bool
) -> Cause | None:
    """Which input of an activity, or of the relationship that drives it, differs between the plans.

    `by_start`: the chain leaves it by its start, so that its duration is not what counts.
    """
    if carrier is not None and (carrier in old.network.relationships) != (
        carrier in new.network.relationships
    ):
        return Cause("relationship", at, own, carrier)
    before, after = old.network[at], new.network[at]
    differs: dict[CauseKind, bool] = {
        "progress": (before.actual_start, before.actual_finish, before.remaining)
        != (after.actual_start, after.actual_finish, after.remaining),
        "duration": before.duration != after.duration and not by_start,
        "not_before": before.not_before != after.not_before,
        "calendar": not old.network.calendar_of(at).same_as(new.network.calendar_of(at)),
        "crew": "crew" in (old[at].reason.kind, new[at].reason.kind),
    }
    for kind, is_so in differs.items():
        if is_so:
            return Cause(kind, at, own)
    return None
