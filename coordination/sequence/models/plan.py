"""Plans: one computed set of dates with the reason of each; revisions are kept."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class Plan(models.Model):
    """A revision of a house's dates and what caused it. Resolved non-working days are stored with it."""

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="plans")
    number = models.PositiveIntegerField(_("revision"))
    at = models.DateTimeField(_("computed"))
    recorded_up_to = models.IntegerField(_("work recorded up to"))
    cause = models.CharField(_("cause"), max_length=200)
    by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    finish = models.IntegerField(_("finish of the house, exclusive"))
    stake_start = models.IntegerField(_("start of the linings"), null=True, blank=True)
    driving_chain = models.JSONField(_("driving chain of the house's end"), default=list)
    stake_chain = models.JSONField(_("driving chain of the linings"), default=list)
    warnings = models.JSONField(_("warnings"), default=list)
    calendars = models.JSONField(_("resolved days"), default=dict)
    moved = models.JSONField(_("what moved against the revision before"), default=list)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "number"), name="plan_number_once"),
        ]
        ordering = ("-number",)

    def __str__(self) -> str:
        return f"{self.house}, revision {self.number}"


class PlannedDate(models.Model):
    """Dates of one activity in one plan: half-days since 1970-01-05, finish exclusive.

    Floats are counted in working half-days of the activity.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="dates")
    activity = models.ForeignKey("sequence.Activity", on_delete=models.CASCADE, related_name="planned")
    es = models.IntegerField()
    ef = models.IntegerField()
    ls = models.IntegerField()
    lf = models.IntegerField()
    start = models.IntegerField(_("first half-day worked"))
    last = models.IntegerField(_("last half-day worked"))
    total_float = models.IntegerField(_("float to the end"), null=True)
    free_float = models.IntegerField(_("free float"), null=True)
    float_to_stake = models.IntegerField(_("float to the linings"), null=True)
    critical = models.BooleanField(_("critical"))
    reason = models.JSONField(_("why then"), default=dict)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("plan", "activity"), name="planned_once"),
        ]

    def __str__(self) -> str:
        return f"{self.activity_id} {self.es}-{self.ef}"


class PlannedWindow(models.Model):
    """Access window of one detail in one plan; half-days, slacks in working half-days."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="windows")
    detail = models.ForeignKey("sequence.Detail", on_delete=models.CASCADE, related_name="windows")
    opens = models.IntegerField(_("opens"))
    due = models.IntegerField(_("due: its walk"))
    buried = models.IntegerField(_("buried"))
    put_right_until = models.IntegerField(_("put right until"))
    slack_due = models.IntegerField(_("half-days to the walk"))
    slack_buried = models.IntegerField(_("half-days to burial"))
    inverted = models.BooleanField(_("out of order"), default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("plan", "detail"), name="window_once"),
        ]

    def __str__(self) -> str:
        return f"{self.detail_id} {self.opens}-{self.buried}"


class Change(models.Model):
    """House diary of acts that changed something: append-only, who, when, what, why (see sql/).

    Whoever stands in it is not deleted, and neither is the house: sign-in and crews are switched off instead.
    """

    house = models.ForeignKey("sequence.House", on_delete=models.PROTECT, related_name="changes")
    at = models.DateTimeField(_("when"))
    by = models.ForeignKey("people.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    crew = models.ForeignKey("people.Crew", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(_("what"), max_length=40)
    about = models.CharField(_("about"), max_length=80, blank=True)
    words = models.CharField(_("in words"), max_length=300)
    facts = models.JSONField(default=dict)

    class Meta:
        ordering = ("-at", "-pk")

    def __str__(self) -> str:
        return self.words
