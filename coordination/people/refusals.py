"""Two different errors: a missing right and a wrong state.

Screens answer the first with 403, the second with words.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _


class NotAllowed(Exception):
    """The person has no right to do this. The message names the act and the role that may."""


class WrongState(Exception):
    """The thing is not in a state in which this can be done; nothing was changed.

    Attributes:
        words: what is wrong and what to do, ready for a screen.
        missing: what is still missing, one line each; empty when nothing can be listed.
    """

    def __init__(self, words: str, missing: Sequence[str] = ()) -> None:
        super().__init__(words)
        self.words = words
        self.missing = tuple(missing)


class BadInput(Exception):
    """What was entered cannot be taken; nothing was saved.

    Attributes:
        where: the thing that is wrong (a field, an entry of a file, a row).
        words: what is wrong and the remedy.
    """

    def __init__(self, where: str, words: str) -> None:
        super().__init__(f"{where}: {words}")
        self.where = where
        self.words = words


def name_first(names: Sequence[str], most: int, between: str = ", ") -> str:
    """The first of what stands in the way, and how many more there are: 'Lot 2, Lot 5 and 3 more'."""
    named = between.join(names[:most])
    if len(names) <= most:
        return named
    return _("%(named)s and %(count)d more") % {
        "named": named + between.rstrip(", "),
        "count": len(names) - most,
    }
