"""Many houses of mixed sequences, generated with a fixed seed."""

import dataclasses
import datetime as dt
import random

from coordination.engine import (
    DEFAULT_FACTORS,
    Activity,
    Crew,
    Fails,
    Late,
    Network,
    Relationship,
    WorkingCalendar,
    as_half_day,
)

MONDAY = as_half_day(dt.date(2026, 2, 2))
TRADES = 12


def calendars():
    """Four calendars: weeks of five days with different days off, short Fridays, six days."""
    easter = [as_half_day(dt.date(2026, 4, day), half) for day in (3, 6, 7) for half in ("am", "pm")]
    summer = [as_half_day(dt.date(2026, 12, 21)) + k for k in range(38)]
    return {
        "plain": WorkingCalendar((2, 2, 2, 2, 2, 0, 0), off=easter[:4] + summer),
        "north": WorkingCalendar((2, 2, 2, 2, 2, 0, 0), off=easter + summer),
        "short": WorkingCalendar((2, 2, 2, 2, 1, 0, 0), off=easter[:4] + summer),
        "six": WorkingCalendar((2, 2, 2, 2, 2, 1, 0), off=easter[:2]),
    }


def sequence(random_source, size):
    """One sequence: durations, trades, calendars, and links (from, to, type, lag, lag calendar)."""
    names = ("plain", "north", "short", "six")
    activities = [
        (random_source.randint(1, 10), i * TRADES // size, random_source.choice(names)) for i in range(size)
    ]
    links = []
    for i in range(1, size):
        for j in sorted({max(0, i - random_source.randint(1, 6)) for _ in range(2)}):
            kind = random_source.choices(("FS", "SS", "FF"), (8, 1, 1))[0]
            lag = random_source.choice((0, 0, 0, 0, 1, 2, 6)) if kind == "FS" else random_source.randint(0, 3)
            links.append((j, i, kind, lag, random_source.choice((None, None, "elapsed"))))
    return activities, links


def many_houses(houses, size=60, sequences=8, every=6):
    """A network of houses of several sequences, a start every few half-days."""
    source = random.Random(7)
    kinds = [sequence(source, size) for _ in range(sequences)]
    activities, links = [], []
    for h in range(houses):
        rows, ties = kinds[h % sequences]
        for i, (length, _trade, calendar) in enumerate(rows):
            wanted = MONDAY + h * every // 10 if i == 0 else None
            activities.append(Activity(f"{h}.{i}", length, calendar, f"house {h}", not_before=wanted))
        links += [Relationship(f"{h}.{a}", f"{h}.{b}", *rest) for a, b, *rest in ties]
    return Network(tuple(activities), tuple(links), calendars())


def with_crews(network, chance=0.3):
    """The same network with a crew and a visit for each five activities, late crews, regions and ranges.

    Each house's tenth activity from the end is a walk that may fail.
    """
    activities = []
    for a in network.activities:
        i = int(a.id.split(".")[1])
        activities.append(
            dataclasses.replace(
                a,
                crew={f"trade {i // 5}": 1},
                visit=f"visit {i // 5}",
                range=DEFAULT_FACTORS.range_of(a.duration),
                region=("north", "south")[int(a.id.split(".")[0]) % 2] if i < 30 else None,
                fails=Fails(0.3, 3) if i == 50 else None,
            )
        )
    crews = tuple(
        Crew(f"trade {t}", 9, "plain", late=Late(chance, (1, 6))) for t in range(max(TRADES, 1 + i // 5))
    )
    return dataclasses.replace(network, activities=tuple(activities), crews=crews)


def houses_with_crews(houses, size=60, seed=11):
    """Houses of one template that share 12 trades, begun so fast that the busiest trade is fully loaded.

    Visits are the activities of one trade that follow each other. Durations are 2 to 10 half-days.
    """
    source = random.Random(seed)
    lengths = [source.randint(2, 10) for _ in range(size)]
    trades = [source.randrange(TRADES) for _ in range(size)]
    links = []
    for i in range(1, size):
        links += [(j, i) for j in sorted({max(0, i - source.randint(1, 6)) for _ in range(2)})]
    load = [sum(n for n, t in zip(lengths, trades, strict=True) if t == trade) for trade in range(TRADES)]
    capacity = [max(1, round(work / 2)) for work in load]
    every = max(work / units for work, units in zip(load, capacity, strict=True))
    week = calendars()["plain"]
    activities, relationships = [], []
    for h in range(houses):
        begun = week.kth(week.before(MONDAY) + round(h * every))
        for i in range(size):
            activities.append(
                Activity(
                    f"{h}.{i}",
                    lengths[i],
                    "plain",
                    f"house {h}",
                    not_before=begun if i == 0 else None,
                    crew={f"trade {trades[i]}": 1},
                )
            )
        relationships += [Relationship(f"{h}.{a}", f"{h}.{b}") for a, b in links]
    crews = tuple(Crew(f"trade {t}", capacity[t], "plain") for t in range(TRADES))
    return Network(tuple(activities), tuple(relationships), {"plain": week}, crews=crews)
