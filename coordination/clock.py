"""The only place that asks the time, and the only place that turns half-days into words.

Time inside the tool is a whole number of half-days since Monday 1970-01-05: even = morning, odd = afternoon.
An instant is the *start* of a half-day; intervals are half-open ``[start, finish)``. Wall-clock times and
time zones exist only here and at the edges (messages, calendar feeds).
"""

from __future__ import annotations

import datetime as dt
from typing import Literal
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

Half = Literal["am", "pm"]

EPOCH = dt.date(1970, 1, 5)
"""Monday, half-day 0 is its morning."""

MORNING = (dt.time(7, 0), dt.time(11, 0))
AFTERNOON = (dt.time(11, 30), dt.time(15, 30))
"""Default wall-clock hours of the two half-days; used at the edges only."""


def now() -> dt.datetime:
    """The present moment, aware, in UTC."""
    return timezone.now()


def zone(name: str | None = None) -> ZoneInfo:
    """The named time zone, or the site's default when no name is given."""
    return ZoneInfo(name or settings.TIME_ZONE)


def today(zone_name: str | None = None) -> dt.date:
    """The present date in the given time zone (a builder's), or in the site's default."""
    return now().astimezone(zone(zone_name)).date()


def current_half_day(zone_name: str | None = None) -> int:
    """The half-day in which the present moment lies: mornings last until noon in the given zone."""
    return half_day_of(now(), zone_name)


def half_day_of(moment: dt.datetime, zone_name: str | None = None) -> int:
    """The half-day in which an aware moment lies: mornings last until noon in the given zone."""
    local = moment.astimezone(zone(zone_name))
    return as_half_day(local.date(), "am" if local.hour < 12 else "pm")


def as_half_day(day: dt.date, half: Half = "am") -> int:
    """The half-day number of a date's morning or afternoon."""
    return (day - EPOCH).days * 2 + (1 if half == "pm" else 0)


def as_date(half_day: int) -> tuple[dt.date, Half]:
    """The date and the half ('am' or 'pm') of a half-day number."""
    return EPOCH + dt.timedelta(days=half_day // 2), "pm" if half_day % 2 else "am"


def starts_at(half_day: int, zone_name: str | None = None) -> dt.datetime:
    """Wall-clock beginning of a half-day in the given zone."""
    day, half = as_date(half_day)
    return dt.datetime.combine(day, (MORNING if half == "am" else AFTERNOON)[0], tzinfo=zone(zone_name))


def ends_at(half_day: int, zone_name: str | None = None) -> dt.datetime:
    """Wall-clock end of a half-day in the given zone. For a finish pass the *last half-day worked*."""
    day, half = as_date(half_day)
    return dt.datetime.combine(day, (MORNING if half == "am" else AFTERNOON)[1], tzinfo=zone(zone_name))


def say_day(half_day: int) -> str:
    """A date as the trade says it: 'Tue 14 Apr'. The year is added when it is not the present one."""
    day, _half = as_date(half_day)
    # Translators: short date without a year, Django date format
    words = date_format(day, _("D j M"))
    return words if day.year == today().year else f"{words} {day.year}"


def say_half(half_day: int) -> str:
    """'morning' or 'afternoon'."""
    return _("afternoon") if half_day % 2 else _("morning")


def say_half_day(half_day: int | None) -> str:
    """A half-day as the trade says it: 'Tue 14 Apr, morning'. Nothing known gives 'no date yet'."""
    if half_day is None:
        return _("no date yet")
    return _("%(day)s, %(half)s") % {"day": say_day(half_day), "half": say_half(half_day)}


def say_dates(start: int, finish: int) -> str:
    """'Mon 27 Apr, morning to Tue 28 Apr, afternoon' (finish exclusive); one date within one half-day."""
    if finish - 1 <= start:
        return say_half_day(start)
    return _("%(start)s to %(last)s") % {"start": say_half_day(start), "last": say_half_day(finish - 1)}


def say_moment(moment: dt.datetime | None, zone_name: str | None = None) -> str:
    """A moment as it is said on screens: 'Tue 14 Apr, 7:40'."""
    if moment is None:
        return _("not yet")
    local = moment.astimezone(zone(zone_name))
    return _("%(day)s, %(time)s") % {
        "day": say_day(as_half_day(local.date())),
        "time": f"{local.hour}:{local.minute:02d}",
    }


def say_length(half_days: int) -> str:
    """A duration as the trade says it: '1 half-day', '3 days', '2½ days'."""
    days, odd = divmod(abs(half_days), 2)
    if days == 0 and odd:
        return _("1 half-day")
    if odd:
        return _("%(days)s½ days") % {"days": days}
    return _("1 day") if days == 1 else _("%(days)s days") % {"days": days}
