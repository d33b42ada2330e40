"""A house's working calendars, resolved to half-days: week, public holidays, region, shutdowns, days off.

The order in which rules apply, the later winning over the earlier:

1. the week of the calendar;
2. the public holidays of the region's country and state (library `holidays`, public category, observed days);
3. the region's own days: not worked, or worked (a statewide holiday that this part of the state does not
   keep: the week applies again, a Sunday stays a Sunday);
4. the calendar's own days: not worked (shutdown, rostered day off), or worked whatever the week says.

Days for outdoor work only (rain) reach the variant of the calendar that outdoor activities use.

What was resolved is stored with each plan. Public holidays of a year that the plan before already knew are
taken from there, not from the library, for as long as the region keeps its country and state: an upgrade of
the library moves no told date. A holiday proclaimed later is a row of the region (or `fresh_holidays`). Rows
of region and calendar are the builder's own acts and apply at once.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import holidays
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import CalendarDay, Region, RegionDay, WorkingCalendar
from coordination.people.models.calendars import DaySpan
from coordination.people.refusals import BadInput

OUTDOORS = " outdoors"


def calendar_key(calendar_id: int, *, outdoor: bool = False) -> str:
    """The name under which plan and engine know a calendar: 'calendar 3', 'calendar 3 outdoors'."""
    return f"calendar {calendar_id}{OUTDOORS if outdoor else ''}"


@dataclass(frozen=True)
class ResolvedCalendar:
    """A week and the half-days that differ from it.

    Attributes:
        week: working half-days of Monday to Sunday, 0, 1 (morning only) or 2.
        off: half-days of the week that are not worked, each with its reason.
        on: half-days worked although the week does not.
    """

    key: str
    week: tuple[int, ...]
    off: Mapping[int, str] = field(default_factory=dict)
    on: frozenset[int] = frozenset()

    def works(self, half_day: int) -> bool:
        """Whether this half-day is worked."""
        if half_day in self.on:
            return True
        return half_day not in self.off and half_day % 2 < self.week[half_day // 2 % 7]

    def why_not(self, half_day: int) -> str:
        """Reason for which a half-day of the week is not worked; empty when the week itself says so."""
        return self.off.get(half_day, "")


@dataclass(frozen=True)
class ResolvedDays:
    """All calendars that a house's plan uses."""

    holidays_key: str
    public_holidays: Mapping[int, Mapping[str, str]]
    """Year → ISO date → name."""
    calendars: Mapping[str, ResolvedCalendar]

    @property
    def last_year(self) -> int:
        """The last year whose public holidays are known."""
        return max(self.public_holidays)

    def as_stored(self) -> dict[str, Any]:
        """What a plan keeps."""
        return {
            "holidays_key": self.holidays_key,
            "public_holidays": {str(year): dict(days) for year, days in sorted(self.public_holidays.items())},
            "calendars": {
                key: {
                    "week": list(calendar.week),
                    "off": [[half_day, why] for half_day, why in sorted(calendar.off.items())],
                    "on": sorted(calendar.on),
                }
                for key, calendar in self.calendars.items()
            },
        }


def read_stored(stored: Mapping[str, Any]) -> dict[str, ResolvedCalendar]:
    """The calendars of a plan, as they were when it was computed."""
    return {
        key: ResolvedCalendar(
            key,
            tuple(entry["week"]),
            {int(half_day): str(why) for half_day, why in entry["off"]},
            frozenset(entry["on"]),
        )
        for key, entry in stored.get("calendars", {}).items()
    }


def resolve_calendars(
    region: Region,
    calendar_ids: Iterable[int],
    years: Iterable[int],
    stored: Mapping[str, Any] | None = None,
) -> ResolvedDays:
    """Resolve the calendars with these ids for a house in this region.

    Args:
        years: years for which public holidays must be known; those of `stored` are kept besides.
        stored: `Plan.calendars` of the plan before, or None to ask the library afresh.

    Raises:
        BadInput: the region's country or state is unknown, or a calendar's week never works.
    """
    known = _kept_holidays(region, stored)
    missing = sorted(set(years) - set(known))
    if missing:
        known |= _ask_library(region, missing)
    ids = sorted(set(calendar_ids))
    own_days: dict[int, list[CalendarDay]] = defaultdict(list)
    for day in CalendarDay.objects.filter(calendar__in=ids).order_by("first_day", "pk"):
        own_days[day.calendar_id].append(day)
    region_days = list(RegionDay.objects.filter(region=region).order_by("first_day", "pk"))
    calendars = {}
    for calendar in WorkingCalendar.objects.filter(pk__in=ids):
        week = _week_of(calendar)
        for outdoor in (False, True):
            key = calendar_key(calendar.pk, outdoor=outdoor)
            calendars[key] = _resolve_one(key, week, known, region_days, own_days[calendar.pk], outdoor)
    return ResolvedDays(region.holidays_key, known, calendars)


def _week_of(calendar: WorkingCalendar) -> tuple[int, ...]:
    week = calendar.week
    sound = isinstance(week, list) and len(week) == 7 and all(day in (0, 1, 2) for day in week)
    if not sound or not any(week):
        raise BadInput(
            _("calendar %(name)s") % {"name": calendar.name},
            _("The week must be seven counts, Monday to Sunday, each 0, 1 or 2, and work on some day."),
        )
    return tuple(week)


def _kept_holidays(region: Region, stored: Mapping[str, Any] | None) -> dict[int, Mapping[str, str]]:
    if not stored or stored.get("holidays_key") != region.holidays_key:
        return {}
    return {int(year): dict(days) for year, days in stored.get("public_holidays", {}).items()}


def _ask_library(region: Region, years: list[int]) -> dict[int, Mapping[str, str]]:
    try:
        found = holidays.country_holidays(region.country, subdiv=region.subdivision or None, years=years)
    except NotImplementedError as unknown:
        raise BadInput(
            _("region %(name)s") % {"name": region.name},
            _("No public holidays are known for %(key)s. Use a country and state such as AU and TAS.")
            % {"key": region.holidays_key},
        ) from unknown
    by_year: dict[int, dict[str, str]] = {year: {} for year in years}
    # Observed days can lie in the year beside the one asked for (1 January on a Saturday); keep those asked.
    for day, name in sorted(found.items()):
        if day.year in by_year:
            by_year[day.year][day.isoformat()] = name
    return dict(by_year)


def half_days_of(span: DaySpan) -> range:
    """The half-days of a span: one half, a day, or all days from first to last."""
    first = clock.as_half_day(span.first_day)
    if span.first_half == "am":
        return range(first, first + 1)
    if span.first_half == "pm":
        return range(first + 1, first + 2)
    last = span.last_day or span.first_day
    if last < span.first_day:
        raise BadInput(
            str(span),
            _("The last day lies before the first. Swap them."),
        )
    return range(first, clock.as_half_day(last) + 2)


def _resolve_one(
    key: str,
    week: tuple[int, ...],
    public_holidays: Mapping[int, Mapping[str, str]],
    region_days: Iterable[RegionDay],
    own_days: Iterable[CalendarDay],
    outdoor: bool,
) -> ResolvedCalendar:
    off: dict[int, str] = {}
    on: set[int] = set()
    for days in public_holidays.values():
        for iso, name in days.items():
            first = clock.as_half_day(dt.date.fromisoformat(iso))
            off[first] = off[first + 1] = name
    for region_day in region_days:
        if region_day.outdoor_only and not outdoor:
            continue
        for half_day in half_days_of(region_day):
            if region_day.worked:
                off.pop(half_day, None)
            else:
                off[half_day] = region_day.why
    for own_day in own_days:
        if own_day.outdoor_only and not outdoor:
            continue
        for half_day in half_days_of(own_day):
            if own_day.worked:
                off.pop(half_day, None)
                on.add(half_day)
            else:
                off[half_day] = own_day.why
                on.discard(half_day)
    # Only what differs from the week is kept: it is stored with every plan and shown as a reason.
    off = {half_day: why for half_day, why in off.items() if half_day % 2 < week[half_day // 2 % 7]}
    extra = frozenset(half_day for half_day in on if not half_day % 2 < week[half_day // 2 % 7])
    return ResolvedCalendar(key, week, off, extra)
