"""Compile what fits and forecasts run, or read it from disk, before somebody waits for it."""

from __future__ import annotations

from coordination import engine


def warm_engine() -> None:
    """Level and forecast two tiny houses: every kernel on the way is compiled then, which takes seconds.

    Without numba it is over at once.
    """
    from coordination.engine.levelling import level_network  # here: numba takes long to import

    week = {"week": engine.WorkingCalendar(week=(2, 2, 2, 2, 2, 0, 0))}
    crew = engine.Crew("crew", 1, late=engine.Late(0.5, (1, 2)), reserved=(engine.ReservedTime(2, 4, 1),))
    activities, links = [], []
    for house in ("a", "b"):
        frame, walk = f"{house} frame", f"{house} walk"
        activities += [
            engine.Activity(
                frame, 4, "week", house, crew={"crew": 1}, visit=frame, range=(3, 4, 8), region="south"
            ),
            engine.Activity(walk, 1, "week", house, fails=engine.Fails(0.5, 2)),
        ]
        links.append(engine.Relationship(frame, walk, "FS", 1, "elapsed"))
    network = engine.Network(tuple(activities), tuple(links), week, crews=(crew,))
    level_network(network, schedules=8)
    engine.promise_starts(network, activities=["a walk"], samples=16)
