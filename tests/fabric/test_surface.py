"""Surface temperature, dew and mould."""

import pytest

from coordination.fabric import FabricError, calculate, surface
from coordination.fabric.layers import VENEER_INSIDE, VENEER_OUTSIDE


def test_factor_of_a_measured_surface():
    """20 °C inside, -5 outside, 12.6 at the surface: 0.704, as in DIN 4108-2 (published, read)."""
    assert pytest.approx(0.704) == (12.6 - -5) / (20 - -5)
    limit = calculate("mould_limit", inside=20, outside=-5, humidity=0.5).result
    assert limit["frsi_needed"] == pytest.approx(0.704, abs=0.002)


@pytest.mark.parametrize(("factor", "temperature"), [(0.70, 12.5), (0.75, 13.75)])
def test_factor_and_temperature_are_two_words_for_one_thing(factor, temperature):
    """20 °C inside, -5 outside (derived). A U on the mould film gives 1 - 0.25·U."""
    u = (1 - factor) / 0.25
    done = calculate("surface", u=u, inside=20, outside=-5).result
    assert done["frsi"] == pytest.approx(factor)
    assert done["temperature"] == pytest.approx(temperature)


def test_mould_begins_at_twelve_point_six_and_dew_at_nine_point_three():
    """20 °C and 50 %: 12.6 °C and 9.3 °C (published, read with DIN 4108-2)."""
    done = calculate("mould_limit", inside=20, outside=-5, humidity=50).result
    assert done["lowest_safe"] == pytest.approx(12.62, abs=0.006)
    assert done["dew_point"] == pytest.approx(9.27, abs=0.006)


@pytest.mark.parametrize(("humidity", "lowest", "factor"), [(0.60, 15.43, 0.696), (0.65, 16.69, 0.779)])
def test_damp_rooms_need_warmer_surfaces(humidity, lowest, factor):
    """ISO 13788 formula, 20 °C inside, 5 outside (derived)."""
    done = calculate("mould_limit", inside=20, outside=5, humidity=humidity).result
    assert done["lowest_safe"] == pytest.approx(lowest, abs=0.006)
    assert done["frsi_needed"] == pytest.approx(factor, abs=6e-4)


@pytest.mark.parametrize(
    ("r", "factor", "temperature"), [(2.5, 0.922, 18.8), (0.75, 0.827, 17.4), (0.18, 0.715, 15.7)]
)
def test_batt_stud_and_empty_bay_of_a_brick_veneer_wall(r, factor, temperature):
    """Layers of NCC 2022 Specification 36 and ISO 6946 on the mould film of ISO 13788 (derived)."""
    u = 1 / (VENEER_OUTSIDE + r + VENEER_INSIDE)
    done = calculate("surface", u=u, inside=20, outside=5, humidity=0.5, film=0.13).result
    assert done["frsi"] == pytest.approx(factor, abs=6e-4)
    assert done["temperature"] == pytest.approx(temperature, abs=0.06)
    assert (float(done["frsi"]) < 0.75) is (r == 0.18)


def test_mould_is_told_from_the_surface_and_the_humidity():
    cold = {"u": 1.2, "inside": 20, "outside": 0}
    assert calculate("surface", **cold, humidity=0.5).result["mould"] is False
    assert calculate("surface", **cold, humidity=0.65).result["mould"] is True


def test_saturation_pressure_agrees_with_the_steam_tables():
    """2339 Pa at 20 °C, 1228 Pa at 10 °C: IAPWS saturation tables (from memory)."""
    assert surface.saturation_pressure(20) == pytest.approx(2339, rel=2e-3)
    assert surface.saturation_pressure(10) == pytest.approx(1228, rel=2e-3)


@pytest.mark.parametrize(
    ("name", "inputs"),
    [
        ("u", {"u": 0, "inside": 20, "outside": 5}),
        ("u", {"u": 9, "inside": 20, "outside": 5}),
        ("inside", {"u": 0.4, "inside": 5, "outside": 5}),
        ("outside", {"u": 0.4, "inside": 20, "outside": -273}),
        ("humidity", {"u": 0.4, "inside": 20, "outside": 5, "humidity": 101}),
        ("humidity", {"u": 0.4, "inside": 20, "outside": 5, "humidity": 1.5}),
        ("humidity", {"u": 0.4, "inside": 20, "outside": 5, "humidity": 0}),
    ],
)
def test_impossible_climates_are_refused_by_name(name, inputs):
    with pytest.raises(FabricError) as refused:
        calculate("surface", **inputs)
    assert refused.value.input_name == name
