"""Forecasts of houses, the terms they are made on, and the promises that were given and scored."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

PERCENT = (MinValueValidator(0), MaxValueValidator(95))


class ForecastTerms(models.Model):
    """How sure a builder wants to be, and what is assumed where nothing was learnt yet.

    The assumptions are common practice, no measurement; a crew's own works and starts replace those about
    crews as they come in.
    """

    builder = models.OneToOneField("people.Builder", on_delete=models.CASCADE, related_name="forecast_terms")
    confidence = models.PositiveSmallIntegerField(
        _("how sure a promise is to be, in per cent"),
        default=80,
        validators=(MinValueValidator(50), MaxValueValidator(95)),
        help_text=_("Of a hundred dates promised, so many are to be kept. 80 is usual."),
    )
    late_chance = models.PositiveSmallIntegerField(
        _("visits to which a crew comes late, in per cent"), default=30, validators=PERCENT
    )
    late_least = models.PositiveSmallIntegerField(_("then at least so many half-days"), default=1)
    late_most = models.PositiveSmallIntegerField(_("and at most"), default=6)
    fails_chance = models.PositiveSmallIntegerField(
        _("walks that fail, in per cent"), default=30, validators=PERCENT
    )
    fails_half_days = models.PositiveSmallIntegerField(_("half-days to put it right"), default=3)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(late_most__gte=F("late_least")), name="late_least_first"),
            models.CheckConstraint(
                condition=Q(confidence__gte=50, confidence__lte=95), name="confidence_from_50_to_95"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.builder}: {self.confidence} %"


class HouseForecast(models.Model):
    """The latest forecast of a house; it speaks of the plan with this number and is stale beside a newer.

    A row is claimed before it is computed (`tried_at`), so that two workers do not both do it.
    """

    house = models.OneToOneField("sequence.House", on_delete=models.CASCADE, related_name="forecast")
    revision = models.PositiveIntegerField(_("revision of the plan"), null=True, blank=True)
    asked_at = models.DateTimeField(_("asked"), null=True, blank=True)
    tried_at = models.DateTimeField(_("last begun"), null=True, blank=True)
    computed_at = models.DateTimeField(_("computed"), null=True, blank=True)
    confidence = models.PositiveSmallIntegerField(_("confidence, per cent"), default=80)
    draws = models.PositiveIntegerField(default=0)
    finish_likely = models.IntegerField(_("finish in half of all draws, exclusive"), null=True, blank=True)
    finish_sure = models.IntegerField(_("finish at the confidence, exclusive"), null=True, blank=True)
    result = models.JSONField(_("dates behind holds, visits, why so late"), default=dict)
    words = models.CharField(_("why there is none"), max_length=300, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(computed_at__isnull=True) | Q(revision__isnull=False),
                name="forecast_names_its_plan",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.house}, revision {self.revision}"


class GivenPromise(models.Model):
    """A date told to a crew, how sure it was then, and what came of it.

    Kept is a promise when the house was ready for the crew by the half-day promised, whatever day the crew
    came. A date moved later is a new promise; the old one stays and is scored too.
    """

    booking = models.ForeignKey("sequence.Booking", on_delete=models.CASCADE, related_name="promises")
    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="promises")
    crew = models.ForeignKey("people.Crew", on_delete=models.CASCADE, related_name="promises")
    promised = models.IntegerField(_("half-day promised"))
    confidence = models.FloatField(_("share of draws that were ready by then"))
    revision = models.PositiveIntegerField(_("revision of the plan"))
    stale = models.BooleanField(_("from a forecast of an older plan"), default=False)
    given_at = models.DateTimeField(_("given"))
    ready = models.IntegerField(_("half-day at which the house was ready"), null=True, blank=True)
    started = models.IntegerField(_("half-day in which work began"), null=True, blank=True)
    kept = models.BooleanField(_("kept"), null=True, blank=True)
    scored_at = models.DateTimeField(_("scored"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("booking", "promised"), name="promise_given_once"),
            models.CheckConstraint(
                condition=Q(confidence__gte=0, confidence__lte=1), name="confidence_is_a_share"
            ),
            models.CheckConstraint(
                condition=Q(scored_at__isnull=True, kept__isnull=True, ready__isnull=True)
                | Q(scored_at__isnull=False, kept__isnull=False, ready__isnull=False),
                name="promise_scored_whole",
            ),
        ]
        ordering = ("given_at", "pk")

    def __str__(self) -> str:
        return f"{self.booking_id} by {self.promised}: {self.kept}"
