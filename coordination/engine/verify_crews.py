"""The judge of crews: capacity by half-day, reserved time, and what should have stayed where it was told.

Like `verify` it shares no arithmetic with what it judges: it asks calendars half-day by half-day and counts
in plain dictionaries.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from coordination.engine.crews import assign_crews
from coordination.engine.critical_path import compute_dates
from coordination.engine.network import Activity, Network
from coordination.engine.verify import Dates, Fault, find_faults
from coordination.engine.workdays import write_half_day

Key = tuple[str | None, str]
CrewOf = Mapping[str, Mapping[str, str]]
NO_CHOICE: CrewOf = MappingProxyType({})


def list_worked(network: Network, activity: Activity, dates: Dates, data_date: int) -> list[int]:
    """The half-days of an activity's dates that are still to be worked, one by one."""
    start, finish = dates[activity.id]
    if activity.finished or not activity.duration:
        return []
    calendar = network.calendars[activity.calendar]
    worked = [t for t in range(start, finish) if calendar.works(t)]
    if not activity.under_way:
        return worked
    left = activity.remaining
    if left is None:
        left = max(1, activity.duration - sum(t < data_date for t in worked))
    # What remains is worked without a break up to the finish; before that the crew may have been elsewhere.
    return worked[len(worked) - left :]


@dataclass
class _Books:
    """Who takes how many units of each crew in each half-day: by visit, or by activity without one."""

    network: Network
    dates: Dates
    data_date: int

    def __post_init__(self) -> None:
        self.taken: dict[tuple[str, int], dict[Key, dict[str, int]]] = defaultdict(lambda: defaultdict(dict))
        for a in self.network.activities:
            who = (a.house, f"visit {a.visit}") if a.visit is not None else (a.house, f"activity {a.id}")
            for t in list_worked(self.network, a, self.dates, self.data_date):
                for crew, units in a.crew.items():
                    if units:
                        self.taken[crew, t][who][a.id] = units

    def capacity(self, crew: str, half_day: int) -> int:
        """Units that there are, after what is reserved; none where the crew does not work."""
        known = next(c for c in self.network.crews if c.name == crew)
        if not self.network.calendars[known.calendar].works(half_day):
            return 0
        reserved = sum(r.units for r in known.reserved if r.start <= half_day < r.finish)
        return max(0, known.capacity - reserved)

    def used(self, crew: str, half_day: int, among: set[str] | None = None) -> int:
        """Units taken; a visit counts once, with the most that one of its activities takes."""
        visits = self.taken.get((crew, half_day), {})
        return sum(
            max((u for a, u in members.items() if among is None or a in among), default=0)
            for members in visits.values()
        )


def _stays(network: Network, activity: Activity, told: Dates) -> bool:
    """Whether it was confirmed, or lies within the freeze, and has not begun."""
    if activity.actual_start is not None or activity.visit is None:
        return False
    frozen = network.freeze_until is not None and told[activity.id][0] < network.freeze_until
    return frozen or activity.visit in network.confirmed


def _find_wrong_crews(network: Network, crew_of: CrewOf) -> list[Fault]:
    """Work without a crew of the trade that it asks for, and visits that two crews of a trade share."""
    trade_of = {crew.name: crew.trade for crew in network.crews}
    faults = []
    sent: dict[tuple[str | None, str, str], str] = {}
    for a in network.activities:
        if a.finished:
            continue
        for trade in (name for name, units in a.crew.items() if units and name not in trade_of):
            crew = crew_of.get(a.id, {}).get(trade)
            if crew is None or trade_of.get(crew) != trade:
                faults.append(Fault("crew", a.id, f"has no crew of trade {trade!r}, but {crew!r}"))
            elif a.visit is not None and sent.setdefault((a.house, a.visit, trade), crew) != crew:
                other = sent[a.house, a.visit, trade]
                faults.append(Fault("crew", a.id, f"is sent {crew!r} where {other!r} makes the visit"))
    return faults


def find_crew_faults(
    network: Network, dates: Dates, *, data_date: int = 0, crew_of: CrewOf = NO_CHOICE
) -> list[Fault]:
    """Half-days in which a crew is asked for more than it has, and confirmed or frozen visits that moved
    without need. Work under way counts but is not blamed: it is where it is.

    `crew_of` names the crews chosen for trades, by activity and trade (`levelling.Levelled.crew_of`); each
    must be one of that trade, and the same for the whole visit.

    A kept activity may move only where its told dates would break a relationship with the dates given, or
    where other kept work that stayed leaves it no crew.
    """
    wrong = _find_wrong_crews(network, crew_of)
    if wrong:
        return wrong
    network = assign_crews(network, crew_of)
    plan = compute_dates(network, data_date=data_date)
    told = {a.id: (a.es, a.ef) for a in plan.activities.values()}
    books = _Books(network, dates, data_date)
    kept = {a.id for a in network.activities if _stays(network, a, told)}
    stayed = {name for name in kept if dates[name] == told[name]}
    facts = {a.id for a in network.activities if a.actual_start is not None}
    faults = []
    for crew, half_day in sorted(books.taken):
        free = books.capacity(crew, half_day)
        if books.used(crew, half_day) <= free:
            continue
        there = [name for members in books.taken[crew, half_day].values() for name in members]
        blamed = max(
            (n for n in there if n not in facts), key=lambda n: (n not in stayed, dates[n]), default=None
        )
        if blamed is not None:
            words = (
                f"needs crew {crew!r} on {write_half_day(half_day)}, which then has "
                f"{free} and is asked for {books.used(crew, half_day)}"
            )
            faults.append(Fault("capacity", blamed, words))
    for name in sorted(kept - stayed):
        if _could_stay(network, name, dates, told, books, stayed | facts, data_date):
            words = f"was told for {write_half_day(told[name][0])} and moved without need"
            faults.append(Fault("kept", name, words))
    return faults


def _could_stay(
    network: Network, name: str, dates: Dates, told: Dates, books: _Books, others: set[str], data_date: int
) -> bool:
    activity = network[name]
    back = {**dates, name: told[name]}
    broken = find_faults(network, back, data_date=data_date)
    if any(fault.activity_id == name for fault in broken):
        return False
    alone = _Books(network, back, data_date)
    return all(
        alone.used(crew, t, others | {name}) <= books.capacity(crew, t)
        for t in list_worked(network, activity, back, data_date)
        for crew, units in activity.crew.items()
        if units
    )
