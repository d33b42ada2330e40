"""What levelling is told about crews: demand by activity, visits, capacity by half-day, what stays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from coordination.engine.compiled_dates import CompiledNetwork, DateArrays, Tables, Whole
from coordination.engine.crew_generation import FAR
from coordination.engine.network import EVERY_NAME, Network
from coordination.engine.workdays import Refused

DEFAULT_WEIGHTS: Mapping[str, float] = {"lateness": 1.0, "changed": 0.25, "idle": 0.001}
"""The objective, in this order of meaning: a half-day that one house is late, a told visit whose date
changes, a half-day of a crew's time without work between its first and its last. A house is weighed
by its name."""


def read_weights(network: Network) -> dict[str, float]:
    """The weights of a network over the default ones. Raises `Refused` for a name that is no house either."""
    houses = {a.house for a in network.activities}
    for name in network.weights:
        if name not in DEFAULT_WEIGHTS and name not in houses:
            raise Refused(
                f"weight {name!r} is neither {', '.join(DEFAULT_WEIGHTS)} nor a house: correct the name"
            )
    return {**DEFAULT_WEIGHTS, **network.weights}


def crews_by_trade(network: Network) -> dict[str, tuple[str, ...]]:
    """The crews of each trade, in the order in which they are given."""
    found: dict[str, tuple[str, ...]] = {}
    for crew in network.crews:
        if crew.trade is not None:
            found[crew.trade] = (*found.get(crew.trade, ()), crew.name)
    return found


def assign_crews(network: Network, crew_of: Mapping[str, Mapping[str, str]]) -> Network:
    """The network with each trade that work asks for put into the crew that does it.

    `crew_of` names the crews by activity and by trade, as `levelling.Levelled` does. Work that it leaves out
    keeps asking for the trade.
    """
    activities = [
        replace(a, crew={crew_of[a.id].get(name, name): units for name, units in a.crew.items()})
        if a.id in crew_of
        else a
        for a in network.activities
    ]
    return replace(network, activities=tuple(activities))


@dataclass(frozen=True)
class Demand:
    """Units of crews by activity (topological order), visits with their members, starts to be kept.

    A crew below 0 stands for a trade: -1 for the first of `trades`, and so on. `roster` are the rows of the
    trades, the crews in them, and the capacity of every crew.
    """

    rows: Whole
    crews: Whole
    units: Whole
    trades: tuple[str, ...]
    roster: tuple[Whole, Whole, Whole]
    visit: Whole
    member_rows: Whole
    members: Whole
    kept: Whole


def find_demand(network: Network, compiled: CompiledNetwork, dates: DateArrays) -> Demand:
    """Lay demand out. Kept are work under way, confirmed visits, and what begins before the freeze ends.

    They are kept at the dates that the network alone gives (a told date is their ``not_before``).
    Raises `Refused` for work that needs more of a crew than there is.
    """
    crews = {crew.name: r for r, crew in enumerate(network.crews)}
    by_trade = crews_by_trade(network)
    codes = {**crews, **{trade: -1 - k for k, trade in enumerate(by_trade)}}
    most = {name: network.crews[r].capacity for name, r in crews.items()}
    most |= {trade: max(most[name] for name in those) for trade, those in by_trade.items()}
    rows, names, units = [0], [], []
    kept: list[int] = []
    visits: dict[tuple[str | None, str], int] = {}
    visit = []
    for i in compiled.order:
        a = network.activities[i]
        needs = {} if a.finished else {name: count for name, count in a.crew.items() if count}
        for name, count in needs.items():
            if count > most[name] and not a.under_way:
                raise Refused(
                    f"activity {a.id!r} needs {count} of crew {name!r}, which has "
                    f"{most[name]}: lower the need or raise the capacity"
                )
        names += [codes[name] for name in needs]
        units += list(needs.values())
        rows.append(len(names))
        stays = a.under_way or a.visit in network.confirmed
        if network.freeze_until is not None and not a.finished and a.visit is not None:
            stays = stays or int(dates.es[i]) < network.freeze_until
        start = int(dates.es[i])
        if a.under_way:
            # The remaining part is worked back from its finish.
            calendar = network.calendars[a.calendar]
            start = calendar.start_to_finish_by(int(dates.ef[i]), int(compiled.work[len(kept)]))
        kept.append(start if stays and not a.finished else FAR)
        visit.append(-1 if a.visit is None else visits.setdefault((a.house, a.visit), len(visits)))
    members = np.argsort(visit, kind="stable")[sum(v < 0 for v in visit) :]
    sizes = np.bincount([v for v in visit if v >= 0], minlength=len(visits))

    def whole(values: object) -> Whole:
        return np.array(values, dtype=np.int32)

    return Demand(
        whole(rows), whole(names), whole(units), tuple(by_trade),
        (
            whole([0, *np.cumsum([len(those) for those in by_trade.values()])]),
            whole([crews[name] for those in by_trade.values() for name in those]),
            whole([crew.capacity for crew in network.crews]),
        ),
        whole(visit),
        whole([0, *np.cumsum(sizes)]), whole(members), whole(kept),
    )  # fmt: skip


def count_capacity(network: Network, tables: Tables) -> Whole:
    """Units of each crew free by half-day: nothing where its calendar is off, less what is reserved."""
    span = tables.before.shape[1]
    names = list(network.calendars)
    free = np.zeros((len(network.crews), span), dtype=np.int32)
    for r, crew in enumerate(network.crews):
        worked = np.diff(tables.before[names.index(crew.calendar)]) > 0
        free[r, :-1] = crew.capacity * worked
        for reserved in crew.reserved:
            part = slice(max(0, reserved.start - tables.first), max(0, reserved.finish - tables.first))
            free[r, part] = np.maximum(0, free[r, part] - reserved.units)
    return free


def find_crew_parts(network: Network) -> list[tuple[str, ...]]:
    """Ids of activities that have to be levelled together: tied by a relationship, a house, a shared crew or
    crews of one trade that can be exchanged.

    Each part can be levelled by itself, beside the others.
    """
    above: dict[object, object] = {}

    def root(key: object) -> object:
        above.setdefault(key, key)
        while above[key] != key:
            above[key] = above[above[key]]
            key = above[key]
        return key

    for trade, those in crews_by_trade(network).items():
        for name in those:
            above[root(("crew", name))] = root(("crew", trade))
    for a in network.activities:
        mine = ("activity", a.id)
        root(mine)
        ties: list[object] = [("crew", name) for name, count in a.crew.items() if count]
        if a.house is not None:
            ties.append(("house", a.house))
        for tie in ties:
            above[root(tie)] = root(mine)
    for link in network.relationships:
        above[root(("activity", link.from_id))] = root(("activity", link.to_id))
    parts: dict[object, list[str]] = {}
    for a in network.activities:
        parts.setdefault(root(("activity", a.id)), []).append(a.id)
    return [tuple(ids) for ids in parts.values()]


def is_plain_project(network: Network) -> bool:
    """Whether it is a plain project: one house, every half-day worked, FS without lags, nothing fixed.

    Such a network has a makespan to be shortened and a search of its own (`projects`).
    """
    return (
        len({a.house for a in network.activities}) == 1
        and not network.confirmed
        and network.freeze_until is None
        and not network.weights
        and all(
            a.calendar == EVERY_NAME
            and a.actual_start is None
            and a.not_before is None
            and a.not_after is None
            and a.visit is None
            for a in network.activities
        )
        and all(x.type == "FS" and x.lag == 0 for x in network.relationships)
        and all(c.calendar == EVERY_NAME and not c.reserved and c.trade is None for c in network.crews)
    )
