"""The ways to reach a crew or a person. A channel is a folder here and a line in CHANNELS."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from coordination.reminders.channels import mail


@dataclass(frozen=True)
class Envelope:
    """One text to one address, with an id that stays the same when it is sent again."""

    to: str
    subject: str
    text: str
    html: str = ""
    message_id: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)


class Channel(Protocol):
    """Sends one envelope, or raises; `True` is no promise that it was read."""

    def send(self, envelope: Envelope) -> None:
        """Hand the envelope over.

        Raises:
            OSError: the other side could not be reached or refused; it is tried again later.
        """
        ...


CHANNELS: dict[str, Channel] = {"mail": mail.MailChannel()}
