"""The combined method of ISO 6946."""

import pytest

from coordination.fabric import FabricError, calculate
from coordination.fabric.bridging import bridged, combine, plain, read_layers
from coordination.fabric.gaps import corrected_u, void_correction

BRICK = 110 / 1000 / 0.65
BOARD = 10 / 1000 / 0.17


def test_timber_frame_of_the_scottish_annex():
    """Scottish Building Standards annex 6.B, timber frame (inputs published, read; results recomputed)."""
    wall = [plain(r) for r in (0.04, 0.132, 0.09, 0.146)] + [bridged(3.333, (1.077, 0.095))]
    wall += [plain(0.10), plain(0.13)]
    done = combine(wall)
    assert done.upper == pytest.approx(3.530, abs=5e-4)
    assert done.lower == pytest.approx(3.418, abs=5e-4)
    assert done.total == pytest.approx(3.474, abs=5e-4)
    assert done.u == pytest.approx(0.288, abs=5e-4)
    assert void_correction(1, 3.333, done.total) == pytest.approx(0.0092, abs=5e-5)
    assert corrected_u(1, 3.333, done.total) == pytest.approx(0.297, abs=5e-4)


@pytest.mark.parametrize(
    ("batt", "upper", "lower", "total", "u", "error"),
    [
        (2.0, 2.3164, 2.2447, 2.2806, 0.4385, 0.016),
        (2.5, 2.6578, 2.5312, 2.5945, 0.3854, 0.024),
        (2.7, 2.7870, 2.6360, 2.7115, 0.3688, 0.028),
    ],
)
def test_brick_veneer_with_twelve_per_cent_pine(batt, upper, lower, total, u, error):
    """Brick veneer on 90 mm studs; layers of NCC 2022 Specification 36 and ISO 6946 (derived)."""
    text = f"0.04,{BRICK},0.18,{batt}/0.75@0.12,{BOARD},0.13"
    done = calculate("bridged", layers=text).result
    assert done["upper"] == pytest.approx(upper, abs=1e-4)
    assert done["lower"] == pytest.approx(lower, abs=1e-4)
    assert done["total"] == pytest.approx(total, abs=1e-4)
    assert done["u"] == pytest.approx(u, abs=1e-4)
    assert done["error"] == pytest.approx(error, abs=5e-4)


def test_five_per_cent_of_the_batts_missing_raises_u_by_a_fifth():
    """The same wall, 0.836 batt, 0.044 void, 0.12 pine (derived)."""
    text = f"0.04,{BRICK},0.18,2.5/0.75@0.12/0.18@0.044,{BOARD},0.13"
    done = combine(read_layers(text))
    assert done.upper == pytest.approx(2.3809, abs=1e-4)
    assert done.lower == pytest.approx(1.9315, abs=1e-4)
    assert done.total == pytest.approx(2.1562, abs=1e-4)
    assert done.u == pytest.approx(0.4638, abs=1e-4)
    assert done.error == pytest.approx(0.104, abs=5e-4)
    assert done.u / 0.38543 == pytest.approx(1.20, abs=0.005)


def test_wall_without_bridges_has_no_error():
    done = combine(read_layers("0.04,2.5,0.13"))
    assert done.upper == pytest.approx(2.67)
    assert done.error == pytest.approx(0, abs=1e-12)


def test_two_bridged_layers_cross_each_other():
    crossed = combine(read_layers("0.17,2.5/0.75@0.1,1.0/0.3@0.1"))
    paths = [(0.81, 3.67), (0.09, 2.97), (0.09, 1.92), (0.01, 1.22)]
    assert crossed.upper == pytest.approx(1 / sum(share / r for share, r in paths))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "number"),
        ("0.04,x", "number"),
        ("2.5/0.75", "share"),
        ("2.5/0.75@1.2", "share"),
        ("2.5/0.75@0.7/0.18@0.7", "more than the whole"),
        ("0.04,-2", "greater than 0"),
        ("0.04,0", "greater than 0"),
    ],
)
def test_unreadable_layers_are_refused_by_name(text, words):
    with pytest.raises(FabricError, match=words) as refused:
        calculate("bridged", layers=text)
    assert refused.value.input_name == "layers"
