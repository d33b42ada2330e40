"""Monte Carlo over a network: what the finish may be when durations, crews and walks are not certain.

Every draw is one forward pass; all draws of an activity are computed at once. Drawn are durations between
the shortest and the longest of `Activity.range` (beta-PERT with shape 4, or triangular), the late start of
a crew's visit (`Crew.late`), and the rework after a walk that fails (`Activity.fails`).

In the calendar ``"every"`` a drawn duration is a fraction of half-days; in a calendar with days off it is a
whole number, rounded up or down by chance so that its mean stays.

Reference: D. G. Malcolm et al., "Application of a technique for research and development program
evaluation", Operations Research 7 (1959) 646-669 (PERT; from memory). Merging paths make the mean finish
later than PERT's.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from coordination.engine.critical_path import compute_dates
from coordination.engine.forecast_spread import SharedFactors, Spread
from coordination.engine.network import EVERY_NAME, Activity, Network, Relationship
from coordination.engine.workdays import Refused, WorkingCalendar

Draws = NDArray[np.float64]
Shape = Literal["pert", "triangular"]
PERT_SHAPE = 4.0
PERCENTILES = (10, 50, 80, 90)


@dataclass(frozen=True)
class ActivityForecast:
    """Percentiles of the finish (instants, fractions possible); share of draws where it drives the end."""

    p10: float
    p50: float
    p80: float
    p90: float
    criticality: float


@dataclass(frozen=True)
class Forecast:
    """Forecast by activity id; mean and standard deviation of the finish (half-days from the data date).

    `ready` tells for the activities asked for at which working half-day all that they wait for is done, and
    `planned` their start without uncertainty.
    """

    activities: Mapping[str, ActivityForecast]
    mean: float
    deviation: float
    samples: int
    ready: Mapping[str, Spread] = field(default_factory=dict)
    planned: Mapping[str, int] = field(default_factory=dict)


def draw_durations(
    spread: tuple[int, int, int], samples: int, numbers: np.random.Generator, shape: Shape = "pert"
) -> Draws:
    """Draws between the shortest and the longest length with the likeliest in between."""
    low, likely, high = spread
    if low == high:
        return np.full(samples, float(low))
    if shape == "triangular":
        return numbers.triangular(low, likely, high, samples)
    rise = PERT_SHAPE * (likely - low) / (high - low)
    return np.asarray(low + (high - low) * numbers.beta(1 + rise, 1 + PERT_SHAPE - rise, samples))


def forecast_network(
    network: Network,
    *,
    data_date: int = 0,
    samples: int = 1000,
    seed: int = 0,
    shape: Shape = "pert",
    factors: SharedFactors | None = None,
    ready_of: Collection[str] = (),
) -> Forecast:
    """Forecast the finish of every activity. The same seed gives the same answer.

    Raises `Refused` for fewer than one sample and whatever `compute_dates` refuses.
    """
    if samples < 1:
        raise Refused("a forecast needs at least one sample: raise the number")
    plan = compute_dates(network, data_date=data_date)
    numbers = np.random.default_rng(seed)
    into: dict[str, list[Relationship]] = {a.id: [] for a in network.activities}
    for link in network.relationships:
        into[link.to_id].append(link)
    start: dict[str, Draws] = {}
    finish: dict[str, Draws] = {}
    driven: dict[str, list[tuple[str, NDArray[np.bool_]]]] = {}
    late: dict[tuple[str | None, str, str], Draws] = {}
    ready: dict[str, Spread] = {}
    for name in plan.order:
        a = network[name]
        if a.actual_finish is not None and a.actual_start is not None:
            start[name], finish[name] = (
                np.full(samples, float(a.actual_start)),
                np.full(samples, float(a.actual_finish)),
            )
            driven[name] = []
            continue
        whole = a.calendar != EVERY_NAME
        calendar = network.calendars[a.calendar]
        length = _draw_length(a, samples, numbers, shape, whole, _work_left(a, calendar, data_date))
        floor = float(data_date if a.not_before is None or a.under_way else max(data_date, a.not_before))
        bounds = []
        for link in into[name]:
            source = network[link.from_id]
            if a.under_way and (source.finished or link.type == "SS"):
                continue
            seen = finish[link.from_id] if link.type[0] == "F" else start[link.from_id]
            bound = _add(seen, link.lag, network.lag_calendar_of(link))
            if link.type[1] == "F":
                bound = _start_for(bound, length, calendar, whole)
            bounds.append((link.from_id, bound))
        demand = np.full(samples, floor)
        for _, bound in bounds:
            demand = np.maximum(demand, bound)
        driven[name] = [(source_id, bound >= demand - 1e-9) for source_id, bound in bounds]
        if name in ready_of:
            begun, _ = _work(demand, np.ones(samples), calendar, whole)
            ready[name] = Spread.of(np.ceil(begun - 1e-9).astype(np.int64).tolist())
        if a.actual_start is None:
            demand = _be_late(network, a, demand, late, numbers, calendar)
        begun, ended = _work(demand, length, calendar, whole)
        start[name] = begun if a.actual_start is None else np.full(samples, float(a.actual_start))
        finish[name] = ended
    found = _summarise(network, plan.order, data_date, samples, finish, driven)
    return replace(found, ready=ready, planned={name: plan[name].first_half_day for name in ready})


def _work_left(a: Activity, calendar: WorkingCalendar, data_date: int) -> int:
    """Half-days left of work under way, as `critical_path` counts them."""
    if a.actual_start is None:
        return a.duration
    if a.remaining is not None:
        return a.remaining
    return max(1, a.duration - calendar.count(a.actual_start, data_date))


def _draw_length(
    a: Activity, samples: int, numbers: np.random.Generator, shape: Shape, whole: bool, left: int
) -> Draws:
    length = np.full(samples, float(a.duration))
    if a.under_way:
        length[:] = left
    elif a.range is not None:
        length = draw_durations(a.range, samples, numbers, shape)
        if whole:
            length = np.floor(length + numbers.random(samples))
    if a.fails is not None:
        length = length + a.fails.half_days * (numbers.random(samples) < a.fails.chance)
    return length


def _be_late(
    network: Network,
    a: Activity,
    demand: Draws,
    late: dict[tuple[str | None, str, str], Draws],
    numbers: np.random.Generator,
    calendar: WorkingCalendar,
) -> Draws:
    """The demand later by what the crew is late: once for a visit, at the first of its activities."""
    for crew in network.crews:
        if crew.late is None or not a.crew.get(crew.name):
            continue
        key = (a.house, crew.name, a.visit or f"activity {a.id}")
        if key not in late:
            least, most = crew.late.half_days
            comes_late = numbers.random(len(demand)) < crew.late.chance
            late[key] = np.where(comes_late, 1.0, 0.0) * numbers.integers(
                least, most + 1, len(demand)
            ).astype(np.float64)
            begun, _ = _work(
                demand, np.ones(len(demand)), calendar, calendar is not network.calendars[EVERY_NAME]
            )
            moved = calendar.kth_each(
                calendar.before_each(np.floor(begun).astype(np.int64)) + late[key].astype(np.int64)
            )
            demand = np.where(late[key] > 0, moved + (begun - np.floor(begun)), demand)
    return demand


def _add(t: Draws, lag: int, calendar: WorkingCalendar | None) -> Draws:
    if lag == 0 or calendar is None:
        return t + lag
    whole = np.ceil(t - 1e-9).astype(np.int64)
    return calendar.kth_each(calendar.before_each(whole) + lag - 1).astype(np.float64) + 1


def _start_for(t: Draws, length: Draws, calendar: WorkingCalendar, whole: bool) -> Draws:
    """The least start whose work finishes at or after t."""
    if not whole:
        return t - length
    n = length.astype(np.int64)
    at = np.ceil(t - 1e-9).astype(np.int64)
    placed = calendar.kth_each(calendar.before_each(at - 1) - n + 1).astype(np.float64)
    return np.where(n > 0, placed, t)


def _work(demand: Draws, length: Draws, calendar: WorkingCalendar, whole: bool) -> tuple[Draws, Draws]:
    """Start and finish of work that begins at or after a demand."""
    if not whole:
        return demand, demand + length
    n = length.astype(np.int64)
    k = calendar.before_each(np.ceil(demand - 1e-9).astype(np.int64))
    begun = np.where(n > 0, calendar.kth_each(k), demand)
    return begun, np.where(n > 0, calendar.kth_each(np.maximum(k + n - 1, k)) + 1.0, demand)


def _summarise(
    network: Network,
    order: tuple[str, ...],
    data_date: int,
    samples: int,
    finish: Mapping[str, Draws],
    driven: Mapping[str, list[tuple[str, NDArray[np.bool_]]]],
) -> Forecast:
    end = np.max(list(finish.values()), axis=0)
    drives = {name: finish[name] >= end - 1e-9 for name in order}
    for name in reversed(order):
        for source, holds in driven[name]:
            drives[source] = drives[source] | (drives[name] & holds)
    activities = {}
    for a in network.activities:
        p10, p50, p80, p90 = np.percentile(finish[a.id], PERCENTILES).tolist()
        activities[a.id] = ActivityForecast(p10, p50, p80, p90, float(drives[a.id].mean()))
    spread = float(end.std(ddof=1)) if samples > 1 else 0.0
    return Forecast(activities, float(end.mean()) - data_date, spread, samples)
