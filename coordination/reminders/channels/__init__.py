"""The ways to reach a crew or a person. A channel is a folder here and a line in CHANNELS."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from coordination.reminders.channels import mail


@dataclass(frozen=True)
class Inline:
    """A PNG that stands in the text: its Content-ID without brackets, its file name, its bytes."""

    cid: str
    file: str
    png: bytes


@dataclass(frozen=True)
class Envelope:
    """One text to one address, with an id that stays the same when it is sent again.

    `inline` are pictures that the HTML shows by their Content-ID; a channel without pictures leaves them out.
    """

    to: str
    subject: str
    text: str
    html: str = ""
    message_id: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)
    inline: Sequence[Inline] = ()


class Channel(Protocol):
    """Sends one envelope, or raises; `True` is no promise that it was read."""

    def send(self, envelope: Envelope) -> None:
        """Hand the envelope over.

        Raises:
            OSError: the other side could not be reached or refused; it is tried again later.
        """
        ...


CHANNELS: dict[str, Channel] = {"mail": mail.MailChannel()}
