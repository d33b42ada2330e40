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
