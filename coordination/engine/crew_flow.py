"""Levelled work tied together crew by crew: a crew that comes late to one house comes late to the next.

A levelled plan says who works where when; a forecast moves those dates, and then capacity must still hold. So
each unit of a crew's capacity is handed on from visit to visit in the order planned, and every handing on
becomes a relationship (a resource flow: C. Artigues, F. Roubellat, "A polynomial activity insertion algorithm
in a multi-resource schedule", European Journal of Operational Research 127 (2000) 297-316; from memory).
With these ties any durations give dates within the capacity, and the tenth house of a crew inherits the
lateness of nine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from coordination.engine.changes import VisitKey, visit_keys
from coordination.engine.network import Activity, Network, Relationship
from coordination.engine.workdays import END_OF_TIME, Refused


@dataclass
class _Spell:
    """Works of one visit that overlap in the levelled plan: one unit of the crew does them."""

    works: list[Activity]
    start: int
    finish: int
    units: int


def tie_crews(network: Network, start: Mapping[str, int], finish: Mapping[str, int]) -> Network:
    """The network with a relationship for every handing on of a crew from one work to the next.

    Args:
        network: with crews.
        start, finish: levelled instants by activity id (`levelling.Levelled`).

    Returns:
        the network with more relationships, FS without lag; the levelled dates keep all of them. Where those
        dates ask for more of a crew than there is (recorded facts and confirmed visits can), the surplus is
        left untied.

    Raises:
        Refused: naming the activity without dates.
    """
    spells: dict[str, list[_Spell]] = {crew.name: [] for crew in network.crews}
    visits: dict[VisitKey, list[Activity]] = {}
    for activity in network.activities:
        if activity.id not in start or activity.id not in finish:
            raise Refused(f"activity {activity.id!r} has no levelled dates: level the whole network")
        if not activity.finished and finish[activity.id] > start[activity.id]:
            for key in visit_keys(activity):
                visits.setdefault(key, []).append(activity)
    for key, works in visits.items():
        spells[key[0]] += _find_spells(key[0], works, start, finish)
    known = {(x.from_id, x.to_id) for x in network.relationships if x.type == "FS" and x.lag >= 0}
    added: list[Relationship] = []
    for crew in network.crews:
        for pair in _hand_on(crew.capacity, spells[crew.name]):
            if pair not in known:
                known.add(pair)
                added.append(Relationship(*pair))
    return replace(network, relationships=(*network.relationships, *added))


def _find_spells(
    crew: str, works: list[Activity], start: Mapping[str, int], finish: Mapping[str, int]
) -> list[_Spell]:
    """The works of one visit, put together where they overlap."""
    found: list[_Spell] = []
    for work in sorted(works, key=lambda a: start[a.id]):
        if found and start[work.id] < found[-1].finish:
            last = found[-1]
            last.works.append(work)
            last.finish = max(last.finish, finish[work.id])
            last.units = max(last.units, work.crew[crew])
        else:
            found.append(_Spell([work], start[work.id], finish[work.id], work.crew[crew]))
    return found


def _hand_on(capacity: int, spells: list[_Spell]) -> list[tuple[str, str]]:
    """Pairs of ids: works of a spell, and those of the spell that takes a unit over from it."""
    lanes: list[tuple[int, _Spell | None]] = [(-END_OF_TIME, None)] * capacity
    pairs: list[tuple[str, str]] = []
    for spell in sorted(spells, key=lambda one: (one.start, one.finish, one.works[0].id)):
        free = [k for k, (until, _) in enumerate(lanes) if until <= spell.start]
        free.sort(key=lambda k: -lanes[k][0])  # the unit that was free last: where it comes from in the plan
        for k in free[: spell.units]:
            before = lanes[k][1]
            if before is not None:
                pairs += [(a.id, b.id) for a in before.works for b in spell.works]
            lanes[k] = (spell.finish, spell)
    return pairs
