"""Outcomes of checks, their evidence, and what is to be put right."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from hold_points.models.inspection import Check


class Outcome(models.Model):
    """What was found for one check: append-only, its id made by the client (UUIDv7), so a repeat is harmless.

    The latest outcome after the latest re-opening of the check's place counts.
    """

    class Kind(models.TextChoices):
        MET = "met", _("met")
        NOT_MET = "not met", _("not met")
        PUT_RIGHT = "put right", _("put right in my presence")
        NOT_HERE = "not on this house", _("not on this house")
        NOT_SEEN = "not seen", _("not seen")

    id = models.UUIDField(primary_key=True, editable=False)
    check_judged = models.ForeignKey("hold_points.Check", on_delete=models.PROTECT, related_name="outcomes")
    kind = models.CharField(_("outcome"), max_length=20, choices=Kind)
    value = models.FloatField(_("value"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    own_hand = models.BooleanField(_("put right by my own hand"), default=False)
    from_photograph = models.BooleanField(_("judged from a photograph"), default=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="outcomes")
    role = models.CharField(
        _("judged as"),
        max_length=12,
        help_text=_("The role in which it was judged: a planner confirms only."),
    )
    at = models.DateTimeField(_("judged"))
    received_at = models.DateTimeField(_("on the record"))
    device = models.CharField(_("device"), max_length=120, blank=True)

    class Meta:
        ordering = ("received_at", "pk")

    def __str__(self) -> str:
        return f"{self.check_judged}: {self.kind}"


class Evidence(models.Model):
    """A photograph or document, known by the hash of its original bytes.

    `shown` and `thumb` are written anew from its pixels, after it was kept (`hold_points.copies`).
    """

    MOST_TRIES = 8
    """So often it is tried to make the copies; then it stays with the original."""

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="evidence")
    inspection = models.ForeignKey(
        "hold_points.Inspection", null=True, blank=True, on_delete=models.PROTECT, related_name="evidence"
    )
    check_shown = models.ForeignKey(
        "hold_points.Check", null=True, blank=True, on_delete=models.PROTECT, related_name="evidence_shown"
    )
    outcome = models.ForeignKey(
        Outcome, null=True, blank=True, on_delete=models.PROTECT, related_name="evidence"
    )
    nonconformity = models.ForeignKey(
        "hold_points.Nonconformity", null=True, blank=True, on_delete=models.PROTECT, related_name="evidence"
    )
    detail = models.ForeignKey(
        "sequence.Detail", null=True, blank=True, on_delete=models.SET_NULL, related_name="evidence"
    )
    place = models.ForeignKey(
        "sequence.Place", null=True, blank=True, on_delete=models.SET_NULL, related_name="evidence"
    )
    sha256 = models.CharField(max_length=64, db_index=True)
    size = models.PositiveIntegerField(_("bytes"))
    media_type = models.CharField(max_length=40)
    original = models.FileField(upload_to="evidence/originals/", max_length=200)
    shown = models.FileField(upload_to="evidence/shown/", max_length=200, blank=True)
    thumb = models.FileField(upload_to="evidence/thumbs/", max_length=200, blank=True)
    prepared_at = models.DateTimeField(_("copies made"), null=True, blank=True)
    prepare_after = models.DateTimeField(_("copies to be made from"), null=True, blank=True)
    prepare_tries = models.PositiveSmallIntegerField(_("times tried"), default=0)
    taken_at = models.DateTimeField(_("taken"), null=True, blank=True)
    latitude = models.FloatField(_("latitude"), null=True, blank=True)
    longitude = models.FloatField(
        _("longitude"), null=True, blank=True, help_text=_("Kept only if the builder has agreed to it.")
    )
    received_at = models.DateTimeField(_("received"))
    by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="evidence"
    )
    crew = models.ForeignKey(
        "people.Crew", null=True, blank=True, on_delete=models.PROTECT, related_name="evidence"
    )
    words = models.CharField(_("shows"), max_length=200, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("house", "sha256"), name="evidence_once_per_house"),
            models.CheckConstraint(
                condition=Q(by__isnull=False) | Q(crew__isnull=False), name="evidence_has_a_sender"
            ),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="evidence_position_is_whole",
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=("prepare_after",),
                condition=Q(prepared_at__isnull=True),
                name="evidence_to_prepare",
            ),
        ]

    def __str__(self) -> str:
        return self.sha256[:12]

    @property
    def given_up(self) -> bool:
        """Whether no copy could be made of it."""
        return self.prepared_at is None and self.prepare_tries >= self.MOST_TRIES


class Nonconformity(models.Model):
    """A check not met: raised, put right by the trade, closed by a fresh outcome.

    Or a crew that went past an open hold point: no check failed, since nobody looked. A named person decides
    how that is put right, and the release of the point closes it.
    """

    class State(models.TextChoices):
        RAISED = "raised", _("to be put right")
        PUT_RIGHT = "put right", _("said to be put right")
        CLOSED = "closed", _("closed")

    house = models.ForeignKey("sequence.House", on_delete=models.CASCADE, related_name="nonconformities")
    check_failed = models.ForeignKey(
        "hold_points.Check", null=True, blank=True, on_delete=models.PROTECT, related_name="nonconformities"
    )
    raised_by = models.OneToOneField(
        Outcome, null=True, blank=True, on_delete=models.PROTECT, related_name="raises"
    )
    gone_past = models.ForeignKey(
        "hold_points.Inspection",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="gone_past",
        verbose_name=_("point that was gone past"),
    )
    visit = models.ForeignKey(
        "sequence.Visit", null=True, blank=True, on_delete=models.PROTECT, related_name="gone_past"
    )
    raised_at = models.DateTimeField(_("raised"), null=True, blank=True)
    crew = models.ForeignKey(
        "people.Crew", null=True, blank=True, on_delete=models.PROTECT, related_name="nonconformities"
    )
    put_right_until = models.IntegerField(_("put right until"), null=True, blank=True)
    state = models.CharField(_("state"), max_length=12, choices=State, default=State.RAISED)
    said_done_at = models.DateTimeField(_("said to be done"), null=True, blank=True)
    closed_by = models.ForeignKey(
        Outcome, null=True, blank=True, on_delete=models.PROTECT, related_name="closes"
    )
    decision = models.CharField(_("how it is put right"), max_length=300, blank=True)
    decided_by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="decisions"
    )
    decided_at = models.DateTimeField(_("decided"), null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(
                    check_failed__isnull=False,
                    raised_by__isnull=False,
                    gone_past__isnull=True,
                    visit__isnull=True,
                )
                | Q(
                    check_failed__isnull=True,
                    raised_by__isnull=True,
                    gone_past__isnull=False,
                    visit__isnull=False,
                    raised_at__isnull=False,
                ),
                name="nonconformity_of_a_check_or_a_point",
            ),
            models.CheckConstraint(
                condition=Q(state="closed", closed_by__isnull=False)
                | Q(state="closed", gone_past__isnull=False, decided_by__isnull=False)
                | ~Q(state="closed"),
                name="nonconformity_closed_by_an_outcome",
            ),
            models.CheckConstraint(
                condition=Q(decision="", decided_by__isnull=True, decided_at__isnull=True)
                | ~Q(decision="") & Q(decided_by__isnull=False, decided_at__isnull=False),
                name="nonconformity_decided_by_someone",
            ),
            models.UniqueConstraint(
                fields=("gone_past", "visit"),
                condition=Q(gone_past__isnull=False) & ~Q(state="closed"),
                name="one_open_going_past_per_visit",
            ),
            models.UniqueConstraint(
                fields=("check_failed",),
                condition=~Q(state="closed"),
                name="one_open_nonconformity_per_check",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_failed or self.gone_past}: {self.state}"

    @property
    def failed(self) -> Check:
        """The check that was not met; only for one that has one."""
        if self.check_failed is None:
            raise ValueError("Nobody looked when a hold point was gone past: no check failed.")
        return self.check_failed

    @property
    def outcome(self) -> Outcome:
        """The outcome that raised it; only for one with a check."""
        if self.raised_by is None:
            raise ValueError("No outcome raises that a hold point was gone past.")
        return self.raised_by
