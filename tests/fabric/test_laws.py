"""Laws that hold for every house: which way a number moves, and inverses that return."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coordination.fabric import FabricError, compression, eaves, fill, gaps, surface
from coordination.fabric.bridging import bridged, combine, plain

pitches = st.floats(1, 60)
heels = st.floats(0, 400)
batts = st.floats(50, 400)
airways = st.floats(0, 60)
rs = st.floats(0.2, 10)
bases = st.floats(0.1, 1)
shares = st.floats(0, 1)


@given(rs, bases, shares, shares)
def test_u_rises_with_the_bare_share(r, base, one, other):
    less, more = sorted((one, other))
    assert 1 / (gaps.added_r(r, base, less) + base) <= 1 / (gaps.added_r(r, base, more) + base) + 1e-12


@given(rs, bases, shares)
def test_bare_share_leaves_something_between_nothing_and_all(r, base, fraction):
    assert -1e-9 <= gaps.added_r(r, base, fraction) <= r + 1e-9
    assert 0 <= gaps.lost_share(r, base, fraction) <= 1


@given(rs, bases, st.floats(0, 0.999))
def test_restored_ceiling_is_the_ceiling_that_was_asked_for(r, base, part):
    fraction = part * gaps.most_bare(r, base)
    needed = gaps.restoring_r(r, base, fraction)
    assert needed >= r - 1e-9
    assert gaps.added_r(needed, base, fraction) == pytest.approx(r, rel=1e-6)


@given(rs, bases, st.floats(1, 5))
def test_share_beyond_the_limit_is_never_answered(r, base, beyond):
    fraction = min(1.0, gaps.most_bare(r, base) * beyond)
    with pytest.raises(FabricError, match="cannot be recovered"):
        gaps.restoring_r(r, base, fraction)


@given(pitches, pitches, heels, batts, airways)
def test_set_back_falls_with_the_pitch(one, other, heel, batt, airway):
    flat, steep = sorted((one, other))
    assert eaves.set_back(steep, heel, batt, airway) <= eaves.set_back(flat, heel, batt, airway) + 1e-9


@given(pitches, heels, heels, batts, airways)
def test_set_back_falls_with_the_heel(pitch, one, other, batt, airway):
    low, high = sorted((one, other))
    assert eaves.set_back(pitch, high, batt, airway) <= eaves.set_back(pitch, low, batt, airway)


@given(pitches, heels, batts, airways)
def test_batt_fits_from_its_set_back_on_and_not_before(pitch, heel, batt, airway):
    at = eaves.set_back(pitch, heel, batt, airway)
    assert eaves.room_for_batt(pitch, heel, airway, at) >= batt - 1e-6
    if at > 1:
        assert eaves.room_for_batt(pitch, heel, airway, at - 1) < batt


@given(pitches, batts, airways, st.floats(35, 140))
def test_full_heel_is_the_heel_that_needs_no_set_back(pitch, batt, airway, chord):
    choices: list[tuple[eaves.Line, float]] = [("roof", 0.0), ("chord", chord)]
    for line, depth in choices:
        heel = eaves.full_heel(pitch, batt, airway, line, depth)
        assert eaves.set_back(pitch, heel, batt, airway, line, depth) == pytest.approx(0, abs=1e-6)


@given(rs, batts, st.floats(0.5, 1.5), st.floats(0.5, 1.5))
def test_r_never_rises_with_compression_and_its_bound_lies_below(r, batt, one, other):
    tight, loose = sorted((one, other))
    assume(tight * batt / batt >= 0.5)
    left = compression.compressed_r(r, batt, tight * batt)
    assert left <= compression.compressed_r(r, batt, loose * batt) + 1e-12
    assert compression.compressed_r_low(r, batt, tight * batt) <= left + 1e-12 <= r + 1e-9


@given(rs, batts, st.floats(0.5, 1))
def test_squeezed_batt_resists_more_per_millimetre(r, batt, share):
    assume(share * batt / batt >= 0.5)
    assert compression.compressed_r(r, batt, share * batt) / (share * batt) >= r / batt - 1e-12


@given(st.lists(rs, min_size=1, max_size=5), rs, rs, st.floats(0, 0.5))
def test_upper_limit_is_never_below_the_lower(plains, main, bridge, share):
    done = combine([*(plain(r) for r in plains), bridged(main, (bridge, share))])
    assert done.upper >= done.lower - 1e-9
    assert done.lower - 1e-9 <= done.total <= done.upper + 1e-9
    assert done.u == pytest.approx(1 / done.total)
    assert 0 <= done.error < 1


@given(st.floats(0, 40))
def test_vapour_pressure_and_temperature_are_inverses(temperature):
    assert surface.temperature_at(surface.saturation_pressure(temperature)) == pytest.approx(
        temperature, abs=1e-9
    )


@given(st.floats(0.05, 3), st.floats(10, 25), st.floats(-20, 9))
def test_surface_lies_between_inside_and_outside(u, inside, outside):
    assert outside < surface.surface_temperature(u, inside, outside) < inside


@given(st.floats(15, 25), st.floats(0.3, 0.79))
def test_mould_comes_before_dew(inside, humidity):
    assert surface.dew_point(inside, humidity) < surface.lowest_safe_temperature(inside, humidity) < inside


stocks = st.lists(
    st.tuples(st.integers(40, 300), st.floats(1, 7)).map(lambda pair: fill.Batt(*pair)),
    min_size=1,
    max_size=8,
)


@given(st.integers(40, 700), stocks, st.integers(0, 30))
def test_no_pair_of_the_stock_fills_better_than_the_one_chosen(depth, stock, squeeze):
    totals = {a.thickness for a in stock} | {a.thickness + b.thickness for a in stock for b in stock}
    fitting = [total for total in totals if total - depth <= min(squeeze, 0.05 * total)]
    if not fitting:
        with pytest.raises(FabricError):
            fill.fill_depth(depth, stock, squeeze)
        return
    best = fill.fill_depth(depth, stock, squeeze)
    assert abs(depth - best.total) == min(abs(depth - total) for total in fitting)
    assert best.total == best.first + best.second
    assert best.air == max(0, depth - best.total)


@given(st.floats(0.1, 500), st.floats(300, 600), st.floats(300, 2000))
def test_batts_cover_the_area_and_one_less_would_not(area, width, length):
    count = fill.count_batts(area, width, length)
    piece = width * length / 1e6
    assert count * piece >= area * 1.03 - 1e-6
    assert (count - 1) * piece < area * 1.03
    assert count == math.ceil(count)
