"""Promise dates: the day on which a booking behind a hold can be told, at a chosen confidence.

What is promised to a crew is that the house is ready for it: everything that its work waits for is done, the
word time behind the hold included. Whether the crew then comes late is its own affair and not in the date.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from coordination.engine.forecast import Forecast, forecast_network
from coordination.engine.forecast_spread import SharedFactors, Spread
from coordination.engine.network import Network
from coordination.engine.quantiles import Shape
from coordination.engine.workdays import Refused


@dataclass(frozen=True)
class Promise:
    """A date that can be promised for the start of an activity.

    Parameters
    ----------
    activity_id, hold, house
        the activity, the hold it stands behind (None: asked for by its own name), its house.
    confidence, share
        the confidence asked for, and the share of draws in which it is ready by `start` (never less).
    start
        the half-day to promise: a working half-day of the activity's calendar.
    likely
        the half-day by which it is ready in half of the draws.
    planned
        its start in the plan without any uncertainty.
    ready
        how the draws fall: `ready.share_by(t)` tells how sure any other half-day t is.
    """

    activity_id: str
    hold: str | None
    house: str | None
    confidence: float
    share: float
    start: int
    likely: int
    planned: int
    ready: Spread


def promise_starts(
    network: Network,
    *,
    data_date: int = 0,
    confidence: float = 0.8,
    holds: Collection[str] | None = None,
    activities: Collection[str] = (),
    samples: int = 1000,
    seed: int = 0,
    shape: Shape = "pert",
    factors: SharedFactors | None = None,
) -> tuple[Promise, ...]:
    """The dates that can be promised for what stands directly behind holds.

    Args:
        holds: ids of the points that hold; None: the points of the network's details, and what may fail.
        activities: ids of further activities to promise, whatever they wait for.
        confidence: the share of cases in which the promise is to be kept.

    Returns:
        a promise for each unstarted activity behind each hold, in input order of holds, then those of
        `activities`. The same seed gives the same answer.

    Raises:
        Refused: naming the unknown hold or activity, for a confidence outside 0 to 1, and whatever a forecast
            refuses.
    """
    return promise_with_forecast(
        network,
        data_date=data_date,
        confidence=confidence,
        holds=holds,
        activities=activities,
        samples=samples,
        seed=seed,
        shape=shape,
        factors=factors,
    )[0]


def promise_with_forecast(
    network: Network,
    *,
    data_date: int = 0,
    confidence: float = 0.8,
    holds: Collection[str] | None = None,
    activities: Collection[str] = (),
    samples: int = 1000,
    seed: int = 0,
    shape: Shape = "pert",
    factors: SharedFactors | None = None,
    limits: Mapping[str, int] | None = None,
) -> tuple[tuple[Promise, ...], Forecast]:
    """The promises of `promise_starts`, and the forecast that they were read from.

    Args:
        limits: as `forecast_network` takes them; the rest as `promise_starts`.
    """
    if type(confidence) not in (int, float) or not 0 < confidence < 1:
        raise Refused(f"the confidence of a promise must lie between 0 and 1, not {confidence!r}")
    if holds is None:
        points = [d.point for d in network.details if d.point is not None]
        holds = list(dict.fromkeys([*points, *(a.id for a in network.activities if a.fails is not None)]))
    for name in (*holds, *activities):
        if name not in network.position:
            raise Refused(f"a promise was asked for at the unknown activity {name!r}: correct the name")
    behind: dict[str, list[str]] = {name: [] for name in holds}
    for link in network.relationships:
        if link.from_id in behind and link.type[1] == "S" and link.to_id not in behind[link.from_id]:
            behind[link.from_id].append(link.to_id)
    pairs: list[tuple[str | None, str]] = [(hold, name) for hold in behind for name in behind[hold]]
    pairs += [(None, name) for name in dict.fromkeys(activities)]
    pairs = [(hold, name) for hold, name in pairs if network[name].actual_start is None]
    found = forecast_network(
        network,
        data_date=data_date,
        samples=samples,
        seed=seed,
        shape=shape,
        factors=factors,
        ready_of={name for _, name in pairs},
        limits=limits,
    )
    promises = []
    for hold, name in pairs:
        ready = found.ready[name]
        start = ready.at(confidence)
        promises.append(
            Promise(
                activity_id=name,
                hold=hold,
                house=network[name].house,
                confidence=float(confidence),
                share=ready.share_by(start),
                start=start,
                likely=ready.at(0.5),
                planned=found.planned[name],
                ready=ready,
            )
        )
    return tuple(promises), found
