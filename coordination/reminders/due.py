"""What is to be said to a crew, and when. Pure: facts and the present moment in, messages out.

Every rule of timing stands here. Nothing is sent and nothing is read from a database; the same facts always
give the same messages with the same keys, so that asking twice tells nobody twice.

| message    | when                                                                  |
|------------|-----------------------------------------------------------------------|
| look-ahead | Thursday's digest, one per crew: the coming ten working days          |
| visit      | digest three working days before the told start                       |
| eve        | digest of the working day before the told start                       |
| window     | half the way from the told finish to the walk, and on the last        |
|            | half-day before it, while not done                                    |

A change is no reminder: it is put into the outbox by whoever changes a told date. When it is urgent it goes
at once, but wakes nobody unless a start is near.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from coordination import clock

Kind = Literal["look-ahead", "visit", "eve", "window"]

LOOK_AHEAD_WEEKDAY = 3
"""Thursday: the coming fortnight is still open, and Friday is left to answer."""

LOOK_AHEAD_WORKING_DAYS = 10
VISIT_WORKING_DAYS = 3
EVE_WORKING_DAYS = 1


@dataclass(frozen=True)
class SiteDays:
    """Days on which the site's region works. `off` holds its holidays and shutdowns.

    Attributes:
        week: working half-days of Monday to Sunday.
        off: dates without work.
    """

    week: tuple[int, ...] = (2, 2, 2, 2, 2, 0, 0)
    off: frozenset[dt.date] = frozenset()

    def works(self, day: dt.date) -> bool:
        """Whether anything is worked on this day."""
        return self.week[day.weekday()] > 0 and day not in self.off

    def back(self, day: dt.date, count: int) -> dt.date:
        """The working day that lies `count` working days before a day (which need not work itself).

        Raises:
            ValueError: when the calendar has no working day in the ten years before.
        """
        left = count
        for _step in range(3660):
            if left <= 0:
                return day
            day -= dt.timedelta(days=1)
            left -= self.works(day)
        raise ValueError("The site's calendar has no working day; correct its week.")

    def ahead(self, day: dt.date, count: int) -> dt.date:
        """The working day that lies `count` working days after a day."""
        left = count
        for _step in range(3660):
            if left <= 0:
                return day
            day += dt.timedelta(days=1)
            left -= self.works(day)
        raise ValueError("The site's calendar has no working day; correct its week.")


@dataclass(frozen=True)
class Window:
    """Access window of a detail that the visit installs; half-days. `buried_by` names the burying work."""

    detail: str
    key: str
    due: int
    buried: int
    walk: str = ""
    buried_by: str = ""
    places: tuple[str, ...] = ()
    done: bool = False
    detail_id: int = 0


@dataclass(frozen=True)
class VisitFacts:
    """What is known of one booked visit. `told_finish` is exclusive; `days` are those of its site."""

    booking: int
    crew: int
    builder: int
    house: str
    visit: str
    state: str
    told_start: int
    told_finish: int
    days: SiteDays = field(default_factory=SiteDays)
    started: bool = False
    done: bool = False
    windows: tuple[Window, ...] = ()


@dataclass(frozen=True)
class Times:
    """A builder's settings for messages; `days` are those on which any of its sites works."""

    zone: str
    digest_at: dt.time
    days: SiteDays = field(default_factory=SiteDays)


@dataclass(frozen=True)
class Due:
    """One message that is due. `about` and `version` make it unique; `bookings` are what it speaks of."""

    kind: Kind
    crew: int
    builder: int
    about: str
    version: str
    at: dt.datetime
    bookings: tuple[int, ...]
    window: Window | None = None


def due_messages(visits: Iterable[VisitFacts], times: Times, now: dt.datetime) -> list[Due]:
    """Everything that is due by `now` and still makes sense, oldest first.

    A visit that is done, declined or stood down is never spoken of. A reminder whose moment lies behind, but
    whose visit is still to come, is still due: a worker that slept says it late rather than never. What lies
    behind altogether (a told start or a walk in the past) is not said any more.

    Args:
        visits: booked visits of one builder, of any crews.
        times: the builder's settings.
        now: the present moment, aware.
    """
    told = [visit for visit in visits if not visit.done and visit.state in SPOKEN_OF]
    found: list[Due] = []
    for visit in told:
        found += _before_a_visit(visit, times, now)
        found += _window_messages(visit, times, now)
    found += _look_aheads(told, times, now)
    return sorted(
        (due for due in found if due.at <= now), key=lambda due: (due.at, due.crew, due.kind, due.about)
    )


SPOKEN_OF = ("asked", "pencilled", "firm", "under way")
"""States of a booking that has something to say: declined, stood down and done ones are silent."""


def _moment(day: dt.date, times: Times) -> dt.datetime:
    return dt.datetime.combine(day, times.digest_at, tzinfo=clock.zone(times.zone))


def _before_a_visit(visit: VisitFacts, times: Times, now: dt.datetime) -> list[Due]:
    """Visit reminder or eve: once the eve is due it stands in for a visit reminder that was not yet said."""
    if visit.started or visit.state == "under way" or now >= clock.ends_at(visit.told_start, times.zone):
        return []
    start_day, _half = clock.as_date(visit.told_start)
    eve_at = _moment(visit.days.back(start_day, EVE_WORKING_DAYS), times)
    visit_at = _moment(visit.days.back(start_day, VISIT_WORKING_DAYS), times)
    kind: Kind
    kind, at = ("eve", eve_at) if eve_at <= now else ("visit", visit_at)
    return [
        Due(
            kind=kind,
            crew=visit.crew,
            builder=visit.builder,
            about=f"booking:{visit.booking}",
            version=f"{visit.told_start}",
            at=at,
            bookings=(visit.booking,),
        )
    ]


def _window_messages(visit: VisitFacts, times: Times, now: dt.datetime) -> list[Due]:
    """Twice per walk while the work is not done: half-way from the told finish, and the last half-day.

    Several details of a visit that share a walk give one message; whoever writes it gathers their names.
    """
    walks: dict[tuple[str, int], Window] = {}
    for window in visit.windows:
        walk_begins = clock.starts_at(window.due, times.zone)
        if not window.done and window.due > visit.told_finish and now < walk_begins:
            walks.setdefault((window.walk, window.due), window)
    found = []
    for (walk, due), window in walks.items():
        last_half_day = due - 1
        half_way = visit.told_finish + (due - visit.told_finish) // 2
        for name, half_day in (("half", half_way), ("last", last_half_day)):
            if name == "half" and half_way >= last_half_day:
                continue
            day, _half = clock.as_date(half_day)
            while not visit.days.works(day):
                day -= dt.timedelta(days=1)
            found.append(
                Due(
                    kind="window",
                    crew=visit.crew,
                    builder=visit.builder,
                    about=f"booking:{visit.booking}:{walk or window.key}",
                    version=f"{name}:{due}",
                    at=_morning(day, times),
                    bookings=(visit.booking,),
                    window=window,
                )
            )
    return found


def _morning(day: dt.date, times: Times) -> dt.datetime:
    return dt.datetime.combine(day, clock.MORNING[0], tzinfo=clock.zone(times.zone))


def _look_aheads(visits: Sequence[VisitFacts], times: Times, now: dt.datetime) -> list[Due]:
    """One per crew on Thursday: what it has at this builder in the coming ten working days."""
    today = now.astimezone(clock.zone(times.zone)).date()
    thursday = today - dt.timedelta(days=(today.weekday() - LOOK_AHEAD_WEEKDAY) % 7)
    if (today - thursday).days > 1:
        # Older than Friday: the next one is nearer than the last, and nobody wants last week's list.
        return []
    first = clock.as_half_day(thursday + dt.timedelta(days=1))
    end = clock.as_half_day(times.days.ahead(thursday, LOOK_AHEAD_WORKING_DAYS)) + 2
    by_crew: dict[int, list[VisitFacts]] = {}
    for visit in visits:
        if not visit.started and first <= visit.told_start < end:
            by_crew.setdefault(visit.crew, []).append(visit)
    return [
        Due(
            kind="look-ahead",
            crew=crew,
            builder=rows[0].builder,
            about=f"builder:{rows[0].builder}",
            version=thursday.isoformat(),
            at=_moment(thursday, times),
            bookings=tuple(
                row.booking for row in sorted(rows, key=lambda row: (row.told_start, row.booking))
            ),
        )
        for crew, rows in sorted(by_crew.items())
    ]


BREAKS_QUIET_WITHIN = dt.timedelta(hours=12)
"""A change this close to its start is said at night too: the crew would drive before it reads."""


def breaks_quiet(starts: Sequence[int], *, zone: str, now: dt.datetime) -> bool:
    """Whether an urgent change may wake someone: one of its told starts is within 12 hours, or behind.

    Args:
        starts: told starts that it speaks of, old ones included; none means that no start is known, and
            what is urgent is then said.
        zone: the site's time zone.
        now: the present moment, aware.
    """
    return not starts or any(clock.starts_at(start, zone) <= now + BREAKS_QUIET_WITHIN for start in starts)


def is_quiet(
    now: dt.datetime, *, zone: str, quiet_from: dt.time, quiet_until: dt.time, days: SiteDays
) -> bool:
    """Whether the site's region wants no messages now: at night, on Sundays and on its holidays.

    Saturdays are not quiet by themselves: the digest waits for a working day anyhow, and what is sent at once
    (work to be put right) may reach a crew that works.
    """
    local = now.astimezone(clock.zone(zone))
    day, time = local.date(), local.time()
    if day.weekday() == 6 or day in days.off:
        return True
    if quiet_from <= quiet_until:
        return quiet_from <= time < quiet_until
    return time >= quiet_from or time < quiet_until
