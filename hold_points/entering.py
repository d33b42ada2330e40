"""What is entered for one check on a walk, and whether it makes sense."""

from __future__ import annotations

import datetime as dt
import math
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from coordination import clock
from coordination.fabric.numerals import write_number
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.standard import BELOW_ZERO
from hold_points.evidence import Photograph
from hold_points.models import Check, Outcome
from hold_points.readiness import CheckState
from hold_points.rework import say_limit

Kind = Outcome.Kind
NUMBERED = (Check.Kind.COUNTED, Check.Kind.MEASURED)
TINY = 1e-9
MOST = 1e8
"""More than any house has of anything that is read or counted: 100 m² of openings, in mm²."""


@dataclass(frozen=True)
class Found:
    """What was found for one check, as it was entered. `id` is made by the device that asks.

    `seen`: the last outcome of the check that the page showed, '' when it showed none; None: nothing is said.
    """

    id: uuid.UUID
    kind: str
    value: float | None = None
    note: str = ""
    own_hand: bool = False
    from_photograph: bool = False
    at: dt.datetime | None = None
    device: str = ""
    photos: Sequence[Photograph] = ()
    seen: str | None = None


class FoundOtherwise(WrongState):
    """Somebody has found otherwise since the page was opened; nothing was recorded.

    Attributes:
        outcome: what was found meanwhile.
    """

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(
            _("%(name)s found %(kind)s at %(time)s, after you opened this page. Judge again?")
            % {
                "name": outcome.by.name,
                "kind": outcome.get_kind_display(),
                "time": clock.say_moment(outcome.received_at),
            }
        )
        self.outcome = outcome


def require_seen(check: Check, found: Found) -> None:
    """What somebody else found meanwhile is shown first; two who found the same do not contradict.

    Raises:
        FoundOtherwise: with that outcome.
    """
    if found.seen is None:
        return
    last = check.outcomes.select_related("by").order_by("-received_at", "-pk").first()
    if last is None or str(last.pk) == found.seen:
        return
    if (last.kind, last.value, last.own_hand) != (found.kind, found.value, found.own_hand):
        raise FoundOtherwise(last)


def require_sense(check: Check, found: Found, state: CheckState) -> None:
    """Whether what was entered can be what is there, and says what has to be said.

    Raises:
        BadInput: naming the field.
    """
    if found.kind not in Kind.values:
        raise BadInput("kind", _("There is no such outcome. Choose one of the buttons."))
    if found.own_hand and found.kind != Kind.PUT_RIGHT:
        raise BadInput(
            "own_hand",
            _(
                "'By my own hand' is ticked: that goes with 'Put right in my presence' only, and a second "
                "person closes it. Press that, or take the tick away."
            ),
        )
    if len(found.note) > 500:
        raise BadInput("note", _("The note has more than 500 characters. Shorten it."))
    if found.kind == Kind.NOT_HERE and state.check.placed and len(found.note.strip()) < 3:
        raise BadInput("note", _("The set-out has this here. Say in the note why it is not on this house."))
    if found.value is None:
        if check.kind in NUMBERED and found.kind in (Kind.MET, Kind.PUT_RIGHT):
            raise BadInput("value", _("Give the number that you read or counted."))
        if check.kind in NUMBERED and found.kind == Kind.NOT_MET and not found.note.strip():
            raise BadInput(
                "value", _("Give the number that you found, or say in the note why there is none.")
            )
        return
    if check.kind not in NUMBERED:
        raise BadInput("value", _("This check has no number. Leave the field empty."))
    if not math.isfinite(found.value) or abs(found.value) > MOST:
        raise BadInput("value", _("This is no length or count that can be on a house. Check the number."))
    if check.kind == Check.Kind.COUNTED and (found.value < 0 or found.value != int(found.value)):
        raise BadInput("value", _("A count is a whole number, 0 or more."))
    if check.kind == Check.Kind.MEASURED and found.value < 0 and check.unit not in BELOW_ZERO:
        raise BadInput(
            "value",
            _(
                "%(value)s is less than 0: no tape shows that. Give what you read; where something lies on "
                "the wrong side, leave the number out, choose 'not met' and say so in the note."
            )
            % {"value": write_number(found.value)},
        )
    within = is_within(check, found.value)
    if found.kind in (Kind.MET, Kind.PUT_RIGHT) and not within:
        raise BadInput(
            "value",
            _("%(value)s is outside the limit of %(limit)s: this is 'not met'.")
            % {"value": write_number(found.value), "limit": say_limit(check)},
        )
    if found.kind == Kind.NOT_MET and within and not found.note.strip():
        raise BadInput(
            "note",
            _("%(value)s is within the limit of %(limit)s. Say in the note why it is not met.")
            % {"value": write_number(found.value), "limit": say_limit(check)},
        )


def is_within(check: Check, value: float) -> bool:
    """Whether a measured or counted value keeps the check's limit; without a limit every value does."""
    if check.limit is None:
        return True
    if check.compare == Check.Compare.AT_MOST:
        return value <= check.limit + TINY
    if check.compare == Check.Compare.EQUALS:
        return abs(value - check.limit) <= TINY
    if (
        check.compare == Check.Compare.BETWEEN
        and check.limit_high is not None
        and (value > check.limit_high + TINY)
    ):
        return False
    return value >= check.limit - TINY
