"""Bookings of crews for visits, what they were told, and time reserved with a crew."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _


class ReservedTime(models.Model):
    """Units of a crew agreed for one builder over a run of half-days, no house named; may be agreed early."""

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="reserved_times")
    crew = models.ForeignKey("people.Crew", on_delete=models.CASCADE, related_name="reserved_times")
    first = models.IntegerField(_("from half-day"))
    end = models.IntegerField(_("to half-day, exclusive"))
    units = models.PositiveSmallIntegerField(_("houses at once"), default=1)
    agreed_at = models.DateTimeField(_("agreed"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(end__gt=F("first")), name="reserved_time_has_length"),
            models.CheckConstraint(condition=Q(units__gte=1), name="reserved_time_has_units"),
        ]

    def __str__(self) -> str:
        return f"{self.crew} {self.first}-{self.end}"


class Booking(models.Model):
    """A crew for a visit. Firm only when every hold before the visit is lifted or set aside (see sql/)."""

    class State(models.TextChoices):
        ASKED = "asked", _("asked")
        PENCILLED = "pencilled", _("pencilled")
        FIRM = "firm", _("firm")
        UNDER_WAY = "under way", _("under way")
        DONE = "done", _("done")
        DECLINED = "declined", _("declined")
        STOOD_DOWN = "stood down", _("stood down")

    LIVE: ClassVar[tuple[str, ...]] = (
        State.ASKED,
        State.PENCILLED,
        State.FIRM,
        State.UNDER_WAY,
        State.DONE,
    )

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="bookings")
    visit = models.ForeignKey("sequence.Visit", on_delete=models.CASCADE, related_name="bookings")
    crew = models.ForeignKey("people.Crew", on_delete=models.PROTECT, related_name="bookings")
    state = models.CharField(_("state"), max_length=12, choices=State, default=State.ASKED)
    confirmed_at = models.DateTimeField(_("confirmed by the crew"), null=True, blank=True)
    ready_at = models.DateTimeField(_("called ready for the walk"), null=True, blank=True)
    told_start = models.IntegerField(_("told start"), null=True, blank=True)
    told_finish = models.IntegerField(_("told finish, exclusive"), null=True, blank=True)
    on_site = models.BooleanField(_("delivered, on site"), default=False)
    went_past_hold = models.BooleanField(_("went past a hold point"), default=False)
    fell_back_at = models.DateTimeField(_("fell back to pencilled"), null=True, blank=True)
    reserved_time = models.ForeignKey(
        ReservedTime, null=True, blank=True, on_delete=models.SET_NULL, related_name="bookings"
    )
    uid = models.UUIDField(_("calendar id"), default=uuid.uuid4, unique=True, editable=False)
    sequence = models.PositiveIntegerField(_("calendar sequence"), default=0)
    stand_down_reason = models.CharField(_("reason"), max_length=200, blank=True)
    made_at = models.DateTimeField(_("made"))
    changed_at = models.DateTimeField(_("changed"))

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=("visit",),
                condition=Q(state__in=("asked", "pencilled", "firm", "under way", "done")),
                name="one_live_booking_per_visit",
            ),
            models.CheckConstraint(
                condition=Q(told_start__isnull=True, told_finish__isnull=True)
                | Q(told_start__isnull=False, told_finish__isnull=False, told_finish__gte=F("told_start")),
                name="told_dates_are_a_pair",
            ),
            models.CheckConstraint(
                condition=~Q(state="firm") | Q(told_start__isnull=False), name="firm_booking_has_a_told_date"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crew} for {self.visit}: {self.state}"


class ToldDate(models.Model):
    """What a crew was told and when; rows are only added (see sql/)."""

    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="told_dates")
    start = models.IntegerField(_("start"))
    finish = models.IntegerField(_("finish, exclusive"))
    state = models.CharField(_("state told"), max_length=12)
    at = models.DateTimeField(_("told"))
    why = models.CharField(_("reason"), max_length=200, blank=True)

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.booking_id} {self.start}-{self.finish}"
