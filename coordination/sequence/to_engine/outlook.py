"""A house's forecast: what its dates may become, what can be promised behind its holds, and why so late.

The engine is given the house's own network with ranges of durations, crews that come late and walks that
fail. The same chances are drawn each time, so that what one cause costs is the difference of two forecasts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from coordination import engine
from coordination.engine.workdays import add_lag
from coordination.people.refusals import BadInput
from coordination.sequence.calendars import ResolvedDays, calendar_key
from coordination.sequence.house_network import HouseNetwork
from coordination.sequence.models import Activity, Plan
from coordination.sequence.to_engine.house_dates import LaidOut, lag_calendars_of, lay_out
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

    `first` and `counts` are the draws that were ready by each half-day from `first` on.
    """

    key: str
    hold: str
    start: int
    likely: int
    planned: int
    share: float
    first: int
    counts: tuple[int, ...]


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


def foresee_house(
    plan: Plan, rows: HouseNetwork, assumed: Assumptions, *, confidence: float, draws: int = DRAWS
) -> Outlook:
    """Forecast a house as it is planned now.

    Args:
        plan: its latest plan, whose calendars are kept.
        confidence: share of cases in which a promise is to be kept, above 0 and below 1.

    Raises:
        BadInput: what cannot be planned, by name.
    """
    laid = lay_out(rows.house, stored=plan.calendars, rows=rows, years_beyond=1)
    starts, holds = _first_of_visits(rows, laid), _open_holds(rows)
    try:
        network = _with_chances(rows, laid, assumed)

        def ask(one: engine.Network, names: Collection[str], points: Collection[str]) -> list[engine.Promise]:
            found = engine.promise_starts(
                one,
                data_date=rows.house.recorded_up_to,
                confidence=confidence,
                holds=points,
                activities=names,
                samples=draws,
                seed=SEED,
            )
            return list(found)

        found = ask(network, [*starts, END], holds)
        end = next(one for one in found if one.activity_id == END)
        target = _find_target(rows, starts)
        sure = next(one for one in found if one.activity_id == target and one.hold is None)
        calendar = network.calendars[calendar_key(rows.house.calendar_id)]
        costs = []
        for cause, without in _without_each(network):
            better = ask(without, [target], ())[0]
            costs.append(Cost(cause, calendar.count(better.start, sure.start)))
    except engine.Refused as refused:
        raise BadInput(rows.house.name, str(refused)) from refused
    return Outlook(
        finish_likely=end.likely,
        finish_sure=end.start,
        finish_planned=laid.plan.finish,
        holds=tuple(_read(one) for one in found if one.hold is not None),
        starts=tuple(_read(one) for one in found if one.hold is None and one.activity_id != END),
        target="" if target == END else target,
        costs=tuple(sorted(costs, key=lambda one: -one.half_days)),
        draws=draws,
    )


def _read(one: engine.Promise) -> Prospect:
    return Prospect(
        key=one.activity_id,
        hold=one.hold or "",
        start=one.start,
        likely=one.likely,
        planned=one.planned,
        share=one.share,
        first=one.ready.first,
        counts=one.ready.counts,
    )


def _find_target(rows: HouseNetwork, starts: Collection[str]) -> str:
    """What 'why so late' speaks of: the linings, once they have begun the end of the house."""
    stake = rows.stake
    if stake is None or stake.actual_start is not None:
        return END
    if stake.key in starts:
        return stake.key
    same = [key for key in starts if rows.by_key[key].visit_id == stake.visit_id]
    return same[0] if same else END


def _first_of_visits(rows: HouseNetwork, laid: LaidOut) -> list[str]:
    """Of each visit that has not begun, the activity that starts first."""
    first: dict[int, Activity] = {}
    begun = {one.visit_id for one in rows.activities if one.actual_start is not None}
    for one in rows.activities:
        if one.visit_id is None or one.visit_id in begun:
            continue
        known = first.get(one.visit_id)
        if known is None or laid.plan[one.key].es < laid.plan[known.key].es:
            first[one.visit_id] = one
    return [one.key for one in first.values()]


def _open_holds(rows: HouseNetwork) -> list[str]:
    return [one.key for one in rows.activities if one.holds and one.actual_finish is None]


def _with_chances(rows: HouseNetwork, laid: LaidOut, assumed: Assumptions) -> engine.Network:
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
            crews[name] = engine.Crew(name, 1, late=late)
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


def _without_each(network: engine.Network) -> Iterable[tuple[str, engine.Network]]:
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
