"""A house's network: activities, relationships, visits, delays."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _


class Visit(models.Model):
    """One crew at one house over consecutive activities: unit of messages, bookings and crew demand.

    A visit never spans a hold: all its activities have the same holds before them.
    """

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="visits")
    key = models.SlugField(_("key"), max_length=60)
    name = models.CharField(_("name"), max_length=160)
    trade = models.ForeignKey("people.Trade", on_delete=models.PROTECT, related_name="visits")
    order = models.PositiveSmallIntegerField(_("order"))
    delivery = models.BooleanField(_("delivery"), default=False)
    order_lead = models.PositiveSmallIntegerField(
        _("to be ordered before, in working half-days"), null=True, blank=True
    )
    cut_off = models.PositiveSmallIntegerField(
        _("may be changed until, in working half-days before"), null=True, blank=True
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "key"), name="visit_key_once"),
        ]
        ordering = ("order",)

    def __str__(self) -> str:
        return f"{self.name}, {self.house}"


class Activity(models.Model):
    """A piece of work by one trade. Every point is an activity too (of 0 half-days for witness and photo)."""

    class PointKind(models.TextChoices):
        HOLD = "hold", _("hold point")
        HOLD_FROM_PHOTOGRAPHS = "hold from photographs", _("hold point, from photographs")
        WITNESS = "witness", _("witness point")
        PHOTO = "photo", _("photo point")
        REVIEW = "review", _("review")
        SURVEY = "survey", _("survey")

    HOLDING: ClassVar[tuple[str, ...]] = (PointKind.HOLD, PointKind.HOLD_FROM_PHOTOGRAPHS)

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="activities")
    visit = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.SET_NULL, related_name="activities"
    )
    key = models.SlugField(_("key"), max_length=60)
    name = models.CharField(_("name"), max_length=200)
    trade = models.ForeignKey(
        "people.Trade", null=True, blank=True, on_delete=models.PROTECT, related_name="activities"
    )
    stage = models.CharField(_("stage"), max_length=40, blank=True)
    order = models.PositiveSmallIntegerField(_("order"))
    half_days = models.PositiveSmallIntegerField(_("half-days"))
    is_point = models.BooleanField(_("point"), default=False)
    point_kind = models.CharField(_("kind of point"), max_length=24, choices=PointKind, blank=True)
    walker = models.CharField(_("walked by"), max_length=80, blank=True)
    notice = models.PositiveSmallIntegerField(_("notice in half-days"), null=True, blank=True)
    is_stake = models.BooleanField(_("stake"), default=False)
    outdoor = models.BooleanField(_("outdoors"), default=False)
    not_before = models.IntegerField(_("not before"), null=True, blank=True)
    not_after = models.IntegerField(_("finish wanted by"), null=True, blank=True)
    actual_start = models.IntegerField(
        _("started"), null=True, blank=True, help_text=_("First half-day worked.")
    )
    actual_finish = models.IntegerField(
        _("finished"), null=True, blank=True, help_text=_("End of the last half-day worked (exclusive).")
    )
    remaining = models.PositiveSmallIntegerField(_("half-days left"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "key"), name="activity_key_once"),
            models.CheckConstraint(
                condition=Q(is_point=True) & ~Q(point_kind="") | Q(is_point=False, point_kind=""),
                name="activity_is_a_point_if_it_has_a_kind",
            ),
            models.CheckConstraint(
                condition=Q(actual_finish__isnull=True)
                | Q(actual_start__isnull=False, actual_finish__gte=F("actual_start")),
                name="activity_finished_after_it_started",
            ),
            models.UniqueConstraint(
                fields=("house",), condition=Q(is_stake=True), name="one_stake_per_house"
            ),
        ]
        ordering = ("order",)
        verbose_name_plural = _("activities")

    def __str__(self) -> str:
        return f"{self.name}, {self.house}"

    @property
    def holds(self) -> bool:
        """Whether this point places a hold."""
        return self.point_kind in self.HOLDING


class Relationship(models.Model):
    """Finish-to-start, start-to-start, finish-to-finish or start-to-finish, with a lag.

    The lag of a relationship out of a hold is the word time; a crew's own value replaces it when assigned.
    """

    class Kind(models.TextChoices):
        FS = "FS", _("finish to start")
        SS = "SS", _("start to start")
        FF = "FF", _("finish to finish")
        SF = "SF", _("start to finish")

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="relationships")
    predecessor = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="successor_links")
    successor = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="predecessor_links")
    kind = models.CharField(_("type"), max_length=2, choices=Kind, default=Kind.FS)
    lag = models.SmallIntegerField(_("lag in half-days"), default=0)
    lag_calendar = models.CharField(
        _("lag counted in"), max_length=60, blank=True, help_text=_("Empty: working time of the successor.")
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("predecessor", "successor", "kind"), name="relationship_once"),
            models.CheckConstraint(condition=~Q(predecessor=F("successor")), name="relationship_joins_two"),
        ]

    def __str__(self) -> str:
        return f"{self.predecessor.key} {self.kind} {self.successor.key} {self.lag:+d}"


class LongestGap(models.Model):
    """Work that should not wait longer than this for the next; a warning on the plan, no relationship."""

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="longest_gaps")
    first = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="+")
    then = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="+")
    half_days = models.PositiveSmallIntegerField(_("half-days"))
    why = models.CharField(_("reason"), max_length=200)

    def __str__(self) -> str:
        return f"{self.first.key} to {self.then.key}: {self.half_days}"


class Delay(models.Model):
    """Half-days added to an activity, with the reason; never edited, a wrong one is taken back by another."""

    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="delays")
    half_days = models.SmallIntegerField(_("half-days"))
    why = models.CharField(_("reason"), max_length=200)
    by = models.ForeignKey("people.Person", null=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField(_("reported"))

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(half_days=0), name="delay_is_not_nothing"),
        ]

    def __str__(self) -> str:
        return f"{self.activity.key} {self.half_days:+d}: {self.why}"
