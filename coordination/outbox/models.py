"""Messages as rows: written in the transaction of their cause, sent afterwards by a task that claims them."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class Digest(models.Model):
    """The one message of a crew, builder and day that gathers everything not urgent.

    The unique key is the promise: whoever creates the row sends it, the second worker finds it taken.
    """

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="digests")
    crew = models.ForeignKey("people.Crew", on_delete=models.CASCADE, related_name="digests")
    day = models.DateField(_("day"))
    created_at = models.DateTimeField(_("made"))
    claimed_at = models.DateTimeField(null=True, blank=True)
    claimed_by = models.CharField(max_length=64, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(_("sent"), null=True, blank=True)
    last_error = models.TextField(blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=("builder", "crew", "day"), name="one_digest_per_crew_builder_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crew} {self.day}"


class Message(models.Model):
    """One thing to tell one recipient once.

    `about` names the thing in words of the sender's package ('booking:12'); `version` rises when it changes,
    so that the same fact is told once and a changed fact again.
    """

    class Kind(models.TextChoices):
        LOOK_AHEAD = "look-ahead", _("the coming days")
        VISIT = "visit", _("visit")
        EVE = "eve", _("the day before")
        WINDOW = "window", _("window closing")
        CHANGE = "change", _("change")
        STOP = "stop", _("stop work")
        REWORK = "rework", _("put right")
        CALL = "call", _("walk called")
        NOTICE = "notice", _("notice")

    class Channel(models.TextChoices):
        MAIL = "mail", _("e-mail")
        SCREEN = "screen", _("on the screen")

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="messages")
    crew = models.ForeignKey(
        "people.Crew", null=True, blank=True, on_delete=models.CASCADE, related_name="messages"
    )
    person = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.CASCADE, related_name="messages"
    )
    recipient = models.CharField(max_length=40, help_text=_("'crew:ID' or 'person:ID'"))
    channel = models.CharField(max_length=12, choices=Channel, default=Channel.MAIL)
    kind = models.CharField(max_length=12, choices=Kind)
    about = models.CharField(max_length=80)
    version = models.CharField(max_length=80)
    subject = models.CharField(max_length=200)
    body = models.TextField()
    facts = models.JSONField(
        default=dict, help_text=_("What the text was made from; re-checked before sending.")
    )
    urgent = models.BooleanField(default=False)
    needs_answer = models.BooleanField(default=False)
    created_at = models.DateTimeField(_("made"))
    due_at = models.DateTimeField(_("due"))
    digest = models.ForeignKey(
        Digest, null=True, blank=True, on_delete=models.PROTECT, related_name="messages"
    )
    claimed_at = models.DateTimeField(null=True, blank=True)
    claimed_by = models.CharField(max_length=64, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(_("sent"), null=True, blank=True)
    superseded_at = models.DateTimeField(_("no longer true"), null=True, blank=True)
    acknowledged_at = models.DateTimeField(_("acknowledged"), null=True, blank=True)
    last_error = models.TextField(blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=("recipient", "channel", "kind", "about", "version"), name="told_once"
            ),
            models.CheckConstraint(
                condition=models.Q(crew__isnull=False, person__isnull=True)
                | models.Q(crew__isnull=True, person__isnull=False),
                name="message_has_one_recipient",
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=("due_at",),
                condition=models.Q(sent_at__isnull=True, superseded_at__isnull=True),
                name="message_waiting",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} to {self.recipient}: {self.subject}"
