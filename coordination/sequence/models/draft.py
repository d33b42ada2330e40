"""A sequence on its way: the text that somebody edits before it is published as the next version."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class SequenceDraft(models.Model):
    """One draft for each key of a builder; `revision` rises with each save: none is overwritten."""

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="sequence_drafts")
    key = models.SlugField(_("key"), max_length=60)
    name = models.CharField(_("name"), max_length=160)
    text = models.TextField(_("text"))
    based_on = models.ForeignKey(
        "sequence.SequenceVersion", null=True, blank=True, on_delete=models.PROTECT, related_name="drafts"
    )
    revision = models.PositiveIntegerField(_("saves"), default=1)
    saved_at = models.DateTimeField(_("saved"))
    by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "key"), name="sequence_draft_once"),
        ]
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name
