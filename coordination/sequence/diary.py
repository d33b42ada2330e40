"""The house's diary: a line for every act that changed something, and what people noted; never edited."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Change, House

NOTED = "noted"
"""The kind of a line that a person wrote; it changed nothing, so nothing computed grows old by it."""
LONGEST_NOTE = 300


def write_change(
    house: House,
    what: str,
    about: str,
    words: str,
    facts: dict[str, Any],
    by: Person | None = None,
    crew: Crew | None = None,
) -> Change:
    """Add one line, in the transaction of the act.

    Args:
        what: the kind of act, one word or two: 'finished', 'delay', 'taken back'.
        about: 'activity:12', 'booking:7', or empty for the house.
        words: one plain sentence for people, cut at 300 characters.
        facts: the same for programs.
    """
    return Change.objects.create(
        house=house, at=clock.now(), by=by, crew=crew, what=what, about=about, words=words[:300], facts=facts
    )


@transaction.atomic
def write_note(house: House, words: str, by: Person, sent: UUID) -> Change:
    """Add a line of a person's own; it stands as acts do, and is neither changed nor deleted.

    Args:
        words: what happened, on one line: 'rang the plumber, comes Thursday'.
        sent: made with the form; sent twice, it is one line.

    Raises:
        BadInput: no words, or more than a line takes.
    """
    said = " ".join(words.split())
    if not said:
        raise BadInput(_("diary"), _("Write what is to stand there."))
    if len(said) > LONGEST_NOTE:
        raise BadInput(
            _("diary"), _("A line takes %(most)d characters. Write a second one.") % {"most": LONGEST_NOTE}
        )
    locked = lock_house(house.pk)
    known = Change.objects.filter(house=locked, what=NOTED, by=by, facts__sent=str(sent)).first()
    return known or write_change(locked, NOTED, "", said, {"sent": str(sent)}, by)
