"""Layers and pipe lagging. Each check names its source and how well it is known."""

import math

import pytest

from coordination.fabric import FabricError, calculate, find_limit, layers


@pytest.mark.parametrize(
    ("thickness", "conductivity", "r"),
    [(90, 0.036, 2.50), (90, 0.045, 2.00), (200, 0.050, 4.00), (250, 0.050, 5.00), (90, 0.040, 2.25)],
)
def test_r_is_thickness_over_conductivity(thickness, conductivity, r):
    """ISO 6946 basic equation (published, read on a page that reports it); numbers derived."""
    assert layers.layer_r(thickness, conductivity) == pytest.approx(r, abs=1e-9)
    assert calculate("layer", thickness=thickness, conductivity=conductivity).result["r"] == pytest.approx(r)


@pytest.mark.parametrize(("thickness", "conductivity", "r"), [(90, 0.0333, 2.70), (290, 0.0483, 6.00)])
def test_r_of_rounded_conductivities_agrees_to_two_figures(thickness, conductivity, r):
    """ISO 6946 basic equation; numbers derived, conductivity rounded."""
    assert layers.layer_r(thickness, conductivity) == pytest.approx(r, abs=0.005)


def test_conductivity_is_the_inverse_of_r():
    assert layers.conductivity_of(290, layers.layer_r(290, 0.0483)) == pytest.approx(0.0483)


@pytest.mark.parametrize(
    ("material", "thickness", "r"),
    [("gypsum plasterboard", 10, 0.0588), ("medium clay brick", 110, 0.1692), ("radiata pine", 90, 0.750)],
)
def test_layers_of_the_code_have_their_r(material, thickness, r):
    """NCC 2022 Volume One Specification 36 (published, read); products derived."""
    assert layers.material_r(material, thickness) == pytest.approx(r, abs=5e-5)


@pytest.mark.parametrize(("lagging", "flat", "round_"), [(13, 0.325, 0.479), (25, 0.625, 1.096)])
def test_lagging_round_a_pipe_resists_more_than_the_flat_layer(lagging, flat, round_):
    """Heat flow through a cylinder, 20 mm pipe, 0.04 W/(mK); derived."""
    done = calculate("lagging", pipe=20, lagging=lagging, conductivity=0.04).result
    assert done["r_flat"] == pytest.approx(flat, abs=5e-4)
    assert done["r"] == pytest.approx(round_, abs=5e-4)


def test_lagging_of_a_wide_pipe_comes_near_the_flat_layer():
    assert layers.lagging_r(100_000, 13, 0.04) == pytest.approx(0.325, rel=1e-3)
    assert math.isfinite(layers.lagging_r(1, 13, 0.04))


@pytest.mark.parametrize("wrong", [0, -90, math.nan, math.inf])
def test_impossible_thickness_is_refused_by_name(wrong):
    with pytest.raises(FabricError, match="thickness") as refused:
        layers.layer_r(wrong, 0.04)
    assert refused.value.input_name == "thickness"


@pytest.mark.parametrize(
    ("thickness", "r", "plausible"),
    [
        (90, 2.0, True),
        (90, 2.5, True),
        (90, 2.7, True),
        (75, 2.0, True),
        (200, 4.0, True),
        (290, 6.0, True),
        (90, 1.65, True),
        (90, 4.0, False),
        (290, 2.5, False),
    ],
)
def test_label_of_a_bag_is_checked_against_what_batts_conduct(thickness, r, plausible):
    """Usual 90 mm wall and ceiling batts (common practice); range of handbooks (from memory)."""
    assert calculate("label", thickness=thickness, r=r).result["plausible"] is plausible


@pytest.mark.parametrize(("r", "thickness"), [(4, 200), (5, 250), (6, 290)])
def test_nominal_thickness_of_ceiling_batts(r, thickness):
    """Common practice; the label on the bag prevails."""
    assert find_limit(f"batts.thickness_r{r}").value == thickness
    assert layers.is_plausible_label(thickness, r)


def test_unknown_material_is_refused_with_the_known_ones():
    with pytest.raises(FabricError, match="radiata pine"):
        layers.material_r("straw", 90)


def test_thin_air_layers_resist_what_the_table_says():
    """ISO 6946, unventilated air layers, heat flowing sideways (published, from memory)."""
    table = {5: 0.11, 7: 0.13, 10: 0.15, 15: 0.17, 25: 0.18, 50: 0.18}
    assert {mm: layers.still_air_r(mm) for mm in table} == pytest.approx(table)
    assert 0 < layers.still_air_r(1) < 0.11
