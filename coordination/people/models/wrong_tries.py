"""Wrong passwords, counted: at sign-in and at signing."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _


class WrongTry(models.Model):
    """One wrong password. `who` is what was typed: an address that nobody has is counted alike."""

    who = models.CharField(_("e-mail"), max_length=254)
    address = models.CharField(_("from"), max_length=45, blank=True)
    at = models.DateTimeField(_("tried"))

    class Meta:
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=("who", "at"), name="wrong_try_of_whom")]
        verbose_name_plural = _("wrong tries")

    def __str__(self) -> str:
        return f"{self.who} {self.at:%Y-%m-%d %H:%M}"
