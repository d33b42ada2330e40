"""Ids that a tablet can make by itself: UUID version 7 (RFC 9562), ordered by time and unique.

They are names, not secrets.
"""

from __future__ import annotations

import secrets
import uuid

from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.refusals import BadInput


def new_id() -> uuid.UUID:
    """A fresh UUIDv7: 48 bits of milliseconds, 74 random bits."""
    milliseconds = int(clock.now().timestamp() * 1000)
    value = (milliseconds & (2**48 - 1)) << 80 | 0x7 << 76 | secrets.randbits(12) << 64
    return uuid.UUID(int=value | 0b10 << 62 | secrets.randbits(62))


def read_id(given: uuid.UUID | str, where: str) -> uuid.UUID:
    """A client's id.

    Raises:
        BadInput: it is no UUID of version 7.
    """
    try:
        found = given if isinstance(given, uuid.UUID) else uuid.UUID(given)
    except ValueError as error:
        raise BadInput(where, _("The id is no UUID. Load the page again and repeat.")) from error
    if found.version != 7:
        raise BadInput(where, _("The id is no UUID of version 7. Load the page again and repeat."))
    return found
