"""Five hundred tampers of a record, all found; the long run is `python -m tests.races.tampering`."""

from tests.races.tampering import TAMPERS, measure_verifying, tamper


def test_five_hundred_random_tampers_are_found_and_the_untouched_record_never_is():
    found = tamper(500, seed=7)
    assert dict(found.missed) == {}
    assert set(found.tried) == set(TAMPERS)
    assert sum(found.tried.values()) >= 495
    assert (found.false_alarms, found.photographs_missed) == (0, 0)


def test_verifying_a_record_costs_a_small_multiple_of_hashing_it():
    took, alone = measure_verifying(5_000)
    # Reading and writing JSON once more is what it costs; a slip to quadratic work would be far beyond.
    assert took / alone < 200
