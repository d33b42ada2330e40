"""An inspection of one point, its checks in their versions, and the crews' calls."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Inspection(models.Model):
    """What is kept for one point of one house."""

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="inspections")
    point = models.OneToOneField("sequence.Activity", on_delete=models.CASCADE, related_name="inspection")
    sections = models.JSONField(
        _("sections"), default=list, help_text=_("Parts that may be released singly.")
    )
    content = models.TextField(_("content"), blank=True)
    notice_given_at = models.DateTimeField(_("notice given"), null=True, blank=True)
    notice_until = models.IntegerField(
        _("notice runs until"), null=True, blank=True, help_text=_("Last half-day to attend a witness point.")
    )
    lapsed_at = models.DateTimeField(_("lapsed"), null=True, blank=True)
    absent = models.CharField(_("who did not attend"), max_length=120, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(notice_given_at__isnull=True, notice_until__isnull=True)
                | Q(notice_given_at__isnull=False, notice_until__isnull=False),
                name="notice_has_an_end",
            ),
            models.CheckConstraint(
                condition=Q(lapsed_at__isnull=True, absent="") | Q(lapsed_at__isnull=False) & ~Q(absent=""),
                name="lapse_names_who_was_absent",
            ),
        ]

    def __str__(self) -> str:
        return str(self.point)


class Call(models.Model):
    """A crew says 'ready for the walk'."""

    inspection = models.ForeignKey(Inspection, on_delete=models.CASCADE, related_name="calls")
    crew = models.ForeignKey("people.Crew", on_delete=models.PROTECT, related_name="calls")
    at = models.DateTimeField(_("called"))
    note = models.CharField(_("note"), max_length=300, blank=True)

    def __str__(self) -> str:
        return f"{self.crew} calls {self.inspection}"


class Check(models.Model):
    """A criterion of a point in one version; a changed limit makes a new version, the old one stays."""

    class Kind(models.TextChoices):
        SEEN = "seen", _("seen")
        COUNTED = "counted", _("counted")
        MEASURED = "measured", _("measured")
        DOCUMENT = "document", _("document")

    class Compare(models.TextChoices):
        AT_LEAST = "at least", _("at least")
        AT_MOST = "at most", _("at most")
        EQUALS = "equals", _("exactly")
        BETWEEN = "between", _("between")

    class Evidence(models.TextChoices):
        NONE = "none", _("none")
        PHOTO = "photo", _("photograph")
        TAPE = "photo with tape", _("photograph with the tape in it")
        DOCUMENT = "document", _("document")
        STATEMENT = "statement", _("the trade's own statement")

    inspection = models.ForeignKey(Inspection, on_delete=models.CASCADE, related_name="checks")
    key = models.SlugField(_("key"), max_length=80)
    version = models.PositiveSmallIntegerField(_("version"), default=1)
    detail = models.ForeignKey(
        "sequence.Detail", null=True, blank=True, on_delete=models.CASCADE, related_name="checks"
    )
    place = models.ForeignKey(
        "sequence.Place", null=True, blank=True, on_delete=models.CASCADE, related_name="checks"
    )
    section = models.CharField(_("section"), max_length=40, blank=True)
    order = models.PositiveIntegerField(_("order"), default=0)
    text = models.CharField(_("what is looked for"), max_length=300)
    kind = models.CharField(_("kind"), max_length=10, choices=Kind)
    unit = models.CharField(_("unit"), max_length=20, blank=True)
    compare = models.CharField(_("compared"), max_length=10, choices=Compare, blank=True)
    limit = models.FloatField(_("limit"), null=True, blank=True)
    limit_high = models.FloatField(_("upper limit"), null=True, blank=True)
    why_limit = models.CharField(_("why this limit in this house"), max_length=300, blank=True)
    source = models.CharField(_("source"), max_length=300, blank=True)
    applies = models.CharField(_("applies where"), max_length=200, blank=True)
    sure = models.CharField(_("how sure"), max_length=40, blank=True)
    evidence = models.CharField(_("evidence"), max_length=16, choices=Evidence, default=Evidence.NONE)
    sample = models.JSONField(_("sampling"), default=dict, help_text=_("Empty: every one."))
    safety = models.BooleanField(_("safety"), default=False)
    caution = models.CharField(_("caution"), max_length=300, blank=True)
    remote_closing = models.BooleanField(_("may be closed from a photograph"), default=False)
    drawing = models.CharField(_("drawing"), max_length=40, blank=True)
    drawing_numbers = models.JSONField(default=dict)
    found_on_site = models.BooleanField(
        _("found on site"), default=False, help_text=_("The set-out did not foresee it there.")
    )
    withdrawn_at = models.DateTimeField(_("replaced by a later version"), null=True, blank=True)

    class Meta:
        # Two rules each, with and without a place: a database may count two empty places as different.
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=("inspection", "key", "place", "version"), name="check_version_once"
            ),
            models.UniqueConstraint(
                fields=("inspection", "key", "version"),
                condition=Q(place__isnull=True),
                name="check_version_once_per_house",
            ),
            models.UniqueConstraint(
                fields=("inspection", "key", "place"),
                condition=Q(withdrawn_at__isnull=True),
                name="one_current_version_of_a_check",
            ),
            models.UniqueConstraint(
                fields=("inspection", "key"),
                condition=Q(withdrawn_at__isnull=True, place__isnull=True),
                name="one_current_version_per_house",
            ),
        ]
        ordering = ("order", "pk")

    def __str__(self) -> str:
        return self.text
