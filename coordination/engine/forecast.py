"""Monte Carlo over a network: what the finish may be when durations, crews and walks are not certain.

Every draw is one forward pass. Drawn are durations between the shortest and the longest of `Activity.range`
(beta-PERT with shape 4, or triangular), the late start of a crew's visit (`Crew.late`), and the rework after
a walk that fails (`Activity.fails`). Works of one crew, and works under the weather of one region, have part
of their luck in common (`SharedFactors`).

Work under way keeps its range in proportion to what is left of it. Crews shared by houses are tied together
by `crew_flow.tie_crews` beforehand, or every house is forecast as if its crews were free.

Dates are whole half-days: a drawn duration is rounded up or down by chance so that its mean stays, and
percentiles are read from exact counts. Only a network with uncertain work in the calendar ``"every"`` is
computed in fractions (1/256) of half-days.

Reference: D. G. Malcolm et al., "Application of a technique for research and development program
evaluation", Operations Research 7 (1959) 646-669 (PERT; from memory). Merging paths make the mean finish
later than PERT's.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from coordination.engine.critical_path import compute_dates
from coordination.engine.forecast_spread import SharedFactors, Spread
from coordination.engine.network import Network
from coordination.engine.progress import refuse_future_facts
from coordination.engine.quantiles import Shape
from coordination.engine.sampling_layout import lay_out
from coordination.engine.workdays import Refused

PERCENTILES = (0.1, 0.5, 0.8, 0.9)


@dataclass(frozen=True)
class ActivityForecast:
    """Percentiles of the finish (instants); the share of draws in which it drives the end of its house."""

    p10: float
    p50: float
    p80: float
    p90: float
    criticality: float


@dataclass(frozen=True)
class HouseForecast:
    """Percentiles and mean of the finish of a house (instants), and its standard deviation in half-days."""

    p10: float
    p50: float
    p80: float
    p90: float
    mean: float
    deviation: float


@dataclass(frozen=True)
class Forecast:
    """Forecast by activity id and by house; mean and standard deviation of the end of all.

    The mean counts half-days of the axis from the data date. `ready` tells for the activities asked for at
    which working half-day all that they wait for is done, and `planned` their start without uncertainty.
    `late_houses` tells in how many draws how many houses ended after the limits that were given.
    """

    activities: Mapping[str, ActivityForecast]
    mean: float
    deviation: float
    samples: int
    houses: Mapping[str, HouseForecast] = field(default_factory=dict)
    ready: Mapping[str, Spread] = field(default_factory=dict)
    planned: Mapping[str, int] = field(default_factory=dict)
    late_houses: Spread | None = None


def forecast_network(
    network: Network,
    *,
    data_date: int = 0,
    samples: int = 1000,
    seed: int = 0,
    shape: Shape = "pert",
    factors: SharedFactors | None = None,
    ready_of: Collection[str] = (),
    limits: Mapping[str, int] | None = None,
) -> Forecast:
    """Forecast the finish of every activity. The same seed gives the same answer.

    A house that no relationship ties to others is forecast as it would be by itself, draw by draw: parts may
    be computed side by side.

    Args:
        shape: of the ranges, ``"pert"`` or ``"triangular"``.
        factors: what works of a crew and of a region have in common; None: the defaults of `SharedFactors`.
        ready_of: ids of activities whose readiness is wanted besides.
        limits: by house the instant after which it counts as late; None: nobody counts.

    Raises:
        Refused: for fewer than one sample, an unknown id or shape, and whatever `compute_dates` refuses.
    """
    if type(samples) is not int or samples < 1:
        raise Refused("a forecast needs at least one sample: raise the number")
    for activity in network.activities:
        refuse_future_facts(activity, data_date)
    for name in ready_of:
        if name not in network.position:
            raise Refused(f"the readiness of the unknown activity {name!r} was asked for: correct the name")
    laid = lay_out(
        network,
        data_date=data_date,
        seed=seed,
        shape=shape,
        factors=factors or SharedFactors(),
        ready_of=ready_of,
    )
    from coordination.engine.sampling import sample_network  # here, because numba takes long to import

    found = sample_network(laid, samples, PERCENTILES, limits=limits)
    activities = {
        a.id: ActivityForecast(p10, p50, p80, p90, drives)
        for a, (p10, p50, p80, p90), drives in zip(
            network.activities, found.percentiles.tolist(), found.drives.tolist(), strict=True
        )
    }
    houses = {
        name: HouseForecast(p10, p50, p80, p90, mean, deviation)
        for name, (p10, p50, p80, p90), mean, deviation in zip(
            laid.houses,
            found.house_percentiles.tolist(),
            found.house_mean.tolist(),
            found.house_deviation.tolist(),
            strict=True,
        )
        if name is not None
    }
    planned: dict[str, int] = {}
    if ready_of:
        plan = compute_dates(network, data_date=data_date)
        planned = {name: plan[name].first_half_day for name in ready_of}
    return Forecast(
        activities=activities,
        mean=float(found.ends.mean()) - data_date,
        deviation=float(np.std(found.ends, ddof=1)) if samples > 1 else 0.0,
        samples=samples,
        houses=houses,
        ready={network.activities[i].id: spread for i, spread in found.ready.items()},
        planned=planned,
        late_houses=None if limits is None else Spread.of(found.late.tolist()),
    )
