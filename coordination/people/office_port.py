"""What the people's room asks of the rooms above it: letters that leave by the outbox, and houses in hand.

One settings string, ``COORDINATION_OFFICE_PORT``, names the class that answers, in the caller's transaction.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Protocol

from django.conf import settings
from django.utils.module_loading import import_string

from coordination.people.models import Builder, Person, Role


class OfficePort(Protocol):
    """Answers only the rooms with messages and houses have."""

    def tell_role(self, role: Role, by: Person) -> None:
        """Write to a person which role she was given, with a way to set a password where she has none."""
        ...

    def send_way_in(self, builder: Builder, person: Person) -> None:
        """Write to a person how to set a password; at most one letter a quarter of an hour."""
        ...

    def tell_new_address(self, builder: Builder, person: Person, old: str, by: Person) -> None:
        """Write to the old address that another one signs in from now on, and who changed it."""
        ...

    def houses_of(self, builder: Builder, person: Person) -> Mapping[int, str]:
        """Houses in progress that a person supervises for a builder: key → name, by name."""
        ...

    def hand_over(
        self, builder: Builder, giver: Person, taker: Person, houses: Iterable[int], by: Person
    ) -> list[str]:
        """Give houses of one supervisor to another, who is told; returns the names of those that changed."""
        ...


@cache
def _port_named(path: str) -> OfficePort:
    port: OfficePort = import_string(path)()
    return port


def office_port() -> OfficePort:
    """The port that the settings name."""
    return _port_named(settings.COORDINATION_OFFICE_PORT)
