"""The difference of two plans: what moved, by how much, whose it is, what drove it, and who must be told."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from coordination.engine.network import Activity, Relationship
from coordination.engine.plan import Plan, Reason
from coordination.engine.workdays import WorkingCalendar

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


@dataclass(frozen=True, slots=True)
class Cause:
    """The change of input that drove a move: what was changed, at which activity, and what it is worth there.

    `half_days` are axis half-days by which the change moves its own activity. For a ``relationship`` that was
    added, changed or taken away `relationship` is the one meant.
    """

    kind: CauseKind
    activity_id: str
    half_days: int
    relationship: Relationship | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """An activity whose dates changed.

    `start_before`, `finish_before`, `start` and `finish` are instants. `start_moved` and `finish_moved` are
    axis half-days (weekends count), later is positive; `half_days` are working half-days of its calendar by
    which the finish moved. `crews` are the crews whose work it is.
    """

    activity_id: str
    house: str | None
    crews: tuple[str, ...]
    start_before: int
    finish_before: int
    start: int
    finish: int
    half_days: int
    cause: Cause | None

    @property
    def start_moved(self) -> int:
        """Axis half-days by which the start moved."""
        return self.start - self.start_before

    @property
    def finish_moved(self) -> int:
        """Axis half-days by which the finish moved."""
        return self.finish - self.finish_before


@dataclass(frozen=True, slots=True)
class VisitMove:
    """A crew that must be told: its visit to a house starts or ends at another time.

    `visit` is None for an activity without visit. Instants are those of the whole visit before and now;
    `activities` are those of it that moved. `confirmed`: the crew had confirmed the dates before.
    """

    crew: str
    house: str | None
    visit: str | None
    activities: tuple[str, ...]
    start_before: int
    finish_before: int
    start: int
    finish: int
    confirmed: bool


@dataclass(frozen=True)
class PlanDifference:
    """What two plans of the same work differ in: moves in the input order of the new plan, added, removed.

    `tell` names the crews whose visits moved, by their new start.
    """

    moves: tuple[Move, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    houses: dict[str, int]
    """Half-days of the axis by which the finish of each house moved, where it did."""
    tell: tuple[VisitMove, ...] = ()


class Placed(Protocol):
    """The early dates of an activity and why they are so."""

    @property
    def es(self) -> int: ...

    @property
    def ef(self) -> int: ...

    @property
    def reason(self) -> Reason: ...


class Facts(Protocol):
    """The input behind a set of dates."""

    @property
    def relationships(self) -> Collection[Relationship]: ...

    def __getitem__(self, activity_id: str) -> Activity: ...

    def calendar_of(self, activity_id: str) -> WorkingCalendar: ...


class Side(Protocol):
    """One of two sets of dates to compare: a `Plan`, or a view of dates that are kept up to date."""

    @property
    def network(self) -> Facts: ...

    @property
    def data_date(self) -> int: ...

    @property
    def activities(self) -> Collection[str]: ...

    def __getitem__(self, activity_id: str) -> Placed: ...

    def driving_links(self, to: str) -> tuple[Relationship, ...]: ...


def compare_plans(old: Plan, new: Plan) -> PlanDifference:
    """Say what moved between two plans.

    What holds an activity back now is on its driving chain in the new plan; what used to hold it back and
    does no more, on that in the old one. So a move to later is explained along the new chain and a move to
    earlier along the old one: of the changes of input on the chain the one that is worth most half-days.
    """
    moves = []
    for name in new.activities:
        if name not in old.activities:
            continue
        before, after = old[name], new[name]
        if (before.es, before.ef) == (after.es, after.ef):
            continue
        moves.append(
            Move(
                activity_id=name,
                house=after.house,
                crews=crews_of(new.network[name]),
                start_before=before.es,
                finish_before=before.ef,
                start=after.es,
                finish=after.ef,
                half_days=new.network.calendar_of(name).count(before.ef, after.ef),
                cause=find_cause(old, new, name),
            )
        )
    houses = {h: new.houses[h] - old.houses[h] for h in new.houses if h in old.houses}
    members: dict[VisitKey, list[str]] = {}
    for name in new.activities:
        if name in old.activities:
            for key in visit_keys(new.network[name]):
                members.setdefault(key, []).append(name)
    return PlanDifference(
        moves=tuple(moves),
        added=tuple(name for name in new.activities if name not in old.activities),
        removed=tuple(name for name in old.activities if name not in new.activities),
        houses={house: moved for house, moved in houses.items() if moved},
        tell=find_visit_moves(
            moves,
            {move.activity_id: visit_keys(new.network[move.activity_id]) for move in moves},
            members,
            lambda name: (new[name].es, new[name].ef),
            new.network.confirmed,
        ),
    )


# --- who must be told ---------------------------------------------------------------------------------------

VisitKey = tuple[str, str | None, str | None, str | None]
"""Crew, house, visit, and the activity where there is no visit."""


def crews_of(activity: Activity) -> tuple[str, ...]:
    """The crews that an activity needs."""
    return tuple(name for name, units in activity.crew.items() if units)


def visit_keys(activity: Activity) -> tuple[VisitKey, ...]:
    """The visits that an activity belongs to, one for each of its crews."""
    alone = None if activity.visit else activity.id
    return tuple((crew, activity.house, activity.visit, alone) for crew in crews_of(activity))


def find_visit_moves(
    moves: Iterable[Move],
    keys: Mapping[str, tuple[VisitKey, ...]],
    members: Mapping[VisitKey, Iterable[str]],
    dates: Callable[[str], tuple[int, int]],
    confirmed: Collection[str],
) -> tuple[VisitMove, ...]:
    """The visits whose start or finish moved, by their new start.

    `keys` are the visits of each moved activity, `members` the activities of each visit, `dates` their new
    start and finish.
    """
    moved: dict[VisitKey, list[Move]] = {}
    for move in moves:
        for key in keys[move.activity_id]:
            moved.setdefault(key, []).append(move)
    found = []
    for key, group in moved.items():
        was = {move.activity_id: (move.start_before, move.finish_before) for move in group}
        now = {name: dates(name) for name in members[key]}
        start, finish = min(s for s, _ in now.values()), max(f for _, f in now.values())
        before = [was.get(name, spell) for name, spell in now.items()]
        start_before, finish_before = min(s for s, _ in before), max(f for _, f in before)
        if (start, finish) != (start_before, finish_before):
            crew, house, visit, _ = key
            spells = (start_before, finish_before, start, finish)
            found.append(VisitMove(crew, house, visit, tuple(was), *spells, visit in confirmed))
    return tuple(sorted(found, key=lambda one: (one.start, one.crew)))


# --- the one change that drove it ---------------------------------------------------------------------------


def find_cause(old: Side, new: Side, name: str) -> Cause | None:
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
    old: Side, new: Side, at: str, own: int, carrier: Relationship | None, by_start: bool
) -> Cause | None:
    """Which input of an activity, or of the relationship that drives it, differs between the plans.

    `by_start`: the chain leaves it by its start, so that its duration is not what counts.
    """
    was, now = old.network.relationships, new.network.relationships
    if carrier is not None and was is not now and (carrier in was) != (carrier in now):
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
