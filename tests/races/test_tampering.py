"""Five hundred tampers of a record, all found; the long run is `python -m tests.races.tampering`."""

import sys
from collections import Counter

from hold_points.verify_record import verify_export
from tests.races.tampering import TAMPERS, make_record, tamper


def test_five_hundred_random_tampers_are_found_and_the_untouched_record_never_is():
    found = tamper(500, seed=7)
    assert dict(found.missed) == {}
    assert set(found.tried) == set(TAMPERS)
    assert sum(found.tried.values()) >= 495
    assert (found.false_alarms, found.photographs_missed) == (0, 0)


def count_calls(act):
    """How many calls an act makes: the same on every machine, however busy it is."""
    calls: Counter[str] = Counter()
    before = sys.getprofile()
    sys.setprofile(lambda _frame, event, _argument: calls.update([event]))
    try:
        act()
    finally:
        sys.setprofile(before)
    return calls["call"] + calls["c_call"]


def test_the_work_of_verifying_an_entry_does_not_grow_with_the_record():
    few, many = make_record(100), make_record(1_000)
    small = count_calls(lambda: verify_export(few)) / 100
    large = count_calls(lambda: verify_export(many)) / 1_000
    assert small > 10
    # A longer number has a digit more; going over the entries before once more would cost a hundred times it.
    assert large < 1.1 * small, (small, large)
