"""A limit on wrong passwords: five from one address, fifty from all, within a quarter of an hour.

Counted in rows, so that all processes know of all tries. The limit of one person from one address keeps
others from guessing without letting them lock the person out of her own tablet; the wider one
is for many addresses.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import WrongTry

MOST_FROM_ONE_ADDRESS = 5
MOST_FROM_ALL = 50
WITHIN = dt.timedelta(minutes=15)
KEPT = dt.timedelta(days=30)


def too_many(who: str, address: str = "") -> bool:
    """Whether so many wrong passwords were given that no further one is looked at now."""
    recent = WrongTry.objects.filter(who=_as_kept(who), at__gt=clock.now() - WITHIN)
    return (
        recent.filter(address=address[:45]).count() >= MOST_FROM_ONE_ADDRESS
        or recent.count() >= MOST_FROM_ALL
    )


def note_wrong(who: str, address: str = "") -> None:
    """Count a wrong password; old ones are thrown away. Call it outside what is undone by the refusal."""
    now = clock.now()
    WrongTry.objects.filter(at__lt=now - KEPT).delete()
    WrongTry.objects.create(who=_as_kept(who), address=address[:45], at=now)


def forget_wrong(who: str, address: str = "") -> None:
    """The right password was given: the count from this address starts anew."""
    WrongTry.objects.filter(who=_as_kept(who), address=address[:45]).delete()


def say_too_many() -> str:
    """What is told; the same whether or not the last password was right."""
    return _("Too many wrong passwords. Wait a quarter of an hour, or ask the office for a new one.")


def _as_kept(who: str) -> str:
    return who.strip().lower()[:254]


class LimitedSignIn(AuthenticationForm):
    """The sign-in form with the limit; the password is not even looked at beyond it."""

    def clean(self) -> dict[str, Any]:
        """Refuse beyond the limit, count what is wrong, start anew with what is right."""
        who = str(self.cleaned_data.get("username") or "")
        address = str(self.request.META.get("REMOTE_ADDR", "")) if self.request else ""
        if who and too_many(who, address):
            raise ValidationError(say_too_many(), code="too_many")
        try:
            cleaned = super().clean()
        except ValidationError:
            if who:
                note_wrong(who, address)
            raise
        if who and self.cleaned_data.get("password"):
            forget_wrong(who, address)
        return cleaned
