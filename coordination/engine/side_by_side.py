"""Levelling of independent parts side by side: each with its own crews and houses, wherever it is computed.

`level_parts` cuts a network where nothing is shared, hands the parts to a `map` of the caller's choosing (the
built-in one, that of a pool of threads or processes, one that sends tasks to other machines) and puts the
answers together. Which of them is used does not show in the answer.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from coordination.engine.crews import DEFAULT_WEIGHTS, crews_by_trade, find_crew_parts, read_weights
from coordination.engine.levelling import Levelled, level_network
from coordination.engine.network import Network


@dataclass(frozen=True)
class LevellingTask:
    """One part and how long to search it: everything that a worker needs, and it can be pickled."""

    network: Network
    data_date: int
    schedules: int | None
    seconds: float | None
    seed: int


Run = Callable[[Callable[[LevellingTask], Levelled], Iterable[LevellingTask]], Iterable[Levelled]]
"""Like `map` and `concurrent.futures.Executor.map`: answers in the order of the tasks."""


def level_task(task: LevellingTask) -> Levelled:
    """Level one part; see `level_network`."""
    return level_network(
        task.network,
        data_date=task.data_date,
        schedules=task.schedules,
        seconds=task.seconds,
        seed=task.seed,
    )


def split_network(network: Network) -> list[Network]:
    """The parts of a network that share no relationship, house, crew or trade, in the order of their first
    activity. Details and longest gaps, which levelling does not look at, are left out.

    Raises `Refused` for a weight that is neither of the objective nor a house.
    """
    read_weights(network)
    by_trade = crews_by_trade(network)
    parts = []
    part_of = {name: k for k, ids in enumerate(find_crew_parts(network)) for name in ids}
    members: list[list[int]] = [[] for _ in range(max(part_of.values()) + 1)]
    for i, a in enumerate(network.activities):
        members[part_of[a.id]].append(i)
    links: list[list[int]] = [[] for _ in members]
    for i, link in enumerate(network.relationships):
        links[part_of[link.from_id]].append(i)
    for inside, between in zip(members, links, strict=True):
        activities = tuple(network.activities[i] for i in inside)
        asked = {name for a in activities for name in a.crew}
        asked |= {name for trade in asked & by_trade.keys() for name in by_trade[trade]}
        trades = {crew.trade for crew in network.crews if crew.name in asked and crew.trade is not None}
        houses = {a.house for a in activities}
        parts.append(
            Network(
                activities=activities,
                relationships=tuple(network.relationships[i] for i in between),
                calendars={k: c for k, c in network.calendars.items() if k != "every"},
                crews=tuple(c for c in network.crews if c.name in asked or c.trade in trades),
                confirmed=network.confirmed & {a.visit for a in activities if a.visit is not None},
                freeze_until=network.freeze_until,
                weights={k: w for k, w in network.weights.items() if k in DEFAULT_WEIGHTS or k in houses},
            )
        )
    return parts


def level_parts(
    network: Network,
    *,
    data_date: int = 0,
    schedules: int | None = None,
    seconds: float | None = None,
    seed: int = 0,
    run: Run = map,
) -> Levelled:
    """Level the independent parts of a network, each by itself, and put the answers together.

    Parameters
    ----------
    schedules, seconds, seed
        for each part; see `level_network`. By `schedules` the answer is the same whatever `run` is.
    run
        like `map`: calls `level_task` with each part, in any order or at once, and gives the answers in the
        order of the parts. ``ProcessPoolExecutor().map`` is one.

    Returns
    -------
    the dates of all. `schedules` is the sum over the parts, `seconds` the time until all were there; crews
    that nobody asks for are idle for 0 half-days.

    Raises
    ------
    Refused
        as `level_network` does.
    """
    begun = time.perf_counter()
    tasks = [LevellingTask(part, data_date, schedules, seconds, seed) for part in split_network(network)]
    answers = list(run(level_task, tasks))
    start = {name: t for one in answers for name, t in one.start.items()}
    finish = {name: t for one in answers for name, t in one.finish.items()}
    waits = {name: n for one in answers for name, n in one.waits.items()}
    houses = {name: result for one in answers for name, result in one.houses.items()}
    idle = {name: n for one in answers for name, n in one.idle.items()}
    ids = [a.id for a in network.activities]
    return Levelled(
        network=network,
        data_date=data_date,
        start={name: start[name] for name in ids},
        finish={name: finish[name] for name in ids},
        houses={a.house: houses[a.house] for a in network.activities if a.house is not None},
        waits={name: waits[name] for name in ids},
        idle={crew.name: idle.get(crew.name, 0) for crew in network.crews},
        changed=tuple(visit for one in answers for visit in one.changed),
        objective=sum(one.objective for one in answers),
        bound=max(one.bound for one in answers),
        schedules=sum(one.schedules for one in answers),
        seconds=time.perf_counter() - begun,
        crew_of={name: chosen for one in answers for name, chosen in one.crew_of.items()},
    )
