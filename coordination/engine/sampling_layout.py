"""A network laid out for drawing: arrays in an order in which each part lies together, part after part.

A part is what hangs together: a house, or several with relationships between them. Parts are drawn one after
the other, so that memory depends on the largest part and not on the number of houses.

Every source of chance has a key of its own, made from the seed and the name of the activity, the visit or the
crew. The n-th draw of a source is a function of its key and n alone: it does not depend on what else is in
the network, so that houses forecast apart, side by side, come out as together.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coordination.engine.forecast_spread import SharedFactors
from coordination.engine.network import EVERY_NAME, Activity, Network
from coordination.engine.parts import find_parts
from coordination.engine.progress import count_work_left, earliest_instant, still_holds
from coordination.engine.quantiles import (
    Reals,
    Shape,
    tabulate_by_deviate,
    tabulate_normal,
    tabulate_quantiles,
)
from coordination.engine.sampling_luck import Keys, Shared, Whole, lay_out_lates, make_key
from coordination.engine.workdays import END_OF_TIME, BeyondTime, WorkingCalendar

Flags = NDArray[np.bool_]

TICK_BITS = 8
"""Where fractions of half-days are drawn, a half-day has 2 ** 8 ticks."""
MOST = 1 << 20
"""The longest length and lag: 500,000 days."""
FAR = 1 << 30
FROM_FINISH, TO_FINISH, ELAPSED_LAG = 1, 2, -1


class Layout(NamedTuple):
    """Arrays by place in the drawing order. Instants are ticks since `Laid.first`.

    Lengths are half-days in a calendar, ticks in ``"every"``. `table`: row of the quantile table of a length
    that is drawn, -1 where it is `length`; `low` and `span` stretch it. `own` is the weight of an activity's
    own luck beside that of its crew and its region. `source`, `kind`, `lag` (ticks) and `later` (row of the
    lag table, -1: elapsed) belong to relationships, those into activity i from `links[i]` on; the crews that
    may be late at it lie from `lates[i]` on. `starts`: a successor looks at its start; `wanted`: its
    readiness is asked for.
    """

    calendar: Whole
    whole: Flags
    floor: Whole
    fixed: Flags
    actual: Whole
    house: Whole
    length: Whole
    table: Whole
    low: Reals
    span: Reals
    key: Keys
    crew: Whole
    region: Whole
    own: Reals
    fail_key: Keys
    fail_chance: Reals
    fail_length: Whole
    links: Whole
    source: Whole
    kind: Whole
    lag: Whole
    later: Whole
    lates: Whole
    late_key: Keys
    late_over: Reals
    late_least: Whole
    late_span: Whole
    late_crew: Whole
    starts: Flags
    wanted: Flags


class Frame(NamedTuple):
    """Calendars over one horizon, and the tables that draws are read from."""

    before: Whole
    kth: Whole
    later: Whole
    quantiles: Reals
    by_deviate: Reals
    normal: Reals


@dataclass(frozen=True)
class Laid:
    """A network ready to be drawn.

    `order` leads from places to the input order; `parts` are the first place of each part and the end;
    `houses` are names by number (0: no house). `first` is set off all instants; `bits` are those of a tick.
    """

    layout: Layout
    order: Whole
    parts: Whole
    houses: tuple[str | None, ...]
    calendars: tuple[WorkingCalendar, ...]
    lags: tuple[tuple[int, int], ...]
    modes: tuple[float, ...]
    shape: Shape
    factor_keys: Keys
    weights: SharedFactors
    bits: int
    first: int
    data_date: int


def lay_out(
    network: Network,
    *,
    data_date: int,
    seed: int,
    shape: Shape,
    factors: SharedFactors,
    ready_of: Collection[str] = (),
) -> Laid:
    """Lay a network out for drawing. Raises `CircularNetwork`."""
    activities = network.activities
    _refuse_far_lengths(network)
    parts = find_parts(network)
    order = parts.order
    listed = [activities[i] for i in order.tolist()]

    ranges = [_range_left(a, network.calendars[a.calendar], data_date) for a in listed]
    uncertain = any(
        a.calendar == EVERY_NAME and low < high for a, (low, _, high) in zip(listed, ranges, strict=True)
    )
    bits = TICK_BITS if uncertain else 0
    first = min([data_date, *(a.actual_start for a in listed if a.actual_start is not None)])
    calendars = {name: c for c, name in enumerate(network.calendars)}

    # Relationships that still hold, rows behind their targets.
    holding = np.array(
        [still_holds(x, network[x.from_id], network[x.to_id]) for x in network.relationships]
        if network.has_actuals
        else np.ones(len(network.relationships)),
        dtype=np.bool_,
    )
    rows = np.argsort(parts.target, kind="stable")
    rows = rows[holding[rows]]
    links = np.concatenate(([0], np.cumsum(np.bincount(parts.target[rows], minlength=len(order)))))
    ties = [network.relationships[e] for e in rows.tolist()]
    lags: dict[tuple[int, int], int] = {}
    later = []
    for x in ties:
        name = x.lag_calendar or network[x.to_id].calendar
        if x.lag == 0 or name not in calendars or name == EVERY_NAME:
            later.append(ELAPSED_LAG)
        else:
            later.append(lags.setdefault((calendars[name], x.lag), len(lags)))
    kind = [FROM_FINISH * (x.type[0] == "F") + TO_FINISH * (x.type[1] == "F") for x in ties]
    from_start = np.zeros(len(order), dtype=np.bool_)
    from_start[[int(parts.source[e]) for e, x in zip(rows, ties, strict=True) if x.type[0] == "S"]] = True

    modes: dict[float, int] = {}
    table = [_row_of(spread, modes) for spread in ranges]
    whole = [a.calendar != EVERY_NAME for a in listed]
    units = [1 if w else 1 << bits for w in whole]

    shared = Shared(network, factors)
    crew = [shared.crew_of(a) for a in listed]
    region = [shared.region_of(a) for a in listed]
    lates = lay_out_lates(network, listed, seed, shared)
    wanted = set(ready_of)

    def ints(values: Sequence[int]) -> Whole:
        return np.array(values, dtype=np.int32)

    layout = Layout(
        calendar=ints([calendars[a.calendar] for a in listed]),
        whole=np.array(whole),
        floor=ints([(min(earliest_instant(a, data_date), END_OF_TIME + 1) - first) << bits for a in listed]),
        fixed=np.array([a.finished for a in listed]),
        actual=ints([FAR if a.actual_start is None else (a.actual_start - first) << bits for a in listed]),
        house=parts.house,
        length=ints([int(r[1]) * u for r, u in zip(ranges, units, strict=True)]),
        table=ints(table),
        low=np.array([r[0] * u for r, u in zip(ranges, units, strict=True)], dtype=np.float64),
        span=np.array([(r[2] - r[0]) * u for r, u in zip(ranges, units, strict=True)], dtype=np.float64),
        key=np.array([make_key(seed, a.house, "length", a.id) for a in listed], dtype=np.uint64),
        crew=ints(crew),
        region=ints(region),
        own=np.array([shared.own_weight(c, r) for c, r in zip(crew, region, strict=True)]),
        fail_key=np.array(
            [make_key(seed, a.house, "fails", a.id) if a.fails else 0 for a in listed], dtype=np.uint64
        ),
        fail_chance=np.array([a.fails.chance if a.fails and not a.finished else 0.0 for a in listed]),
        fail_length=ints(
            [a.fails.half_days * u if a.fails else 0 for a, u in zip(listed, units, strict=True)]
        ),
        links=links.astype(np.int32),
        source=parts.source[rows],
        kind=ints(kind),
        lag=ints([x.lag << bits for x in ties]),
        later=ints(later),
        lates=lates.rows,
        late_key=lates.key,
        late_over=lates.over,
        late_least=lates.least,
        late_span=lates.span,
        late_crew=lates.crew,
        starts=from_start,
        wanted=np.array([a.id in wanted for a in listed]),
    )
    return Laid(
        layout=layout,
        order=order.astype(np.int32),
        parts=parts.starts,
        houses=parts.houses,
        calendars=tuple(network.calendars.values()),
        lags=tuple(lags),
        modes=tuple(modes),
        shape=shape,
        factor_keys=np.array([0, *(make_key(seed, *name) for name in shared.names)], dtype=np.uint64),
        weights=factors,
        bits=bits,
        first=first,
        data_date=data_date,
    )


def make_frame(laid: Laid, reach: int) -> Frame:
    """The tables over `reach` half-days from the first instant; what lies beyond is more than `reach`."""
    instants = np.arange(laid.first, laid.first + reach + 1)
    before = np.zeros((len(laid.calendars), reach + 1), dtype=np.int32)
    kth = np.full((len(laid.calendars), reach + 1), reach + 1, dtype=np.int32)
    for c, calendar in enumerate(laid.calendars):
        counts = calendar.before_each(instants)
        before[c] = counts - counts[0]
        worked = np.flatnonzero(np.diff(before[c]))
        kth[c, : len(worked)] = worked
    later = np.zeros((max(1, len(laid.lags)), reach + 1), dtype=np.int32)
    for row, (c, lag) in enumerate(laid.lags):
        # A lead to before the first instant binds nothing: no date lies there.
        k = before[c] + (lag - 1)
        found = kth[c, np.clip(k, 0, reach)] + 1
        later[row] = np.where(k < 0, 0, np.where(k > reach, reach + 1, found))
    modes = laid.modes or (0.5,)
    return Frame(
        before,
        kth,
        later,
        np.array([tabulate_quantiles(laid.shape, mode) for mode in modes]),
        np.array([tabulate_by_deviate(laid.shape, mode) for mode in modes]),
        tabulate_normal(),
    )


def _refuse_far_lengths(network: Network) -> None:
    """Refuse lengths that could leave the numbers that ticks are counted in."""
    for a in network.activities:
        if max(a.duration, a.remaining or 0, *(a.range or ()), a.fails.half_days if a.fails else 0) > MOST:
            raise BeyondTime(f"activity {a.id!r} is longer than {MOST} half-days: shorten it")
    for x in network.relationships:
        if abs(x.lag) > MOST:
            raise BeyondTime(f"{x}: the lag is longer than {MOST} half-days: shorten it")


def _range_left(a: Activity, calendar: WorkingCalendar, data_date: int) -> tuple[float, float, float]:
    """The range of what is still to be worked; without spread where that is certain.

    Work under way keeps the proportions of its range, and takes at least one half-day more if any is left.
    """
    left = count_work_left(a, calendar, data_date)
    if a.finished or a.range is None:
        return left, left, left
    low, likely, high = a.range
    if a.actual_start is None:
        return low, likely, high
    if not likely or not left:
        return left, left, left
    part = left / likely
    return max(1.0, low * part), max(1.0, float(left)), max(1.0, high * part)


def _row_of(spread: tuple[float, float, float], modes: dict[float, int]) -> int:
    """The row of the quantile table that a range is read from; -1 where it is certain."""
    low, likely, high = spread
    if low == high:
        return -1
    mode = (likely - low) / (high - low)
    return modes.setdefault(mode, len(modes))
