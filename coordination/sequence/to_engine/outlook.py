"""A house's forecast: what its dates may become, what can be promised behind its holds, and why so late.

The house's own network gets ranges of durations, crews that come late and walks that fail; `builders_outlook`
forecasts it together with the other houses of its builder.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from coordination import engine
from coordination.engine.workdays import add_lag
from coordination.sequence.calendars import ResolvedDays
from coordination.sequence.house_network import HouseNetwork
from coordination.sequence.models import Activity
from coordination.sequence.to_engine.house_dates import LaidOut, lag_calendars_of
from coordination.sequence.to_engine.networks import network_of

END = "end of the house"
SEED = 1
DRAWS = 1000


@dataclass(frozen=True)
class Habits:
    """How long a crew's work takes beside what is planned, and how it comes late.

    Shortest, likeliest and longest are parts of the planned duration; `works` and `starts` say on how many
    works and starts of the crew they rest (0: an assumption).
    """

    shortest: float
    likeliest: float
    longest: float
    late_chance: float
    late_least: int
    late_most: int
    works: int = 0
    starts: int = 0


@dataclass(frozen=True)
class Assumptions:
    """What a forecast is made on: a crew's habits by its id (None: of every other), and walks that fail."""

    crews: Mapping[int | None, Habits]
    fails_chance: float
    fails_half_days: int

    def of(self, crew: int | None) -> Habits:
        """The habits of a crew, or those assumed."""
        return self.crews.get(crew, self.crews[None])


@dataclass(frozen=True)
class Prospect:
    """When a piece of work can start: promised at the confidence, likely (half of the draws), planned.

    By then its house is ready and its crew is free. `first` and `counts` are the draws in which the house was
    ready by each half-day from `first` on, wherever the crew was: that is what a promise is judged by.
    `tenth` and `ninth` are passed in one and in nine of ten draws; `critical` is the share of draws in which
    it lies on the longest path to the end of its house, or of one that waits for it. `waits` says that the
    crew's other work puts the promise off, `elsewhere` names that house where it is one of the builder's.
    """

    key: str
    hold: str
    start: int
    likely: int
    planned: int
    share: float
    first: int
    counts: tuple[int, ...]
    tenth: int
    ninth: int
    critical: float
    waits: bool = False
    elsewhere: str = ""


@dataclass(frozen=True)
class Cost:
    """Working half-days by which one cause puts the promised date off: 'late', 'fails' or 'longer'."""

    cause: str
    half_days: int


@dataclass(frozen=True)
class Outlook:
    """A house's forecast; finishes are exclusive."""

    finish_likely: int
    finish_sure: int
    finish_planned: int
    holds: tuple[Prospect, ...]
    starts: tuple[Prospect, ...]
    target: str
    costs: tuple[Cost, ...]
    draws: int


def learn_habits(worked: Iterable[tuple[int, int]], late: Iterable[int], assumed: Habits) -> Habits:
    """A crew's habits from its finished works and its starts, leaning on what is assumed.

    Args:
        worked: planned and actual half-days of each finished work.
        late: half-days that each start came after the date told, of houses that were ready by then.
    """
    factors = engine.learn_range(
        worked, default=engine.DurationFactors(assumed.shortest, assumed.likeliest, assumed.longest)
    )
    default = engine.Late(assumed.late_chance, (assumed.late_least, assumed.late_most))
    lateness = engine.learn_lateness(late, default=default)
    return Habits(
        factors.shortest,
        factors.likeliest,
        factors.longest,
        lateness.late.chance,
        *lateness.late.half_days,
        works=factors.observations,
        starts=lateness.visits,
    )


def default_habits(late_chance: float, late_least: int, late_most: int) -> Habits:
    """The habits of a crew that nothing is known of: the engine's assumed ranges, the builder's lateness."""
    factors = engine.DEFAULT_FACTORS
    return Habits(factors.shortest, factors.likeliest, factors.longest, late_chance, late_least, late_most)


def find_target(rows: HouseNetwork, starts: Collection[str]) -> str:
    """What 'why so late' speaks of: the linings, once they have begun the end of the house."""
    stake = rows.stake
    if stake is None or stake.actual_start is not None:
        return END
    if stake.key in starts:
        return stake.key
    same = [key for key in starts if rows.by_key[key].visit_id == stake.visit_id]
    return same[0] if same else END


def first_of_visits(rows: HouseNetwork, laid: LaidOut) -> list[str]:
    """Of each visit that has not begun, the activity that starts first."""
    first: dict[int, Activity] = {}
    for one in rows.activities:
        if one.visit_id is None or one.visit_id in rows.begun_visits:
            continue
        known = first.get(one.visit_id)
        if known is None or laid.plan[one.key].es < laid.plan[known.key].es:
            first[one.visit_id] = one
    return [one.key for one in first.values()]


def open_holds(rows: HouseNetwork) -> list[str]:
    """Keys of the hold points that are not passed."""
    return [one.key for one in rows.activities if one.holds and one.actual_finish is None]


def with_chances(rows: HouseNetwork, laid: LaidOut, assumed: Assumptions) -> engine.Network:
    """The house's network with its uncertainties, and a milestone behind everything."""
    activities, crews = [], {}
    for given in laid.network.activities:
        row = rows.by_key[given.id]
        crew = rows.crew_of(row)
        habits = assumed.of(crew.pk if crew else None)
        more: dict[str, object] = {}
        if not row.is_point and given.duration:
            factors = engine.DurationFactors(habits.shortest, habits.likeliest, habits.longest)
            more["range"] = factors.range_of(given.duration)
        if row.holds and assumed.fails_chance:
            more["fails"] = engine.Fails(assumed.fails_chance, assumed.fails_half_days)
        if row.outdoor:
            more["region"] = rows.house.region.key
        if row.visit_id is not None:
            # A visit that nobody has yet will have a crew, and that may come late like any other.
            name = f"crew {crew.pk}" if crew is not None else f"somebody for visit {row.visit_id}"
            more["crew"] = {name: 1}
            late = engine.Late(habits.late_chance, (habits.late_least, habits.late_most))
            crews[name] = engine.Crew(name, max(1, crew.capacity) if crew else 1, late=late)
        activities.append(replace(given, **more))  # type: ignore[arg-type]
    awaited = {link.from_id for link in laid.network.relationships}
    last = [one.id for one in activities if one.id not in awaited]
    end = engine.Activity(END, 0, house=rows.house.key)
    return replace(
        laid.network,
        activities=(*activities, end),
        relationships=(
            *laid.network.relationships,
            *(engine.Relationship(name, END) for name in last),
        ),
        crews=tuple(crews.values()),
    )


def without_each(network: engine.Network) -> Iterable[tuple[str, engine.Network]]:
    """The same network without one of its causes of delay at a time."""
    yield "late", replace(network, crews=tuple(replace(one, late=None) for one in network.crews))
    yield "fails", replace(network, activities=tuple(replace(a, fails=None) for a in network.activities))
    yield "longer", replace(network, activities=tuple(replace(a, range=None) for a in network.activities))


def find_ready(rows: HouseNetwork, days: ResolvedDays, names: Mapping[str, str], activity: Activity) -> int:
    """The half-day by which the house was ready for an activity that has started, from what is recorded.

    All that it waits for was done then, lags and word time included. Work that began in spite of something
    unfinished, or sooner, shows by that that it could: then it is its own start.

    Args:
        days, names: calendars as the latest plan used them.
    """
    if activity.actual_start is None:
        raise ValueError(f"{activity} has not started: its readiness is known only afterwards")
    network = network_of(rows, days, names, lag_calendars_of(rows))
    calendar = network.calendar_of(activity.key)
    ready = None
    for link in network.relationships:
        if link.to_id != activity.key or link.type[1] != "S":
            continue
        source = rows.by_key[link.from_id]
        at = source.actual_finish if link.type[0] == "F" else source.actual_start
        if at is None:
            return activity.actual_start
        at = add_lag(at, link.lag, network.lag_calendar_of(link))
        ready = at if ready is None else max(ready, at)
    if ready is None:
        return activity.actual_start
    return min(activity.actual_start, calendar.next_start(ready, 1))
