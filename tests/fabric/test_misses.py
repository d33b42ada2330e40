"""What a miss costs, against numbers reckoned another way."""

from typing import Any

import pytest

from coordination.fabric import FabricError
from coordination.fabric.misses import MISSES, cost_miss

EXAMPLES: dict[str, dict[str, Any]] = {
    "bare_perimeter": {"length": 20, "width": 12, "set_back": 519.056, "r": 6, "strip_r": 2.5},
    "crushed_platform": {"area": 1.5, "batt": 290, "r": 6, "depth": 200},
    "bare_ceiling": {"area": 150, "fraction": 0.05, "r": 5},
    "empty_bay": {"clear": 555, "r": 2.5},
    "squeezed_strip": {"size": 10, "r": 2.5},
    "open_void": {"area": 0.5, "wall": 4, "r": 6},
    "empty_pocket": {},
    "off_the_plane": {"area": 150, "r": 6},
    "bare_face": {"area": 1, "r": 2.5},
}


def test_every_miss_has_an_example():
    assert set(EXAMPLES) == set(MISSES)


@pytest.mark.parametrize("kind", sorted(EXAMPLES))
def test_miss_costs_something_and_says_what_it_assumes(kind):
    miss = cost_miss(kind, **EXAMPLES[kind])
    assert miss.loss > 0
    assert 0 < miss.share <= 1
    assert len(miss.assumptions) >= 2
    if miss.temperature is not None:
        assert 5 < miss.temperature < 20
        assert miss.mould is (miss.temperature < miss.lowest_safe)
        assert miss.temperature == pytest.approx(5 + 15 * float(miss.frsi or 0))


def test_bare_strip_of_the_example_house_loses_what_the_two_ceilings_differ_by():
    """Strip of 32.14 m² with R2.5: added R 5.10, bare 1.61 (20 × 12 m, R6, base 0.36; derived)."""
    miss = cost_miss("bare_perimeter", **EXAMPLES["bare_perimeter"])
    assert miss.share == pytest.approx(1 - 1.61 / 5.10, abs=0.002)
    assert miss.loss == pytest.approx(240 * (1 / (1.61 + 0.36) - 1 / (5.10 + 0.36)), rel=0.01)


def test_five_per_cent_bare_takes_the_share_of_the_table():
    """R5, base 0.36: 43.9 % (derived)."""
    miss = cost_miss("bare_ceiling", **EXAMPLES["bare_ceiling"])
    assert miss.share == pytest.approx(0.439, abs=5e-4)
    assert miss.loss == pytest.approx(150 * (1 / (2.80 + 0.36) - 1 / 5.36), rel=0.005)


def test_empty_bay_is_as_cold_as_its_factor():
    """0.715, 15.7 °C at 20 inside and 5 outside; below the 0.75 of BRE IP 1/06 (derived)."""
    miss = cost_miss("empty_bay", **EXAMPLES["empty_bay"])
    assert miss.frsi == pytest.approx(0.715, abs=6e-4)
    assert miss.temperature == pytest.approx(15.7, abs=0.06)
    assert float(miss.frsi or 0) < miss.frsi_least
    assert miss.mould is False
    assert cost_miss("empty_bay", **EXAMPLES["empty_bay"], humidity=0.65).mould is True


def test_crushed_platform_follows_the_compression_law():
    """R6 of 290 mm in 200: 4.77 (derived from a glass-fibre maker's chart)."""
    miss = cost_miss("crushed_platform", **EXAMPLES["crushed_platform"])
    assert miss.share == pytest.approx(1 - 4.77 / 6, abs=0.001)
    assert any("R·s^0.62" in words for words in miss.assumptions)


def test_platform_below_half_the_batt_says_that_nobody_measured_it():
    miss = cost_miss("crushed_platform", area=1.5, batt=290, r=6, depth=90)
    assert miss.share == pytest.approx(1 - 90 / 290)
    assert any("no measurement" in words for words in miss.assumptions)


def test_cable_costs_its_strip_only():
    """10 mm cable over 90 mm R2.5: R2.32 under it (derived)."""
    miss = cost_miss("squeezed_strip", **EXAMPLES["squeezed_strip"])
    assert miss.share == pytest.approx(1 - 2.32 / 2.5, abs=0.003)
    assert miss.loss < 0.01


def test_a_bare_face_leaves_a_plasterboard_between_two_still_airs():
    """By hand after ISO 6946:2017, 6.8: 0.13 + 0.059 + 0.13 = 0.319 m²K/W of lining; with the batt 2.819."""
    miss = cost_miss("bare_face", area=3, r=2.5)
    assert miss.loss == pytest.approx(3 * (1 / 0.319 - 1 / 2.819), abs=0.02)
    assert miss.mould is True


def test_batts_off_the_lining_carry_the_second_void_level():
    """ISO 6946 level 2 (value from memory): 0.04·(6/6.36)² over 150 m²."""
    miss = cost_miss("off_the_plane", **EXAMPLES["off_the_plane"])
    assert miss.loss == pytest.approx(150 * 0.04 * (6 / 6.36) ** 2)
    assert miss.temperature is None
    assert miss.mould is None


@pytest.mark.parametrize(
    ("kind", "numbers", "culprit"),
    [
        ("leak", {}, "kind"),
        ("empty_bay", {"clear": 555}, "r"),
        ("empty_bay", {"clear": 555, "r": 2.5, "depth": 10}, "depth"),
        ("empty_bay", {"clear": 555, "r": 2.5, "colour": 1}, "colour"),
        ("squeezed_strip", {"size": 90, "r": 2.5}, "size"),
        ("bare_ceiling", {"area": 150, "fraction": 2, "r": 5}, "fraction"),
        ("bare_ceiling", {"area": 150, "fraction": 0.1, "r": 5, "inside": 5, "outside": 5}, "inside"),
        ("open_void", {"area": 0, "wall": 4, "r": 6}, "area"),
    ],
)
def test_impossible_miss_is_refused_by_name(kind, numbers, culprit):
    with pytest.raises(FabricError) as refused:
        cost_miss(kind, **numbers)
    assert refused.value.input_name == culprit
