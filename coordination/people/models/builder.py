"""Builder, person and role: who owns what, and who may act for whom."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _


class Builder(models.Model):
    """The firm that owns houses, sequences and plans. Each such row belongs to exactly one builder."""

    class SignsWith(models.TextChoices):
        EITHER = "either", _("password or PIN")
        PASSWORD = "password", _("password only")
        PIN = "pin", _("PIN only")

    name = models.CharField(_("name"), max_length=120)
    slug = models.SlugField(unique=True)
    time_zone = models.CharField(_("time zone"), max_length=60, default="Australia/Hobart")
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    state = models.CharField(_("state or territory"), max_length=8, default="TAS")
    climate_zone = models.PositiveSmallIntegerField(_("climate zone"), default=7)
    code_edition = models.CharField(_("edition of the construction code"), max_length=12, default="2022")
    freeze_days = models.PositiveSmallIntegerField(
        _("working days in which told dates stand"),
        default=5,
        help_text=_("Told dates this near do not move."),
    )
    retell_half_days = models.PositiveSmallIntegerField(
        _("smallest move that is told, in half-days"), default=2
    )
    digest_at = models.TimeField(_("time of the daily message"), default=dt.time(15, 30))
    quiet_from = models.TimeField(_("no messages from"), default=dt.time(18))
    quiet_until = models.TimeField(_("no messages until"), default=dt.time(6, 30))
    signs_with = models.CharField(
        _("asked once more at signing"), max_length=8, choices=SignsWith, default=SignsWith.EITHER
    )
    pin_least = models.PositiveSmallIntegerField(
        _("fewest digits of a PIN"),
        default=6,
        validators=[MinValueValidator(4), MaxValueValidator(12)],
    )
    tightened_houses = models.PositiveSmallIntegerField(
        _("clean houses in a row that end tightened inspection"),
        default=3,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        help_text=_("After a crew missed a detail in two rooms of a house, its samples are twice as large."),
    )
    clean_houses = models.PositiveSmallIntegerField(
        _("clean houses in a row that allow reduced inspection"),
        default=5,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
        help_text=_("Then half as many places are looked at, never less than one."),
    )
    positions_agreed_at = models.DateTimeField(
        _("agreed to keep where photographs were taken"),
        null=True,
        blank=True,
        help_text=_("Empty: the position is dropped."),
    )
    positions_agreed_by = models.ForeignKey(
        "people.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    STATES: ClassVar[tuple[str, ...]] = ("ACT", "NSW", "NT", "QLD", "SA", "TAS", "VIC", "WA")
    ZONES: ClassVar[range] = range(1, 9)
    EDITIONS: ClassVar[tuple[str, ...]] = ("2019", "2022", "2025")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(positions_agreed_at__isnull=True, positions_agreed_by__isnull=True)
                | models.Q(positions_agreed_at__isnull=False, positions_agreed_by__isnull=False),
                name="positions_agreed_by_someone",
            ),
        ]
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Where the builder builds must be a place and a code that the sequences know.

        Raises:
            ValidationError: by field; houses take these over when they are set out.
        """
        known: dict[str, tuple[object, Collection[object]]] = {
            "state": (self.state, self.STATES),
            "climate_zone": (self.climate_zone, self.ZONES),
            "code_edition": (self.code_edition, self.EDITIONS),
        }
        wrong = {
            field: _("'%(value)s' is unknown. Give one of %(known)s.")
            % {"value": value, "known": ", ".join(map(str, choices))}
            for field, (value, choices) in known.items()
            if value not in choices
        }
        if wrong:
            raise ValidationError(wrong)

    @property
    def keeps_positions(self) -> bool:
        """Whether the builder has agreed that the place where a photograph was taken is kept with it."""
        return self.positions_agreed_at is not None


class PersonManager(UserManager["Person"]):
    """Creates people by e-mail address; there is no second login name."""

    def _with_email(self, email: str, password: str | None, **extra: Any) -> Person:
        if not email:
            raise ValueError(_("A person needs an e-mail address."))
        person = self.model(email=self.normalize_email(email).lower(), **extra)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_user(  # type: ignore[override]
        self, email: str, password: str | None = None, **extra: Any
    ) -> Person:
        """Create a person who can sign in with this address. Without a password sign-in needs a link."""
        return self._with_email(email, password, **{"is_staff": False, "is_superuser": False, **extra})

    def create_superuser(  # type: ignore[override]
        self, email: str, password: str | None = None, **extra: Any
    ) -> Person:
        """Create a person who may use the administration pages."""
        return self._with_email(email, password, **{**extra, "is_staff": True, "is_superuser": True})


class Person(AbstractUser):
    """Someone who acts: planner, supervisor, assessor or trade contact. The user model."""

    username = None  # type: ignore[assignment]
    email = models.EmailField(_("e-mail"), unique=True)
    name = models.CharField(_("name"), max_length=120)
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    pin = models.CharField(
        _("PIN"), max_length=128, blank=True, editable=False, help_text=_("Hashed like a password.")
    )
    pin_set_at = models.DateTimeField(_("PIN set"), null=True, blank=True, editable=False)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]
    objects: ClassVar[PersonManager] = PersonManager()

    class Meta:
        ordering = ("name",)
        verbose_name_plural = _("people")

    def __str__(self) -> str:
        return self.name or self.email

    @property
    def initials(self) -> str:
        """First letters of the name's words, at most three: 'Kit Marlow' gives 'KM'."""
        return "".join(word[0].upper() for word in self.name.split()[:3]) or self.email[:2].upper()


class Role(models.Model):
    """What a person may do for a builder, when, and who gave it. A deputy's names the role it stands in for.

    A role that is ended stays, with the moment and who ended it: from that moment it allows nothing.
    """

    class Kind(models.TextChoices):
        PLANNER = "planner", _("planner")
        SUPERVISOR = "supervisor", _("supervisor")
        ASSESSOR = "assessor", _("assessor")
        CONTACT = "contact", _("trade contact")

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="roles")
    builder = models.ForeignKey(Builder, on_delete=models.CASCADE, related_name="roles")
    kind = models.CharField(_("role"), max_length=12, choices=Kind)
    first_day = models.DateField(_("from"), null=True, blank=True)
    last_day = models.DateField(_("until"), null=True, blank=True)
    deputy_for = models.ForeignKey("self", null=True, blank=True, on_delete=models.SET_NULL)
    granted_by = models.ForeignKey(
        Person, null=True, blank=True, editable=False, on_delete=models.PROTECT, related_name="+"
    )
    granted_at = models.DateTimeField(_("given"), null=True, blank=True, editable=False)
    ended_by = models.ForeignKey(
        Person, null=True, blank=True, editable=False, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(_("ended"), null=True, blank=True, editable=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=("person", "builder", "kind", "first_day"),
                condition=models.Q(ended_at__isnull=True),
                name="role_once",
            ),
            models.CheckConstraint(
                condition=models.Q(first_day__isnull=True)
                | models.Q(last_day__isnull=True)
                | models.Q(last_day__gte=models.F("first_day")),
                name="role_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_kind_display()}"
