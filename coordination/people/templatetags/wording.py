"""Dates and lengths in the trade's words, for templates."""

from __future__ import annotations

import datetime as dt

from django import template
from django.template.defaultfilters import length as count_length

from coordination import clock

register = template.Library()


@register.filter
def half_day(value: int | None) -> str:
    """'Tue 14 Apr, morning'."""
    return clock.say_half_day(value)


@register.filter
def last_half_day(value: int | None) -> str:
    """The last half-day worked before an exclusive finish."""
    return clock.say_half_day(None if value is None else value - 1)


@register.filter
def span(start: int, finish: int) -> str:
    """From a half-day to an exclusive finish; one date when it is one half-day."""
    return clock.say_dates(start, finish)


@register.filter
def day(value: int | dt.date | None) -> str:
    """'Tue 14 Apr' of a half-day number or a date."""
    if value is None:
        return clock.say_half_day(None)
    return clock.say_day(clock.as_half_day(value) if isinstance(value, dt.date) else value)


@register.filter
def moment(value: dt.datetime | None, zone_name: str | None = None) -> str:
    """'Tue 14 Apr, 7:40'."""
    return clock.say_moment(value, zone_name)


@register.filter
def length(value: object) -> str | int:
    """'3 days', '1 half-day' of half-days; of a list its length, as the built-in filter of that name says."""
    if value is None:
        return ""
    return clock.say_length(value) if isinstance(value, int) else count_length(value)
