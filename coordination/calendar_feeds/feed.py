"""Visits to iCalendar (RFC 5545, RFC 7986). Pure: the same visits give the same bytes.

A visit within one day is a timed event, written in UTC, since calendar programs disagree about zone rules. A
visit over several days is an all-day event; its first and last half-day stand in the description. The state
stands in the title too, because most calendars hide STATUS. Cancelled visits stay in the feed, as CANCELLED,
for as long as the caller keeps them in the list.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from icalendar import STATUS, Calendar, Event

from coordination import clock

REFRESH = dt.timedelta(hours=1)
KEEP_CANCELLED = dt.timedelta(days=30)


@dataclass(frozen=True)
class FeedVisit:
    """One booked visit as a calendar shows it. Half-days as told; `told_finish` is exclusive."""

    uid: str
    sequence: int
    state: str
    changed_at: dt.datetime
    told_start: int
    told_finish: int
    zone: str
    title: str
    where: str = ""
    lines: Sequence[str] = ()


_STATUS = {
    "asked": STATUS.TENTATIVE,
    "pencilled": STATUS.TENTATIVE,
    "firm": STATUS.CONFIRMED,
    "under way": STATUS.CONFIRMED,
    "done": STATUS.CONFIRMED,
    "declined": STATUS.CANCELLED,
    "stood down": STATUS.CANCELLED,
}


def write_feed(*, name: str, uid: str, visits: Iterable[FeedVisit]) -> bytes:
    """The calendar of a crew as bytes: CRLF ends, lines folded at 75 octets.

    Args:
        name: the calendar's name as a phone shows it.
        uid: an id of the calendar that never changes.
        visits: bookings that were told a date, of any state.
    """
    calendar = Calendar.new(
        name=name, uid=uid, prodid="-//Before the Board//crew calendar//EN", refresh_interval=REFRESH
    )
    # icalendar writes the standard property; one widespread program reads only this older name.
    calendar.add("X-PUBLISHED-TTL", "PT1H")
    # RFC 7986 (5.7) asks for the value type by name, which the library leaves out.
    calendar["REFRESH-INTERVAL"].params["VALUE"] = "DURATION"
    for visit in sorted(visits, key=lambda visit: (visit.told_start, visit.uid)):
        calendar.add_component(_event(visit))
    written: bytes = calendar.to_ical()
    return written


def _event(visit: FeedVisit) -> Event:
    first_day, _half = clock.as_date(visit.told_start)
    last_day, _half = clock.as_date(visit.told_finish - 1)
    start: dt.date | dt.datetime
    end: dt.date | dt.datetime
    if first_day == last_day:
        start = clock.starts_at(visit.told_start, visit.zone).astimezone(dt.UTC)
        end = clock.ends_at(visit.told_finish - 1, visit.zone).astimezone(dt.UTC)
    else:
        start, end = first_day, last_day + dt.timedelta(days=1)
    span = clock.say_half_day(visit.told_start)
    if visit.told_finish - 1 > visit.told_start:
        span = _("%(first)s to %(last)s") % {"first": span, "last": clock.say_half_day(visit.told_finish - 1)}
    event = Event.new(
        uid=visit.uid,
        sequence=visit.sequence,
        status=_STATUS[visit.state],
        summary=f"{_(visit.state).upper()}: {visit.title}",
        location=visit.where or None,
        description="\n".join([span, *visit.lines]),
        start=start,
        end=end,
        stamp=visit.changed_at.astimezone(dt.UTC),
        last_modified=visit.changed_at.astimezone(dt.UTC),
    )
    event.add("TRANSP", "TRANSPARENT" if _STATUS[visit.state] is STATUS.CANCELLED else "OPAQUE")
    return event
