"""Releases, concessions and re-openings. Rows are only added."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from coordination.people.models import Person


def is_name_of(name: str, person: Person) -> bool:
    """Whether a name is the person's own, however it is spaced and in whichever case."""
    first, second = (" ".join(one.split()).casefold() for one in (name, person.name))
    return first == second


class Release(models.Model):
    """The signed permission to go past a point, whole or in part (one section)."""

    id = models.UUIDField(primary_key=True, editable=False)
    inspection = models.ForeignKey(
        "hold_points.Inspection", on_delete=models.PROTECT, related_name="releases"
    )
    section = models.CharField(_("section"), max_length=40, blank=True, help_text=_("Empty: the whole."))
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="releases")
    name = models.CharField(_("name as signed"), max_length=120)
    role = models.CharField(_("role as signed"), max_length=20)
    signature = models.JSONField(
        _("drawn signature"), help_text=_("Strokes: lists of [x, y] in a 600 by 200 box.")
    )
    at = models.DateTimeField(_("signed"))
    received_at = models.DateTimeField(_("on the record"))
    device = models.CharField(_("device"), max_length=120, blank=True)

    class Meta:
        ordering = ("received_at",)

    def __str__(self) -> str:
        return f"{self.inspection}: {self.name}"

    @property
    def signer(self) -> str:
        """Who signed: the person, and beside it the name as signed where that is another.

        Nobody signs in another name any more; but what was signed stays as it was, and people change theirs.
        """
        if is_name_of(self.name, self.by):
            return self.by.name
        return gettext("%(name)s, signed as %(signed)s") % {"name": self.by.name, "signed": self.name}


class Concession(models.Model):
    """Release in spite of a named nonconformity, by a named authority, with a follow-up act."""

    nonconformity = models.OneToOneField(
        "hold_points.Nonconformity", on_delete=models.PROTECT, related_name="concession"
    )
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="concessions")
    authority = models.CharField(_("authority"), max_length=120)
    reason = models.CharField(_("reason"), max_length=300)
    follow_up = models.CharField(_("follow-up act"), max_length=200)
    follow_up_on = models.DateField(_("follow-up on"))
    follow_up_owner = models.CharField(_("who follows up"), max_length=120)
    at = models.DateTimeField(_("given"))

    def __str__(self) -> str:
        return f"{self.nonconformity}: {self.authority}"


class Reopening(models.Model):
    """The whole hold closes again; only the checks in the named places open."""

    inspection = models.ForeignKey(
        "hold_points.Inspection", on_delete=models.PROTECT, related_name="reopenings"
    )
    places = models.ManyToManyField("sequence.Place", related_name="reopenings")
    by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="reopenings"
    )
    crew = models.ForeignKey(
        "people.Crew", null=True, blank=True, on_delete=models.PROTECT, related_name="reopenings"
    )
    reason = models.CharField(_("reason"), max_length=300)
    at = models.DateTimeField(_("re-opened"))

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.inspection}: {self.reason}"
