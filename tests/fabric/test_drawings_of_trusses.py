"""Where the pipes of the roof space are drawn: the right ones over the batts, the wrong one in them."""

import math

import pytest

from coordination.fabric.drawings import draw
from tests.fabric.test_drawings import SVG, boxes, parse, points, spoken
from tests.fabric.test_drawings_of_members import over, rings


def parts(numbers):
    """Batt, bottom chord, top chord, right pipes and the wrong one, as drawn."""
    root = parse(draw("truss_pipes", **numbers))
    chords = [
        points(path.get("d"))
        for path in root.iter(f"{SVG}path")
        if path.get("class") == "ink" and path.get("fill-opacity") == "0.2"
    ]
    bottom, top = chords
    return boxes(root, "batt")[0], bottom, top, rings(root, "open"), rings(root, "held")[0]


def at(line, x):
    (x1, y1), (x2, y2) = line
    return y1 + (y2 - y1) * (x - x1) / (x2 - x1)


@over(
    pitch=(3, 5, 12, 15, 22.5, 30, 45, 60),
    batt=(175, 290, 500),
    chord=(35, 90, 140),
    pipe=(20, 46, 110),
)
def test_right_pipes_lie_over_the_batt_under_the_top_chord_and_the_wrong_one_in_it(numbers):
    batt, bottom, top, right, wrong = parts(numbers)
    under = (top[3], top[2])
    for x, y, radius in right:
        assert y + radius < batt[1], "clear of the batt below"
        # The nearest point of the chord's underside, across the slope.
        slant = math.cos(math.radians(numbers["pitch"]))
        assert (y - at(under, x)) * slant >= radius - 0.2, "under the top chord, not in it"
        assert x + radius <= batt[2]
    x, y, radius = wrong
    assert batt[0] <= x - radius
    assert x + radius <= batt[2]
    assert y + radius > batt[1], "in the thickness of the batt, which it lifts"
    assert y + radius == pytest.approx(min(y for _x, y in bottom), abs=0.2), "on the bottom chord"
    assert y + radius <= batt[3]


@over(pitch=(3, 12, 15, 22.5, 30, 60), batt=(175, 290), chord=(90, 140))
def test_batt_ends_where_the_top_chord_comes_down_on_it(numbers):
    batt, _bottom, top, _right, _wrong = parts(numbers)
    assert batt[1] >= at((top[3], top[2]), batt[0]) - 0.3
    slope = math.degrees(math.atan2(top[0][1] - top[1][1], top[1][0] - top[0][0]))
    assert slope == pytest.approx(numbers["pitch"], abs=0.3)


def test_roof_that_is_shown_without_its_heel_says_so():
    assert "heel lies further out" in spoken(draw("truss_pipes", pitch=12, batt=290))
    assert "heel lies further out" not in spoken(draw("truss_pipes", pitch=30, batt=290))
