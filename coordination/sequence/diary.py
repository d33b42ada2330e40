"""The house's diary: a line for every act that changed something, never edited."""

from __future__ import annotations

from typing import Any

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.sequence.models import Change, House


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
