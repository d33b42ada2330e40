"""A hold is set aside at import only: of a house brought in half built, when all that covers is finished."""

import pytest

from coordination import clock
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import guard, holds
from coordination.sequence.models import Activity, Booking, Hold
from tests.sequence.builders import START, book, say_brought_in, sign_release


def test_a_hold_is_set_aside_only_in_a_house_that_was_brought_in(small):
    Activity.objects.filter(key="linings").update(actual_start=START - 20, actual_finish=START - 10)
    with pytest.raises(WrongState, match="was not brought in half built"):
        holds.set_aside(small.hold, small.planner, "buried already")
    by_hand = {"set_aside_at": clock.now(), "set_aside_by": small.planner, "set_aside_why": "buried already"}
    with pytest.raises(WrongState, match="only when its house is brought in"), guard.speaking():
        Hold.objects.filter(pk=small.hold.pk).update(**by_hand)


def test_a_hold_is_set_aside_when_all_that_covers_is_finished(small):
    say_brought_in(small.house)
    with pytest.raises(WrongState, match="Linings not finished") as refusal:
        holds.set_aside(small.hold, small.planner, "imported in April")
    assert refusal.value.missing == ("Linings",)
    Activity.objects.filter(key="linings").update(actual_start=START - 20, actual_finish=START - 10)
    aside = holds.set_aside(small.hold, small.planner, "imported in April")
    assert (aside.is_open, aside.lifted_at) == (False, None)
    book(small, "board", Booking.State.FIRM)
    with pytest.raises(WrongState, match="released or set aside"):
        holds.set_aside(small.hold, small.planner, "again")
    with pytest.raises(WrongState, match="set aside"):
        holds.lift(small.hold, sign_release(small))


def test_setting_aside_needs_a_reason(small):
    with pytest.raises(BadInput, match="reason"):
        holds.set_aside(small.hold, small.planner, "")
