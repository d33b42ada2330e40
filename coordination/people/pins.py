"""A PIN for signing: a few digits that a thumb can type, beside or instead of the password.

It signs nobody in; it is asked once more when someone who is signed in signs. Kept hashed like a password,
and wrong ones count with wrong passwords (see `tries`).
"""

from __future__ import annotations

from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import builders_of
from coordination.people.models import Builder, Person
from coordination.people.refusals import BadInput

MOST_DIGITS = 12


def least_digits(person: Person) -> int:
    """The fewest digits that the person's builders take; the strictest of them counts."""
    asked = builders_of(person).values_list("pin_least", flat=True)
    return max(asked, default=Builder._meta.get_field("pin_least").get_default())


def set_pin(person: Person, pin: str, again: str) -> None:
    """Give the person a PIN.

    Raises:
        BadInput: not digits alone, too short or long, the same digit or a run, or typed differently twice.
    """
    least = least_digits(person)
    if not (pin.isascii() and pin.isdigit() and least <= len(pin) <= MOST_DIGITS):
        raise BadInput(
            "pin",
            _("A PIN has %(least)d to %(most)d digits and nothing else.")
            % {"least": least, "most": MOST_DIGITS},
        )
    steps = {(int(then) - int(first)) % 10 for first, then in pairwise(pin)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        raise BadInput("pin", _("This is the first that anyone tries. Choose digits that do not run on."))
    if pin != again:
        raise BadInput("again", _("The two are not the same. Type the PIN twice."))
    person.pin, person.pin_set_at = make_password(pin), clock.now()
    person.save(update_fields=["pin", "pin_set_at"])


def drop_pin(person: Person) -> None:
    """Take the PIN away; the person sets another."""
    person.pin, person.pin_set_at = "", None
    person.save(update_fields=["pin", "pin_set_at"])


def is_pin_of(person: Person, pin: str) -> bool:
    """Whether this is the person's PIN; False when there is none."""
    return bool(person.pin) and check_password(pin, person.pin)
