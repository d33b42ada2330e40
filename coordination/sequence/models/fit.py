"""Fits to the crews: a computation over many houses, what it would move, the starts that stand from it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Fit(models.Model):
    """One computation of dates that the crews can keep, over houses of one builder.

    A row before it is a task: a worker claims it, says how far it is and whether it still lives. Nothing in a
    house changes before a planner applies the result.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting for the worker")
        COMPUTING = "computing", _("being computed")
        READY = "ready", _("to be looked at")
        APPLIED = "applied", _("applied")
        UNDONE = "undone", _("taken back")
        LEFT = "left", _("left as it was")
        STOPPED = "stopped", _("stopped")
        FAILED = "failed", _("without result")

    LIVE: ClassVar[tuple[str, ...]] = (State.WAITING, State.COMPUTING)

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="fits")
    by = models.ForeignKey("people.Person", null=True, on_delete=models.SET_NULL, related_name="+")
    asked_at = models.DateTimeField(_("asked"))
    state = models.CharField(_("state"), max_length=12, choices=State, default=State.WAITING)
    seconds = models.PositiveSmallIntegerField(_("time to search, in seconds"), default=20)
    worker = models.CharField(max_length=64, blank=True)
    heard_at = models.DateTimeField(_("last heard of"))
    stop_asked_at = models.DateTimeField(_("asked to stop"), null=True, blank=True)
    done = models.PositiveSmallIntegerField(_("done, in hundredths"), default=0)
    progress = models.CharField(_("what is being done"), max_length=200, blank=True)
    words = models.CharField(_("why there is no result"), max_length=500, blank=True)
    ended_at = models.DateTimeField(_("computed"), null=True, blank=True)
    load_stamp = models.CharField(max_length=64, blank=True)
    result = models.JSONField(_("the whole in figures"), default=dict)
    decided_at = models.DateTimeField(_("decided"), null=True, blank=True)
    decided_by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    undone_at = models.DateTimeField(_("taken back"), null=True, blank=True)
    undone_by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=("builder",),
                condition=Q(state__in=("waiting", "computing")),
                name="one_fit_at_a_time",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=("applied", "undone")) | Q(decided_at__isnull=False),
                name="fit_applied_has_a_moment",
            ),
        ]
        ordering = ("-asked_at", "-pk")

    def __str__(self) -> str:
        return f"{self.builder} {self.asked_at:%Y-%m-%d %H:%M}: {self.state}"


class FittedHouse(models.Model):
    """One house of a fit: the version it was computed from, what would move, what stood before it.

    `revision` and `last_change` are the number of the plan and the last line of the diary that were read;
    while both are still the latest, the result speaks of the house as it is.
    """

    class Weight(models.TextChoices):
        FIRST = "first", _("goes first")
        USUAL = "usual", _("as usual")
        WAITS = "waits", _("can wait")

    fit = models.ForeignKey(Fit, on_delete=models.CASCADE, related_name="houses")
    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="fits")
    weight = models.CharField(_("which goes first"), max_length=8, choices=Weight, default=Weight.USUAL)
    revision = models.PositiveIntegerField(_("revision of the plan"), null=True, blank=True)
    last_change = models.BigIntegerField(_("last line of the diary"), null=True, blank=True)
    result = models.JSONField(_("what would move"), default=dict)
    before = models.JSONField(_("fitted starts before"), default=list)
    applied_change = models.BigIntegerField(_("last line of the diary when applied"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("fit", "house"), name="fitted_house_once"),
        ]
        ordering = ("house__name",)

    def __str__(self) -> str:
        return f"{self.house} in {self.fit_id}"


class FittedStart(models.Model):
    """An activity does not start before this half-day, because of its crew, or because it was not reported as
    begun when the dates were fitted. From an applied fit.

    It counts while the crew still has the visit (without crew: whoever has it) and the work has not begun; it
    stands until another fit, or a planner, takes it away.
    """

    class Cause(models.TextChoices):
        BUSY = "busy", _("the crew is elsewhere")
        TOLD = "told", _("the crew was told this date")
        PASSED = "passed", _("it was not reported as begun by then")

    activity = models.OneToOneField(
        "sequence.Activity", on_delete=models.CASCADE, related_name="fitted_start"
    )
    fit = models.ForeignKey(Fit, null=True, on_delete=models.SET_NULL, related_name="starts")
    crew = models.ForeignKey(
        "people.Crew", null=True, blank=True, on_delete=models.CASCADE, related_name="fitted_starts"
    )
    not_before = models.IntegerField(_("not before"))
    cause = models.CharField(_("because"), max_length=8, choices=Cause, default=Cause.BUSY)
    where = models.CharField(_("where the crew is"), max_length=120, blank=True)
    until = models.IntegerField(_("last half-day there"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__lt=models.F("not_before")),
                name="fitted_start_after_the_crew_is_free",
            ),
            models.CheckConstraint(
                condition=Q(crew__isnull=False) | Q(cause="passed"),
                name="fitted_start_names_its_crew",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.activity_id} not before {self.not_before}"
