"""The forecast of a builder's houses together: whoever has a crew later waits for where it is before.

All houses stand in one network. Each crew is handed on from house to house in the order that is planned now:
dates told, starts that stand from a fit, planned dates. Time that it owes to others is reserved. What crews
and the weather of a region have in common is drawn once for all houses. The same chances are drawn each time,
so that what one cause costs is the difference of two forecasts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from coordination import engine
from coordination.people.refusals import BadInput
from coordination.sequence.calendars import calendar_key
from coordination.sequence.elsewhere import Elsewhere
from coordination.sequence.house_network import HouseNetwork
from coordination.sequence.models import Plan
from coordination.sequence.to_engine.house_dates import LaidOut, lay_out
from coordination.sequence.to_engine.outlook import (
    DRAWS,
    END,
    SEED,
    Assumptions,
    Cost,
    Outlook,
    Prospect,
    find_target,
    first_of_visits,
    open_holds,
    with_chances,
    without_each,
)

YEARS_BEYOND = 2
WEEK = 14
READY = "house ready for "


@dataclass(frozen=True)
class HouseAsked:
    """A house to be forecast.

    Attributes:
        plan: its latest plan, whose calendars are kept.
        rows: its network as it is by now: recorded up to the half-day from which is forecast.
        planned: activity key → first half-day in that plan.
    """

    plan: Plan
    rows: HouseNetwork
    planned: Mapping[str, int]


@dataclass(frozen=True)
class Foreseen:
    """Forecasts by house id; refusals of houses that cannot be forecast.

    `late` is the number of houses that end over a week later than planned in one of ten draws or more.
    """

    houses: Mapping[int, Outlook]
    refused: Mapping[int, BadInput]
    late: int = 0


@dataclass
class _One:
    """A house within the whole network."""

    asked: HouseAsked
    laid: LaidOut
    network: engine.Network
    starts: list[str] = field(init=False)
    target: str = field(init=False)

    def __post_init__(self) -> None:
        self.pk = self.asked.rows.house.pk
        self.starts = first_of_visits(self.asked.rows, self.laid)
        self.target = find_target(self.asked.rows, self.starts)

    def id_of(self, key: str) -> str:
        return f"{self.pk}:{key}"

    def turn_of(self, key: str) -> int:
        """When an activity's turn comes: when its crew was told, else when the house is planned for it."""
        es = self.laid.plan[key].es if key != END else self.laid.plan.finish
        row = self.asked.rows.by_key.get(key)
        booking = self.asked.rows.bookings.get(row.visit_id or 0) if row is not None else None
        told = booking.told_start if booking is not None else None
        return max(es, told) if told is not None else es


def foresee_houses(
    asked: Collection[HouseAsked],
    assumed: Assumptions,
    *,
    elsewhere: Iterable[Elsewhere] = (),
    data_date: int,
    confidence: float,
    draws: int = DRAWS,
) -> Foreseen:
    """Forecast houses of one builder together as they are planned now.

    Args:
        elsewhere: where their crews are besides, from work that is none of these houses'.
        data_date: the half-day from which is forecast; every house's rows are recorded up to it.
        confidence: share of cases in which a promise is to be kept, above 0 and below 1.
    """
    refused: dict[int, BadInput] = {}
    ones = []
    for one in asked:
        house = one.rows.house
        try:
            laid = lay_out(house, stored=one.plan.calendars, rows=one.rows, years_beyond=YEARS_BEYOND)
            ones.append(_One(one, laid, with_chances(one.rows, laid, assumed)))
        except BadInput as refusal:
            refused[house.pk] = refusal
        except engine.Refused as refusal:
            refused[house.pk] = BadInput(house.name, str(refusal))
    if not ones:
        return Foreseen({}, refused)
    try:
        whole = _join(ones, list(elsewhere))
        return _foresee(ones, whole, refused, data_date, confidence, draws)
    except engine.Refused as refusal:
        refused |= {one.pk: BadInput(one.asked.rows.house.name, str(refusal)) for one in ones}
        return Foreseen({}, refused)


def _join(ones: list[_One], elsewhere: list[Elsewhere]) -> engine.Network:
    """All houses in one network; a calendar that several have resolved alike stands in it once."""
    names: dict[tuple[object, ...], str] = {}
    calendars: dict[str, engine.WorkingCalendar] = {}
    activities: list[engine.Activity] = []
    links: list[engine.Relationship] = []
    crews: dict[str, engine.Crew] = {}

    def name_of(network: engine.Network, name: str) -> str:
        if name in ("every", "elapsed"):
            return name
        calendar = network.calendars[name]
        facts = (name, tuple(calendar.week), tuple(sorted(calendar.off)), tuple(sorted(calendar.on)))
        known = names.setdefault(facts, f"{name} {len(names) + 1}")
        calendars[known] = calendar
        return known

    for one in ones:
        network = one.network
        own = {name: name_of(network, name) for name in network.calendars}
        for given in network.activities:
            activities.append(replace(given, id=one.id_of(given.id), calendar=own[given.calendar]))
        for link in network.relationships:
            lag_calendar = link.lag_calendar
            if lag_calendar is not None and lag_calendar != "elapsed":
                lag_calendar = own[lag_calendar]
            source, target = one.id_of(link.from_id), one.id_of(link.to_id)
            links.append(replace(link, from_id=source, to_id=target, lag_calendar=lag_calendar))
        crews |= {crew.name: crew for crew in network.crews}
    for other in elsewhere:
        name = f"crew {other.crew}"
        if name in crews and other.end > other.first:
            reserved = (*crews[name].reserved, engine.ReservedTime(other.first, other.end, other.units))
            crews[name] = replace(crews[name], reserved=reserved)
    return engine.Network(tuple(activities), tuple(links), calendars=calendars, crews=tuple(crews.values()))


@dataclass(frozen=True)
class _Tied:
    """The network with crews handed on, and for each first work of a visit a point: its house is ready.

    `waits_for` names for a work the house that its crew comes from.
    """

    network: engine.Network
    waits_for: Mapping[str, str]


def _tie(ones: list[_One], whole: engine.Network, data_date: int) -> _Tied:
    turn = {one.id_of(given.id): one.turn_of(given.id) for one in ones for given in one.network.activities}
    placed = engine.place_in_order(whole, turn, data_date=data_date)
    tied = engine.tie_crews(whole, placed.start, placed.finish)
    names = {str(one.pk): one.asked.rows.house.name for one in ones}
    first = {one.id_of(key) for one in ones for key in one.starts}
    waits_for: dict[str, str] = {}
    last: dict[str, int] = {}
    for link in tied.relationships[len(whole.relationships) :]:
        home, away = link.to_id.split(":", 1)[0], link.from_id.split(":", 1)[0]
        if link.to_id in first and home != away and placed.finish[link.from_id] >= last.get(link.to_id, 0):
            last[link.to_id] = placed.finish[link.from_id]
            waits_for[link.to_id] = names[away]
    # Points in the work's own calendar, not in its crew's time: when the house would be ready for anybody.
    points = []
    for name in sorted(first):
        given = whole[name]
        points.append(
            engine.Activity(
                READY + name, 0, calendar=given.calendar, house=given.house, not_before=given.not_before
            )
        )
    links = [
        replace(link, to_id=READY + link.to_id)
        for link in whole.relationships
        if link.to_id in first and link.type[1] == "S"
    ]
    network = replace(
        tied, activities=(*tied.activities, *points), relationships=(*tied.relationships, *links)
    )
    return _Tied(network, waits_for)


def _foresee(
    ones: list[_One],
    whole: engine.Network,
    refused: Mapping[int, BadInput],
    data_date: int,
    confidence: float,
    draws: int,
) -> Foreseen:
    tied = _tie(ones, whole, data_date)
    starts = [one.id_of(key) for one in ones for key in one.starts]
    ends = [one.id_of(END) for one in ones]
    holds = [one.id_of(key) for one in ones for key in open_holds(one.asked.rows)]

    def ask(
        network: engine.Network, names: Collection[str], points: Collection[str]
    ) -> tuple[tuple[engine.Promise, ...], engine.Forecast]:
        return engine.promise_with_forecast(
            network,
            data_date=data_date,
            confidence=confidence,
            holds=points,
            activities=names,
            samples=draws,
            seed=SEED,
            limits={one.asked.rows.house.key: one.asked.plan.finish + WEEK for one in ones},
        )

    found, forecast = ask(tied.network, [*starts, *ends, *(READY + name for name in starts)], holds)
    own = {one.activity_id: one for one in found if one.hold is None}
    behind: dict[str, list[engine.Promise]] = {}
    for promise in found:
        if promise.hold is not None and _house_of(promise.hold) == _house_of(promise.activity_id):
            behind.setdefault(_house_of(promise.hold), []).append(promise)
    targets = [one.id_of(one.target) for one in ones]
    without = [
        (cause, {promise.activity_id: promise for promise in ask(better, targets, ())[0]})
        for cause, better in without_each(tied.network)
    ]
    houses = {}
    for one in ones:
        end, target = own[one.id_of(END)], one.id_of(one.target)
        calendar = one.network.calendars[calendar_key(one.asked.rows.house.calendar_id)]
        costs = [
            Cost(cause, calendar.count(better[target].start, own[target].start)) for cause, better in without
        ]

        def read(promise: engine.Promise, one: _One = one) -> Prospect:
            return _read(one, promise, own, forecast, tied)

        houses[one.pk] = Outlook(
            finish_likely=end.likely,
            finish_sure=end.start,
            finish_planned=one.asked.plan.finish,
            holds=tuple(read(promise) for promise in behind.get(str(one.pk), ())),
            starts=tuple(read(own[one.id_of(key)]) for key in one.starts),
            target="" if one.target == END else one.target,
            costs=tuple(sorted(costs, key=lambda cost: -cost.half_days)),
            draws=draws,
        )
    late = forecast.late_houses
    return Foreseen(houses, refused, late.at(0.9) if late is not None else 0)


def _house_of(name: str) -> str:
    return name.split(":", 1)[0]


def _read(
    one: _One,
    promise: engine.Promise,
    own: Mapping[str, engine.Promise],
    forecast: engine.Forecast,
    tied: _Tied,
) -> Prospect:
    key = promise.activity_id.split(":", 1)[1]
    ready = own.get(READY + promise.activity_id, promise)
    waits = promise.start > ready.start
    return Prospect(
        key=key,
        hold=promise.hold.split(":", 1)[1] if promise.hold is not None else "",
        start=promise.start,
        likely=promise.likely,
        planned=one.asked.planned.get(key, promise.planned),
        share=promise.share,
        first=ready.ready.first,
        counts=ready.ready.counts,
        tenth=promise.ready.at(0.1),
        ninth=promise.ready.at(0.9),
        critical=forecast.activities[promise.activity_id].criticality,
        waits=waits,
        elsewhere=tied.waits_for.get(promise.activity_id, "") if waits else "",
    )
