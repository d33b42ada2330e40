"""Pure: everything that decides about one point, as plain facts, and which of it still counts.

A photograph proves a state of the work. What was photographed before a check was found not met shows the
defect, or what was there before it; nothing is ever closed from that.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class CheckFacts:
    """A check as it is judged. `place` is None for what is asked once for the house.

    `placed`: the set-out has the detail there. `drawn`: it belongs to the random sample, or all are asked.
    `needs`: evidence required ('none', 'photo', 'photo with tape', 'document', 'statement').
    `by_photograph`: a photo point, met by the crew's photograph alone.
    """

    id: int
    key: str
    text: str
    kind: str
    section: str = ""
    subject: str = ""
    place: int | None = None
    place_name: str = ""
    needs: str = "none"
    safety: bool = False
    placed: bool = True
    drawn: bool = True
    by_photograph: bool = False
    cost: float = 0.0  # of leaving its detail undone, beside others: larger matters more


@dataclass(frozen=True)
class OutcomeFacts:
    """What was found. `by` is the person's id; `role` that in which it was judged.

    `at`: when it was looked at, by the device's clock; `received_at`: when it came in, if not at once.
    """

    kind: str
    by: int
    at: dt.datetime
    role: str = "supervisor"
    own_hand: bool = False
    note: str = ""
    value: float | None = None
    received_at: dt.datetime | None = None
    id: uuid.UUID | None = None

    @property
    def arrived(self) -> dt.datetime:
        """When it came in."""
        return self.received_at or self.at


@dataclass(frozen=True)
class NonconformityFacts:
    """An open nonconformity of a check; `conceded_at` when a concession stands."""

    id: int
    with_whom: str = ""
    until: str = ""
    said_done: bool = False
    conceded_at: dt.datetime | None = None


@dataclass(frozen=True)
class ReopeningFacts:
    """A re-opening: its moment and places; without places it opens what is asked once for the house."""

    at: dt.datetime
    places: frozenset[int] = frozenset()


@dataclass(frozen=True)
class PhotographFacts:
    """A photograph of a check: when it came in, with which outcome it was sent, and by which person.

    A tablet sends a photograph as soon as it is taken, and the outcome when the button is pressed: then it
    names none.
    """

    at: dt.datetime
    outcome: uuid.UUID | None = None
    by: int | None = None


@dataclass(frozen=True)
class PointFacts:
    """Everything that decides about one point."""

    checks: Sequence[CheckFacts]
    outcomes: Mapping[int, Sequence[OutcomeFacts]] = field(default_factory=dict)
    photos: Mapping[int, Sequence[PhotographFacts]] = field(default_factory=dict)
    nonconformities: Mapping[int, NonconformityFacts] = field(default_factory=dict)
    reopenings: Sequence[ReopeningFacts] = ()
    statements: Mapping[int, Sequence[dt.datetime]] = field(default_factory=dict)
    """By check, when the trade stated something for it."""


def reopened_at(check: CheckFacts, reopenings: Iterable[ReopeningFacts]) -> dt.datetime | None:
    """When the check was last opened again; None if never."""
    moments = [
        one.at
        for one in reopenings
        if (check.place in one.places if check.place is not None else not one.places)
    ]
    return max(moments, default=None)


def count_photographs(
    check: CheckFacts, facts: PointFacts, counting: Sequence[OutcomeFacts], since: dt.datetime | None
) -> int:
    """How many photographs show the check as it is now.

    Those that came in after the last re-opening, and after the last outcome (of `counting`) with which the
    work was another: 'not met', or put right by own hand. What came with an own hand shows what it did; what
    came with a failure shows the failure, and never counts.
    """
    history = facts.outcomes.get(check.id, ())
    failures = {one.id for one in history if one.kind == "not met" and one.id is not None}
    last = next((one for one in reversed(counting) if one.kind == "not met" or one.own_hand), None)
    return sum(
        (since is None or one.at > since)
        and one.outcome not in failures
        and (last is None or one.at > last.arrived or (last.own_hand and _came_with(one, last, history)))
        for one in facts.photos.get(check.id, ())
    )


def _came_with(photograph: PhotographFacts, outcome: OutcomeFacts, history: Sequence[OutcomeFacts]) -> bool:
    """Whether it was sent with an outcome, or by the same person since the check was last judged."""
    if photograph.outcome is not None or photograph.by != outcome.by:
        return photograph.outcome is not None and photograph.outcome == outcome.id
    earlier = [one.arrived for one in history if one.arrived < outcome.arrived]
    return photograph.at <= outcome.arrived and all(photograph.at > one for one in earlier)
