"""Regions and working calendars: when work is done, in half-days."""

from __future__ import annotations

from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

HALVES = (("", _("whole day")), ("am", _("morning")), ("pm", _("afternoon")))


def five_day_week() -> list[int]:
    """Both half-days of Monday to Friday."""
    return [2, 2, 2, 2, 2, 0, 0]


class Region(models.Model):
    """A part of the country with its own holidays: country and state, plus days added and removed by hand.

    The statewide holidays come from the `holidays` library; it knows no regional days, so they are rows here.
    """

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="regions")
    key = models.SlugField(_("key"))
    name = models.CharField(_("name"), max_length=80)
    country = models.CharField(_("country"), max_length=2, default="AU")
    subdivision = models.CharField(_("state or territory"), max_length=12, default="TAS", blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "key"), name="region_key_once"),
        ]
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name

    @property
    def holidays_key(self) -> str:
        """Name of the statewide holidays: 'AU-TAS', or 'AU' without a state."""
        return f"{self.country}-{self.subdivision}" if self.subdivision else self.country


class DaySpan(models.Model):
    """A run of half-days that are worked or not, against the rule of the week."""

    first_day = models.DateField(_("from"))
    first_half = models.CharField(_("half"), max_length=2, choices=HALVES, blank=True)
    last_day = models.DateField(_("until"), null=True, blank=True, help_text=_("Empty: the same day."))
    worked = models.BooleanField(_("worked"), default=False)
    outdoor_only = models.BooleanField(_("outdoor work only"), default=False)
    why = models.CharField(_("reason"), max_length=120)

    class Meta:
        abstract = True
        ordering = ("first_day",)

    def __str__(self) -> str:
        return f"{self.first_day} {self.why}"

    def clean(self) -> None:
        """Refuse a span that ends before it starts, or a half named for several days."""
        if self.last_day and self.last_day < self.first_day:
            raise ValidationError({"last_day": _("The last day lies before the first. Swap them.")})
        if self.first_half and self.last_day and self.last_day != self.first_day:
            raise ValidationError(
                {"first_half": _("A morning or afternoon can be named for a single day only.")}
            )


class RegionDay(DaySpan):
    """A region's own holiday (not worked), working day, or rain half-day."""

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="days")


class WorkingCalendar(models.Model):
    """A weekly pattern with exceptions. Crews and builders use it; a public one belongs to no builder.

    `week` counts the working half-days of Monday to Sunday: 0, 1 (morning only) or 2.
    """

    builder = models.ForeignKey(
        "people.Builder", null=True, blank=True, on_delete=models.CASCADE, related_name="calendars"
    )
    key = models.SlugField(_("key"))
    name = models.CharField(_("name"), max_length=80)
    week = models.JSONField(_("week"), default=five_day_week)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "key"), name="calendar_key_once"),
            models.UniqueConstraint(
                fields=("key",), condition=models.Q(builder__isnull=True), name="public_calendar_key_once"
            ),
        ]
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a week that is not seven counts of 0, 1 or 2, or that never works."""
        week = self.week
        if not (isinstance(week, list) and len(week) == 7 and all(day in (0, 1, 2) for day in week)):
            raise ValidationError({"week": _("Give seven counts, Monday to Sunday, each 0, 1 or 2.")})
        if not any(week):
            raise ValidationError({"week": _("A calendar without working time can plan nothing. Add a day.")})


class CalendarDay(DaySpan):
    """A shutdown, a rostered day off or an extra working day of one calendar."""

    calendar = models.ForeignKey(WorkingCalendar, on_delete=models.CASCADE, related_name="days")
