"""What is asked when: nothing is looked at before it can be there, nothing left bare between two pieces."""

from __future__ import annotations

import pytest

from coordination.sequence.standard import early_dates, read_sequence, resolve
from tests.sequence.test_standard_shipped import FOLDER

NAMES = ("brick_veneer_90", "two_storey_brick_veneer_90", "timber_light_clad_90", "steel_frame")


@pytest.mark.parametrize("name", NAMES)
def test_boots_of_exhausts_are_looked_at_only_when_the_lining_is_up(name: str) -> None:
    # No outside source: a boot cannot be sealed to a lining that is not there.
    resolved = resolve(read_sequence(FOLDER / f"{name}.toml"), {"exhaust_count": 2})
    asking = [one for one in resolved.checks if "boot" in one.text.lower()]
    assert asking
    assert next(one for one in resolved.checks if one.id.startswith("d12-outside")).text.endswith(
        "supported."
    )
    dates = early_dates(resolved.activities, resolved.relationships)
    lining = max(finish for one, (_start, finish) in dates.items() if one.startswith("linings"))
    assert all(dates[one.point][0] >= lining for one in asking)
    assert not [
        one
        for one in resolve(read_sequence(FOLDER / f"{name}.toml"), {"exhaust_count": 0}).checks
        if "boot" in one.text.lower()
    ]


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_left_bare_between_the_perimeter_batt_and_the_full_one(name: str) -> None:
    resolved = resolve(read_sequence(FOLDER / f"{name}.toml"), {})
    texts = {one.id: one.text for one in resolved.checks if one.detail.startswith("d24")}
    assert any("no bare strip" in words for words in texts.values()), texts
