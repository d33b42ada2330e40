"""The thing being built, its places, and the version of the sequence that it was set out from."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class SequenceVersion(models.Model):
    """A published version of a standard sequence: the TOML text itself, never edited afterwards."""

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="sequence_versions")
    key = models.SlugField(_("key"), max_length=60)
    number = models.PositiveIntegerField(_("version"))
    name = models.CharField(_("name"), max_length=160)
    text = models.TextField(_("text"))
    sha256 = models.CharField(max_length=64)
    published_at = models.DateTimeField(_("published"))

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "key", "number"), name="sequence_version_once"),
        ]
        ordering = ("name", "-number")

    def __str__(self) -> str:
        return f"{self.name}, {self.number}"


class House(models.Model):
    """A house of one builder. Its row is the lock: whoever changes holds or bookings locks it first."""

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="houses")
    sequence_version = models.ForeignKey(SequenceVersion, on_delete=models.PROTECT, related_name="houses")
    region = models.ForeignKey("people.Region", on_delete=models.PROTECT, related_name="houses")
    calendar = models.ForeignKey(
        "people.WorkingCalendar",
        on_delete=models.PROTECT,
        related_name="houses",
        help_text=_("Used by work that has no crew yet."),
    )
    supervisor = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.SET_NULL, related_name="houses_supervised"
    )
    key = models.SlugField(_("key"), max_length=60)
    name = models.CharField(
        _("name"), max_length=120, help_text=_("As it is called on site: 'Lot 7, Saltbush Rise'.")
    )
    address = models.CharField(_("address"), max_length=200, blank=True)
    features = models.JSONField(_("features"), default=dict)
    options = models.JSONField(_("options"), default=list)
    starts_on = models.DateField(_("starts not before"))
    required_by = models.DateField(_("wanted by"), null=True, blank=True)
    recorded_up_to = models.IntegerField(
        _("work recorded up to"), help_text=_("Half-day; nothing unstarted is planned before it.")
    )
    keys_at = models.CharField(_("keys"), max_length=160, blank=True)
    access = models.CharField(_("access"), max_length=160, blank=True)
    start_times = models.CharField(_("start times"), max_length=160, blank=True)
    parking = models.CharField(_("parking"), max_length=160, blank=True)
    hazards = models.CharField(_("hazards on site"), max_length=160, blank=True)
    power_and_toilet = models.CharField(_("power and toilet"), max_length=160, blank=True)
    created_at = models.DateTimeField(_("set out"))
    finished_at = models.DateTimeField(_("handed over"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "key"), name="house_key_once"),
        ]
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Place(models.Model):
    """A room, an outside wall, a roof side; each in a zone and in walking order."""

    house = models.ForeignKey(House, on_delete=models.CASCADE, related_name="places")
    key = models.SlugField(_("key"), max_length=60)
    name = models.CharField(_("name"), max_length=80)
    kind = models.CharField(_("kind"), max_length=20, default="room")
    zone = models.CharField(_("zone"), max_length=20, default="ground")
    order = models.PositiveSmallIntegerField(_("walking order"))
    attributes = models.JSONField(_("attributes"), default=dict, help_text=_("wet, external, corners, ..."))

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "key"), name="place_key_once"),
        ]
        ordering = ("order", "key")

    def __str__(self) -> str:
        return self.name
