"""Levelled work tied together crew by crew: a crew that comes late to one house comes late to the next.

A levelled plan says who works where when; a forecast moves those dates, and then capacity must still hold. So
each unit of a crew's capacity is handed on from visit to visit in the order planned, and every handing on
becomes a relationship (a resource flow: C. Artigues, F. Roubellat, "A polynomial activity insertion algorithm
in a multi-resource schedule", European Journal of Operational Research 127 (2000) 297-316; from memory).
Each unit works in the crew's calendar and not while it is reserved: the works that it does get that time as
their calendar. With both any durations give dates within the capacity, and the tenth house of a crew inherits
the lateness of nine. Work that a reservation or the crew's days off cut into goes on behind them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from coordination.engine.changes import VisitKey, visit_keys
from coordination.engine.crew_time import CrewTimes, Span, reserve_units
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
    """The network with a relationship for every handing on of a crew, and each work in its crew's time.

    Args:
        network: with crews; work that asks for a trade has one chosen (`levelling.Levelled.assigned`).
        start, finish: levelled instants by activity id (`levelling.Levelled`).

    Returns:
        the network with more relationships, FS without lag, and with calendars of work and crew together; the
        levelled dates keep all of them. Where those dates ask for more of a crew than there is (recorded
        facts and confirmed visits can), the surplus is left untied; it keeps out of reserved time no less.
        Lags count in the calendars that they counted in before.

    Raises:
        Refused: naming the activity without dates, or the one whose trade has no crew chosen.
    """
    spells: dict[str, list[_Spell]] = {crew.name: [] for crew in network.crews}
    visits: dict[VisitKey, list[Activity]] = {}
    for activity in network.activities:
        if activity.id not in start or activity.id not in finish:
            raise Refused(f"activity {activity.id!r} has no levelled dates: level the whole network")
        if not activity.finished and finish[activity.id] > start[activity.id]:
            for key in visit_keys(activity):
                if key[0] not in spells:
                    raise Refused(
                        f"activity {activity.id!r} asks for the trade {key[0]!r} and has no crew of it: "
                        "level the network and tie what that assigned"
                    )
                visits.setdefault(key, []).append(activity)
    for key, works in visits.items():
        spells[key[0]] += _find_spells(key[0], works, start, finish)
    known = {(x.from_id, x.to_id) for x in network.relationships if x.type == "FS" and x.lag >= 0}
    added: list[Relationship] = []
    taken: dict[str, list[Span]] = {}
    for crew in network.crews:
        units = reserve_units(crew)
        for pair in _hand_on(units, spells[crew.name], taken):
            if pair not in known:
                known.add(pair)
                added.append(Relationship(*pair))
    return _give_time(replace(network, relationships=(*network.relationships, *added)), taken)


def _give_time(network: Network, taken: Mapping[str, list[Span]]) -> Network:
    """The network with each work that is tied in its crew's time, less what its units have reserved."""
    times = CrewTimes(network.calendars)
    crew_calendars = {crew.name: crew.calendar for crew in network.crews}
    activities = []
    for activity in network.activities:
        if activity.id in taken and activity.actual_start is None:
            crews = [crew_calendars[name] for name, units in activity.crew.items() if units]
            name = times.name(activity.calendar, crews, tuple(taken[activity.id]))
            activities.append(replace(activity, calendar=name) if name != activity.calendar else activity)
        else:
            activities.append(activity)
    if not times.made:
        return network
    return replace(
        network,
        activities=tuple(activities),
        calendars={**network.calendars, **times.made},
        relationships=tuple(
            replace(link, lag_calendar=network[link.to_id].calendar)
            if link.lag and link.lag_calendar is None
            else link
            for link in network.relationships
        ),
    )


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


def _hand_on(
    units: list[tuple[Span, ...]], spells: list[_Spell], taken: dict[str, list[Span]]
) -> list[tuple[str, str]]:
    """Pairs of ids: works of a spell, and those of the spell that takes a unit over from it.

    Args:
        units: what is reserved of each unit.
        taken: filled in; the reservations that each work has to keep out of.
    """
    lanes: list[tuple[int, _Spell | None]] = [(-END_OF_TIME, None)] * len(units)
    pairs: list[tuple[str, str]] = []
    for spell in sorted(spells, key=lambda one: (one.start, one.finish, one.works[0].id)):
        free = [k for k, (until, _) in enumerate(lanes) if until <= spell.start]
        # A unit that the plan has there anyway, then the one that was free last: where it comes from.
        free.sort(key=lambda k: (_meets(spell, units[k]), -lanes[k][0]))
        for k in free[: spell.units]:
            before = lanes[k][1]
            if before is not None:
                pairs += [(a.id, b.id) for a in before.works for b in spell.works]
            lanes[k] = (spell.finish, spell)
        for work in spell.works:
            mine = taken.setdefault(work.id, [])
            for k in free[: spell.units] or range(len(units))[:1]:
                mine += units[k]
    return pairs


def _meets(spell: _Spell, reserved: tuple[Span, ...]) -> bool:
    """Whether the plan has the spell where a unit is reserved."""
    return any(start < spell.finish and spell.start < finish for start, finish in reserved)
