"""What a licensed trade states of its own work: recorded, never judged."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Statement(models.Model):
    """A trade's statement for one check; append-only. The latest of a crew is shown, the former stay."""

    check_stated = models.ForeignKey("hold_points.Check", on_delete=models.PROTECT, related_name="statements")
    runs = models.JSONField(_("runs"), help_text=_("Each with 'run', 'contact' and 'rcd', as stated."))
    name = models.CharField(_("name"), max_length=120)
    licence = models.CharField(_("licence number"), max_length=60)
    note = models.CharField(_("note"), max_length=500, blank=True)
    crew = models.ForeignKey("people.Crew", on_delete=models.PROTECT, related_name="statements")
    received_at = models.DateTimeField(_("on the record"))

    class Meta:
        ordering = ("received_at", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(licence=""), name="statement_names_who_and_licence"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_stated}: {self.name}"
