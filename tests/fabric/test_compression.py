"""Squeezed batts against the printed chart of a glass-fibre maker."""

import math

import pytest

from coordination.fabric import FabricError, calculate
from coordination.fabric.compression import CHART as KEPT
from coordination.fabric.compression import charted_r, compressed_r, compressed_r_low

# Chart of a glass-fibre maker printed in a Journal of Light Construction question-and-answer page
# (published, read): label R (h·ft²·°F/Btu), thickness (in): R left in a cavity of so many inches.
CHART = {
    (19, 6.25): {3.5: 14, 5.5: 18},
    (21, 5.5): {3.5: 15},
    (22, 6.5): {3.5: 15, 5.5: 20},
    (25, 8.0): {5.5: 20, 7.25: 24},
    (30, 8.25): {5.5: 22, 7.25: 27},
    (30, 10.0): {5.5: 21, 7.25: 26, 9.25: 29},
    (38, 10.0): {7.25: 30, 9.25: 36},
    (38, 12.0): {7.25: 28, 9.25: 33, 11.25: 37},
}
CELLS = [(r, batt, depth, left) for (r, batt), row in CHART.items() for depth, left in row.items()]
TO_METRIC = 5.678


@pytest.mark.parametrize(("r", "batt", "depth", "left"), CELLS)
def test_fitted_law_stays_within_six_per_cent_of_every_cell_of_the_chart(r, batt, depth, left):
    reckoned = compressed_r(r / TO_METRIC, batt * 25.4, depth * 25.4)
    assert reckoned == pytest.approx(left / TO_METRIC, rel=0.0615)


def test_fitted_law_has_the_error_that_it_claims():
    """Root-mean-square 3.2 % over the 17 squeezed cells (derived)."""
    errors = [compressed_r(r, batt, depth) / left - 1 for r, batt, depth, left in CELLS]
    assert len(errors) == 17
    assert math.sqrt(sum(error**2 for error in errors) / 17) == pytest.approx(0.032, abs=0.0006)
    assert max(abs(error) for error in errors) == pytest.approx(0.061, abs=0.0006)


@pytest.mark.parametrize(("r", "batt", "depth", "left"), CELLS)
def test_proportional_bound_lies_under_every_cell_but_never_far_below(r, batt, depth, left):
    bound = compressed_r_low(r, batt, depth)
    assert left * 0.755 < bound <= left


@pytest.mark.parametrize(("r", "batt", "depth", "left"), CELLS)
def test_the_chart_that_is_kept_is_the_printed_one(r, batt, depth, left):
    assert charted_r(r, batt, depth) == pytest.approx(left / TO_METRIC)


def test_the_chart_keeps_its_printed_values_in_metric():
    """R19 is 3.35 m²K/W in full space and 3.17 at 18 (same page, converted); a full space keeps the label."""
    assert charted_r(19, 6.25, 7.25) == pytest.approx(3.35, abs=0.005)
    assert charted_r(19, 6.25, 5.5) == pytest.approx(3.17, abs=0.005)
    for (label, thickness), row in KEPT.items():
        lefts = [row[cavity] for cavity in sorted(row)]
        assert lefts == sorted(lefts), "deeper is never worse"
        assert all(left == label for cavity, left in row.items() if cavity >= thickness)


def test_label_in_full_space_keeps_its_r():
    """Same chart: R19 in 7.25 in stays 19, R38 (10 in) in 11.25 in stays 38 (published, read)."""
    assert compressed_r(19, 6.25, 7.25) == 19
    assert compressed_r_low(38, 10, 11.25) == 38


@pytest.mark.parametrize(
    ("r", "batt", "depth", "fitted", "low"),
    [
        (5, 250, 200, 4.35, 4.00),
        (6, 290, 250, 5.47, 5.17),
        (6, 290, 200, 4.77, 4.14),
        (3.5, 140, 90, 2.66, 2.25),
        (2.5, 90, 80, 2.32, 2.22),
    ],
)
def test_metric_batts_squeezed(r, batt, depth, fitted, low):
    """The same two laws on metric batts (derived)."""
    done = calculate("compressed", r=r, batt=batt, depth=depth).result
    assert done["r"] == pytest.approx(fitted, abs=0.006)
    assert done["r_low"] == pytest.approx(low, abs=0.006)


def test_r19_in_five_and_a_half_inches_is_near_the_chart():
    """17.55 by the law, 18 on the chart (published, read)."""
    assert compressed_r(19, 6.25, 5.5) == pytest.approx(17.55, abs=0.005)


def test_half_the_thickness_is_the_last_that_is_answered():
    assert compressed_r(6, 290, 145) == pytest.approx(6 * 0.5**0.62)
    with pytest.raises(FabricError, match="half") as refused:
        compressed_r(6, 290, 144.9)
    assert refused.value.input_name == "depth"
