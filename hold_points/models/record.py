"""The record: an append-only ledger per house, each entry chained to the one before by its hash."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class RecordEntry(models.Model):
    """One entry. `text` is the canonical JSON that was hashed; UPDATE and DELETE are refused (see sql/)."""

    house = models.ForeignKey("sequence.House", on_delete=models.PROTECT, related_name="record")
    n = models.PositiveIntegerField(_("number"))
    kind = models.CharField(_("kind"), max_length=24)
    text = models.TextField(_("canonical text"))
    previous = models.CharField(_("hash of the entry before"), max_length=64)
    hash = models.CharField(_("hash"), max_length=64)
    at = models.DateTimeField(_("recorded"))

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "n"), name="record_number_once"),
            models.UniqueConstraint(fields=("house", "hash"), name="record_hash_once"),
        ]
        ordering = ("house", "n")

    def __str__(self) -> str:
        return f"{self.house} {self.n} {self.kind}"


class NightRound(models.Model):
    """The once-a-day round of a builder: the holds counted anew, the heads of all records sealed.

    The unique key is the promise that it is done once: whoever makes the row does it, in one transaction.
    """

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="night_rounds")
    day = models.DateField(_("day"))
    at = models.DateTimeField(_("made"))
    differences = models.JSONField(
        _("differences"), default=list, help_text=_("What the recount of the holds found; empty is good.")
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "day"), name="night_round_once"),
        ]

    def __str__(self) -> str:
        return f"{self.builder} {self.day}"


class Seal(models.Model):
    """The chain over all houses of a builder: one entry names the head of every record, and the seal before.

    `text` is canonical JSON; UPDATE and DELETE are refused (see sql/). Sent by mail when it is made: a record
    that was cut off or written anew afterwards does not fit what others hold in their hands.
    """

    builder = models.ForeignKey("people.Builder", on_delete=models.PROTECT, related_name="seals")
    n = models.PositiveIntegerField(_("number"))
    text = models.TextField(_("canonical text"))
    previous = models.CharField(_("hash of the seal before"), max_length=64)
    hash = models.CharField(_("hash"), max_length=64)
    at = models.DateTimeField(_("sealed"))

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "n"), name="seal_number_once"),
        ]
        ordering = ("builder", "n")

    def __str__(self) -> str:
        return f"{self.builder} {self.n}"
