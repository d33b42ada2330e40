"""Walks that can hardly have been walked: listed for the assessor, never blocked. Pure.

Limits are common practice of whoever walks: 40 checks need about 40 minutes on site, so 40 in 4 minutes were
entered elsewhere; numbers read from a tape differ from bay to bay.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

MANY_CHECKS = 40
FEW_MINUTES = dt.timedelta(minutes=4)
SAME_IN_PLACES = 4
"""From so many places on, the very same measured number in all of them is odd."""


@dataclass(frozen=True)
class Judged:
    """One outcome as entered: at which inspection, whose, of which check and place, when, which number."""

    inspection: int
    by: int
    key: str
    place: int | None
    at: dt.datetime
    value: float | None = None
    measured: bool = False


@dataclass(frozen=True)
class Picture:
    """One photograph at a house; `sha256` is that of its original bytes."""

    inspection: int | None
    house: int
    sha256: str
    received_at: dt.datetime


@dataclass(frozen=True)
class Odd:
    """Something to look at: of which sort ('fast', 'same numbers', 'seen before'), where, whose, how much."""

    sort: str
    inspection: int
    by: int | None
    count: int
    seconds: int = 0
    key: str = ""
    value: float | None = None
    house: int | None = None
    """The other house where the picture was seen before."""


def find_fast(judged: Iterable[Judged]) -> list[Odd]:
    """Walks in which one person entered 40 checks or more within 4 minutes; the densest stretch of each."""
    walks: dict[tuple[int, int], list[dt.datetime]] = {}
    for one in judged:
        walks.setdefault((one.inspection, one.by), []).append(one.at)
    found = []
    for (inspection, by), moments in walks.items():
        moments.sort()
        first, most, took = 0, 0, 0
        for last, moment in enumerate(moments):
            while moment - moments[first] > FEW_MINUTES:
                first += 1
            if last - first + 1 > most:
                most, took = last - first + 1, int((moment - moments[first]).total_seconds())
        if most >= MANY_CHECKS:
            found.append(Odd("fast", inspection, by, most, took))
    return found


def find_same_numbers(judged: Iterable[Judged]) -> list[Odd]:
    """Measured checks with the very same number in all of four places or more; the last of each counts."""
    latest: dict[tuple[int, str], dict[int | None, Judged]] = {}
    for one in sorted(judged, key=lambda one: one.at):
        if one.measured and one.value is not None:
            latest.setdefault((one.inspection, one.key), {})[one.place] = one
    found = []
    for (inspection, key), places in latest.items():
        values = {one.value for one in places.values()}
        people = {one.by for one in places.values()}
        if len(places) >= SAME_IN_PLACES and len(values) == 1:
            by = people.pop() if len(people) == 1 else None
            found.append(Odd("same numbers", inspection, by, len(places), key=key, value=values.pop()))
    return found


def find_seen_before(pictures: Iterable[Picture]) -> list[Odd]:
    """Photographs whose very bytes were sent for another house before."""
    first: dict[str, Picture] = {}
    found: dict[tuple[int, int], int] = {}
    for one in sorted(pictures, key=lambda one: one.received_at):
        before = first.setdefault(one.sha256, one)
        if before.house != one.house and one.inspection is not None:
            where = (one.inspection, before.house)
            found[where] = found.get(where, 0) + 1
    return [
        Odd("seen before", inspection, None, count, house=house)
        for (inspection, house), count in found.items()
    ]
