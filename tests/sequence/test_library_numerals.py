"""Numbers in full wherever a house's limits are read: on screens, in a mail, in the pack, at the entry."""

from __future__ import annotations

import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coordination.fabric.numerals import GAP, write_number
from coordination.people.refusals import BadInput
from coordination.sequence.standard import limit_for, read_sequence, resolve
from hold_points.entering import Found, require_sense
from hold_points.models import Check, Outcome
from hold_points.point_facts import CheckFacts
from hold_points.readiness import CheckState, State
from hold_points.rework import say_limit
from tests.sequence.test_standard_shipped import FOLDER

NOT_LOOKED_AT = CheckState(CheckFacts(id=1, key="opening", text="Eave opening", kind="measured"), State.OPEN)
FLAT = {"pitch": 12, "eaves_length": 40}
"""Under 15° the code asks for 25,000 mm² in each metre of eave (ABCB Housing Provisions 10.8.3, 2022):
40 m ask for 1,000,000 mm²."""


def test_large_numbers_stand_in_groups_of_three_and_small_ones_as_on_the_tape() -> None:
    # Groups of three digits: ISO 80000-1, 7.3.1. Four digits stand together: common practice.
    written = [
        write_number(one).replace(GAP, " ") for one in (1e6, 1_234_567.5, 25_000, 1234, 616.0, 0.05, -0.0)
    ]
    assert written == ["1 000 000", "1 234 567.5", "25 000", "1234", "616", "0.05", "0"]


@given(st.floats(-1e12, 1e12))
def test_written_number_is_the_number_itself(value: float) -> None:
    words = write_number(value)
    assert "e" not in words
    assert float(words.replace(GAP, "")) == pytest.approx(value, abs=1e-6)


def test_flat_roof_with_long_eaves_is_told_its_opening_in_full() -> None:
    resolved = resolve(read_sequence(FOLDER / "brick_veneer_90.toml"), FLAT)
    wanted = [limit for one in resolved.checks if (limit := limit_for(one, resolved.features)) is not None]
    assert f"at least 1{GAP}000{GAP}000 mm²" in map(str, wanted)
    assert [str(one) for one in wanted if "e+" in str(one)] == []
    told = [one.instruction for one in resolved.details if f"1{GAP}000{GAP}000 mm²" in one.instruction]
    assert told, "the words for the trade say the same number in the same way"


def test_opening_of_a_flat_roof_can_be_entered_and_is_printed_as_it_was_read() -> None:
    check = Check(kind="measured", compare="at least", limit=1e6, unit="mm²", text="Eave opening", key="d29")
    assert say_limit(check) == f"≥ 1{GAP}000{GAP}000 mm²"
    require_sense(check, Found(id=uuid.uuid4(), kind=Outcome.Kind.MET, value=1e6), NOT_LOOKED_AT)
    with pytest.raises(
        BadInput, match="990 000 is outside the limit of ≥ 1 000 000 mm²".replace(" 000", f"{GAP}000")
    ):
        require_sense(check, Found(id=uuid.uuid4(), kind=Outcome.Kind.MET, value=990_000.0), NOT_LOOKED_AT)
