"""What a miss costs, against numbers reckoned another way."""

from typing import Any

import pytest

from coordination.fabric import FabricError
from coordination.fabric.misses import MISSES, Rank, cost_miss
from coordination.fabric.misses.leaks import airflow

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
    "bare_strip": {"area": 32, "ceiling": 160, "sides": 2, "set_back": 519, "r": 6, "strip_r": 2.5},
    "bare_floor": {"area": 1, "r": 3.5},
    "empty_garage_bay": {"clear": 405, "r": 2.5},
    "gap_between_pieces": {"clear": 405, "r": 2.5},
    "bare_lintel": {"lintel": 45, "r": 2.5},
    "empty_rim": {"height": 300, "r": 2.5, "outside_r": 0.13},
    "open_hole": {},
    "open_frame": {},
    "hot_fitting": {"clearance": 200, "r": 6},
}
WITHOUT_HEAT = {
    "fumes": Rank.DANGER,
    "pierced_cable": Rank.DANGER,
    "live_frame": Rank.DANGER,
    "rain_in": Rank.DAMP,
    "ground_damp": Rank.DAMP,
    "stale_roof_air": Rank.DAMP,
    "damp_air_inside": Rank.DAMP,
    "leaking_pipe": Rank.DAMP,
    "frozen_pipe": Rank.DAMP,
    "metal_bridge": Rank.METAL,
    "noise": Rank.COMFORT,
}


def test_every_miss_has_an_example():
    assert set(EXAMPLES) | set(WITHOUT_HEAT) == set(MISSES)


@pytest.mark.parametrize("kind", sorted(EXAMPLES))
def test_miss_costs_something_and_says_what_it_assumes(kind):
    miss = cost_miss(kind, **EXAMPLES[kind])
    assert miss.loss > 0
    assert miss.share is None or 0 < miss.share <= 1
    assert len(miss.assumptions) >= 2
    assert miss.rank is Rank.DANGER or miss.rank is (Rank.DAMP if miss.mould else Rank.HEAT)
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


@pytest.mark.parametrize(("kind", "rank"), WITHOUT_HEAT.items())
def test_what_is_no_loss_of_heat_has_a_rank_and_a_reason_and_no_figure(kind, rank):
    miss = cost_miss(kind)
    assert (miss.rank, miss.loss, miss.share, miss.temperature, miss.mould) == (rank, 0, None, None, None)
    assert miss.assumptions


def test_one_side_of_a_strip_costs_its_part_of_the_whole():
    """By hand, as parallel paths: half of 32 m², R2.5 in front of 0.36, or bare."""
    side = cost_miss("bare_strip", **EXAMPLES["bare_strip"])
    assert side.loss == pytest.approx(16 * (1 / 0.36 - 1 / 2.86))
    whole = cost_miss("bare_strip", **{**EXAMPLES["bare_strip"], "sides": 1})
    assert whole.loss == pytest.approx(2 * side.loss)
    assert whole.share is not None
    assert side.share is not None
    assert whole.share > side.share
    # The other side's 16 m² keep R2.5; by hand, added R of 32 m² at R2.5 and 160 at R6, 16 of them bare.
    drawn, left = ((192 / (16 / (first + 0.36) + 16 / 2.86 + 160 / 6.36) - 0.36) for first in (2.5, 0))
    assert side.share == pytest.approx(1 - left / drawn)


def test_a_strip_by_its_area_agrees_with_one_by_length_and_width():
    old = EXAMPLES["bare_perimeter"]
    by_length = cost_miss("bare_perimeter", **old)
    strip = 240 - (20 - 2 * 0.519056) * (12 - 2 * 0.519056)
    numbers = {name: old[name] for name in ("set_back", "r", "strip_r")}
    by_area = cost_miss("bare_strip", area=strip, ceiling=240 - strip, sides=1, **numbers)
    assert by_area.loss == pytest.approx(by_length.loss)
    assert by_area.share == pytest.approx(by_length.share)


def test_a_lintel_misses_only_the_piece_beside_it():
    """By hand after ISO 6946: 45 mm of pine (0.375) stay; 45 mm of air (0.18) for half a batt (1.25)."""
    around = 0.04 + 0.11 / 0.65 + 0.18 + 0.045 / 0.12 + 0.01 / 0.17 + 0.13
    miss = cost_miss("bare_lintel", **EXAMPLES["bare_lintel"])
    assert miss.loss == pytest.approx(0.24 * (1 / (around + 0.18) - 1 / (around + 1.25)))
    bay = cost_miss("empty_bay", clear=1200, height=0.2, r=2.5)
    assert miss.loss < bay.loss, "timber and half a batt are less than a whole one"


def test_a_rim_follows_the_depth_of_the_floor_zone():
    """By hand: cladding 0.13, 45 mm of pine 0.375, air of the floor zone 0.13, with R2.5 and without."""
    miss = cost_miss("empty_rim", **EXAMPLES["empty_rim"])
    assert miss.loss == pytest.approx(0.3 * (1 / 0.635 - 1 / 3.135))
    deeper = cost_miss("empty_rim", **{**EXAMPLES["empty_rim"], "height": 600})
    assert deeper.loss == pytest.approx(2 * miss.loss)


def test_a_gap_between_pieces_is_a_slice_of_an_empty_bay_and_claims_no_cold_spot():
    gap = cost_miss("gap_between_pieces", **EXAMPLES["gap_between_pieces"])
    assert gap.loss == pytest.approx(cost_miss("empty_bay", clear=405, r=2.5).loss * 0.010 / 2.4)
    assert gap.temperature is None


def test_a_wall_to_the_garage_has_plasterboard_on_both_sides_and_no_brick():
    miss = cost_miss("empty_garage_bay", **EXAMPLES["empty_garage_bay"])
    side = 0.01 / 0.17 + 0.13
    area = 0.405 * 2.4
    assert miss.loss == pytest.approx(area * (1 / (2 * side + 0.18) - 1 / (2 * side + 2.5)))
    assert not any("brick" in words for words in miss.assumptions)


def test_air_through_gaps_follows_the_worked_example_of_the_handbook():
    """ASHRAE Handbook of Fundamentals, infiltration, basic model (from memory): 500 cm² in two storeys of
    shelter class 3 (0.000290, 0.000231), 39 K and 6.7 m/s give 0.074 m³/s."""
    assert airflow(500, 39, 6.7, stack=0.00029, shelter=0.000231) == pytest.approx(74, abs=0.5)


def test_a_hole_left_open_loses_the_heat_of_its_air():
    """By hand: 5 less 1 cm², 15 K, 3 m/s: 4·√(0.000145·15 + 0.000104·9) = 0.223 L/s, 1.2 J/(L·K)."""
    assert cost_miss("open_hole").loss == pytest.approx(1.2 * 0.2231, abs=2e-4)
    assert cost_miss("open_hole", outside=-5).loss > cost_miss("open_hole").loss
    assert cost_miss("open_frame", area=3.6).loss == pytest.approx(2 * cost_miss("open_frame").loss)


def test_the_clear_ring_of_a_hot_fitting_costs_what_stays_bare():
    """Cut-outs as in gaps: 90 mm with 200 mm beside it, π·0.245² = 0.1886 m²."""
    miss = cost_miss("hot_fitting", **EXAMPLES["hot_fitting"])
    assert miss.loss == pytest.approx(0.1886 * (1 / 0.36 - 1 / 6.36), rel=1e-3)
    assert miss.rank is Rank.DANGER


def test_between_steel_nothing_is_called_free_of_mould():
    """ISO 6946: its combined method is not for insulation bridged by metal."""
    timber = cost_miss("empty_bay", clear=599, r=2.5)
    steel = cost_miss("empty_bay", clear=599, r=2.5, frame="steel")
    assert (timber.mould, steel.mould) == (False, None)
    assert steel.loss == timber.loss, "the path between the members is the same"
    assert any("steel" in words for words in steel.assumptions)
    face = cost_miss("bare_face", area=1, r=2.5, frame="steel")
    assert face.mould is True, "what is too cold between the members is colder beside them"
    assert cost_miss("open_void", area=0.5, wall=4, r=6, frame="steel").between_steel is False


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
        ("bare_strip", {**EXAMPLES["bare_strip"], "set_back": 0}, "set_back"),
        ("bare_strip", {**EXAMPLES["bare_strip"], "sides": 0}, "sides"),
        ("bare_strip", {**EXAMPLES["bare_strip"], "sides": 0.5}, "sides"),
        ("bare_lintel", {"lintel": 90, "r": 2.5}, "lintel"),
        ("empty_pocket", {"frame": "steel"}, "frame"),
        ("empty_bay", {"clear": 405, "r": 2.5, "frame": "bamboo"}, "frame"),
        ("empty_bay", {"clear": 405, "r": 2.5, "humidity": 1.5}, "humidity"),
        ("open_hole", {"sealed": 6}, "sealed"),
        ("open_hole", {"wind": -1}, "wind"),
        ("fumes", {"area": 1}, "area"),
    ],
)
def test_impossible_miss_is_refused_by_name(kind, numbers, culprit):
    with pytest.raises(FabricError) as refused:
        cost_miss(kind, **numbers)
    assert refused.value.input_name == culprit
