"""The dumb fact on a point: it may not be passed. Only a release in the record lifts it (see sql/)."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Hold(models.Model):
    """Set-out places it; whoever judges the point lifts it, in the transaction of the signature."""

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="holds")
    point = models.OneToOneField("sequence.Activity", on_delete=models.CASCADE, related_name="hold")
    label = models.CharField(_("label"), max_length=120)
    page = models.CharField(_("page to open"), max_length=200, blank=True)
    lifted_at = models.DateTimeField(_("lifted"), null=True, blank=True)
    lifted_by = models.UUIDField(_("lifted by release"), null=True, blank=True)
    set_aside_at = models.DateTimeField(_("set aside"), null=True, blank=True)
    set_aside_by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    set_aside_why = models.CharField(_("why it is set aside"), max_length=200, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True, lifted_by__isnull=True)
                | Q(lifted_at__isnull=False, lifted_by__isnull=False),
                name="hold_lifted_by_a_release",
            ),
            models.CheckConstraint(
                condition=Q(set_aside_at__isnull=True, set_aside_by__isnull=True, set_aside_why="")
                | Q(set_aside_at__isnull=False, set_aside_by__isnull=False) & ~Q(set_aside_why=""),
                name="hold_set_aside_with_name_and_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}, {self.house}"

    @property
    def is_open(self) -> bool:
        """Whether the hold still stops what follows."""
        return self.lifted_at is None and self.set_aside_at is None


class HoldBefore(models.Model):
    """Hold H lies before visit V: the stored closure, rebuilt in the transaction that changes the network."""

    hold = models.ForeignKey(Hold, on_delete=models.CASCADE, related_name="before")
    visit = models.ForeignKey("sequence.Visit", on_delete=models.CASCADE, related_name="holds_before")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("hold", "visit"), name="hold_before_once"),
        ]

    def __str__(self) -> str:
        return f"{self.hold.label} before {self.visit.name}"
