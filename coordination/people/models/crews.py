"""Trades, companies and crews. They belong to no builder; an engagement joins them to one."""

from __future__ import annotations

from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils.translation import gettext_lazy as _

from coordination import clock


class Trade(models.Model):
    """A kind of work, named as the sequences name it."""

    key = models.SlugField(_("key"), unique=True, max_length=60)
    name = models.CharField(_("name"), max_length=80)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Company(models.Model):
    """A subcontractor or supplier."""

    name = models.CharField(_("name"), max_length=120)
    phone = models.CharField(_("phone"), max_length=40, blank=True)

    class Meta:
        ordering = ("name",)
        verbose_name_plural = _("companies")

    def __str__(self) -> str:
        return self.name


class Engagement(models.Model):
    """A company works for a builder."""

    builder = models.ForeignKey("people.Builder", on_delete=models.CASCADE, related_name="engagements")
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="engagements")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("builder", "company"), name="engagement_once"),
        ]

    def __str__(self) -> str:
        return f"{self.company} for {self.builder}"


class Crew(models.Model):
    """A company's team of one trade: how many houses at once, on which calendar, told in which way."""

    class Tells(models.TextChoices):
        MAIL = "mail", _("e-mail")
        CALENDAR = "calendar", _("calendar only")

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="crews")
    trade = models.ForeignKey(Trade, on_delete=models.PROTECT, related_name="crews")
    name = models.CharField(_("name"), max_length=120)
    capacity = models.PositiveSmallIntegerField(_("houses at once"), default=1)
    calendar = models.ForeignKey("people.WorkingCalendar", on_delete=models.PROTECT, related_name="crews")
    word_time = models.PositiveSmallIntegerField(
        _("word time"),
        null=True,
        blank=True,
        help_text=_("Working half-days between release and start; empty: as the sequence says."),
    )
    contact = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.SET_NULL, related_name="crews_on_the_tools"
    )
    tells = models.CharField(_("told by"), max_length=12, choices=Tells, default=Tells.MAIL)
    retired_on = models.DateField(
        _("retired on"),
        null=True,
        blank=True,
        help_text=_("Empty: at work. A retired crew is offered for no visit; what it did stays."),
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=models.Q(capacity__gte=1), name="crew_takes_at_least_one_house"),
            models.UniqueConstraint(fields=("company", "name"), name="crew_name_once"),
        ]
        ordering = ("name",)

    # What the office may choose from; what a crew did is read from all crews.
    AT_WORK: ClassVar[models.Q] = models.Q(retired_on__isnull=True)

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save; a person on the tools who is replaced stays on the list of members, as one who left today."""
        with transaction.atomic():
            before = Crew.objects.filter(pk=self.pk).values_list("contact", flat=True).first()
            super().save(*args, **kwargs)
            if before is not None and before != self.contact_id:
                left = CrewMember.objects.filter(crew=self, person_id=before, left_on__isnull=False)
                if not left.update(left_on=clock.today()):
                    CrewMember.objects.get_or_create(
                        crew=self, person_id=before, defaults={"left_on": clock.today()}
                    )

    @property
    def phone(self) -> str:
        """The number of whoever is on the tools, else the company's; '' where neither is entered."""
        return (self.contact.phone if self.contact else "") or self.company.phone


class CrewMember(models.Model):
    """A person who works, or worked, in a crew; no member releases a point whose details the crew installed.

    Who leaves stays on the list with a day: leaving clears nobody for work that the crew was booked for
    before. The database refuses to delete a membership.
    """

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="members")
    person = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="memberships")
    left_on = models.DateField(
        _("left the crew on"),
        null=True,
        blank=True,
        help_text=_("Empty: still in it. A membership is ended, never deleted."),
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=("crew", "person"), name="crew_member_once"),
        ]

    def __str__(self) -> str:
        return f"{self.person} in {self.crew}"

    def clean(self) -> None:
        """A day that is past would clear the person for work done while nobody knew: it is given as it comes.

        Raises:
            ValidationError: naming the day.
        """
        before = CrewMember.objects.filter(pk=self.pk).values_list("left_on", flat=True).first()
        if self.left_on is not None and self.left_on != before and self.left_on < clock.today():
            raise ValidationError({"left_on": _("Give today or a day to come.")})


class CrewLink(models.Model):
    """A secret address for a crew's page or calendar. Only the hash is stored; revoked ones answer 404."""

    class Kind(models.TextChoices):
        PAGE = "page", _("page")
        FEED = "feed", _("calendar")

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="links")
    kind = models.CharField(_("kind"), max_length=8, choices=Kind)
    token_hash = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField(_("made"))
    revoked_at = models.DateTimeField(_("revoked"), null=True, blank=True)
    last_used_at = models.DateTimeField(_("last used"), null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.crew} {self.get_kind_display()}"
