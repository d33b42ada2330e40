"""Concealed details, who installs them, and what covers what: the core relation of the tool."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class Detail(models.Model):
    """Something that will be buried, in one or more places of a house."""

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="details")
    key = models.SlugField(_("key"), max_length=60)
    name = models.CharField(_("name"), max_length=160)
    order = models.PositiveSmallIntegerField(_("order"))
    point = models.ForeignKey(
        "sequence.Activity", null=True, blank=True, on_delete=models.SET_NULL, related_name="details_judged"
    )
    instruction = models.TextField(_("what exactly"), blank=True)
    tells = models.JSONField(
        _("what each trade is told"), default=dict, blank=True, help_text=_("Trade's key: words.")
    )
    caution = models.CharField(_("caution"), max_length=300, blank=True)
    drawing = models.CharField(_("drawing"), max_length=40, blank=True)
    drawing_numbers = models.JSONField(_("numbers of the drawing"), default=dict)
    miss = models.JSONField(
        _("what it costs to leave it"), default=dict, blank=True, help_text=_("Empty: none is reckoned.")
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "key"), name="detail_key_once"),
        ]
        ordering = ("order",)

    def __str__(self) -> str:
        return f"{self.name}, {self.house}"


class Installer(models.Model):
    """Activity A installs detail D."""

    detail = models.ForeignKey(Detail, on_delete=models.CASCADE, related_name="installers")
    activity = models.ForeignKey("sequence.Activity", on_delete=models.CASCADE, related_name="installs")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("detail", "activity"), name="installer_once"),
        ]

    def __str__(self) -> str:
        return f"{self.activity.key} installs {self.detail.key}"


class Covering(models.Model):
    """Activity A buries detail D, which is judged before at its point. `along` covers it while it goes on."""

    detail = models.ForeignKey(Detail, on_delete=models.CASCADE, related_name="coverings")
    activity = models.ForeignKey("sequence.Activity", on_delete=models.CASCADE, related_name="covers")
    point = models.ForeignKey(
        "sequence.Activity", null=True, blank=True, on_delete=models.SET_NULL, related_name="coverings_judged"
    )
    along = models.BooleanField(_("covers only by its end"), default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("detail", "activity"), name="covering_once"),
        ]

    def __str__(self) -> str:
        return f"{self.activity.key} covers {self.detail.key}"


class DetailPlace(models.Model):
    """Where in this house the detail is."""

    detail = models.ForeignKey(Detail, on_delete=models.CASCADE, related_name="detail_places")
    place = models.ForeignKey("sequence.Place", on_delete=models.CASCADE, related_name="detail_places")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("detail", "place"), name="detail_place_once"),
        ]

    def __str__(self) -> str:
        return f"{self.detail.key} at {self.place}"
