"""What the frame is made of, and what lies under and beside it: measured over a grid of houses."""

import itertools
from typing import Any

import pytest

from coordination.fabric import fill
from coordination.fabric.drawings import DRAWINGS, draw
from tests.fabric.test_drawings import NUMBERS, SVG, boxes, parse, points, spoken

STEEL = sorted(name for name, one in DRAWINGS.items() if "frame" in [given.name for given in one.inputs])
TURNED = [(name, {"frame": "steel"}) for name in STEEL] + [
    ("eave", {"outside": "cladding"}),
    ("floor_zone", {"below": "subfloor"}),
]
FLANGE = 40
"""Width of a flange of the common sections of house frames: practice, 35 to 50 mm."""


def grid(**axes):
    return [dict(zip(axes, values, strict=True)) for values in itertools.product(*axes.values())]


def said(numbers):
    return " ".join(f"{key} {value}" for key, value in numbers.items())


def over(**axes):
    return pytest.mark.parametrize("numbers", grid(**axes), ids=said)


def sections(root):
    """The sections of steel as (left, top, right, bottom), in the order of painting."""
    found = []
    for path in root.iter(f"{SVG}path"):
        if "steel" in path.get("class", "").split():
            xs, ys = zip(*points(path.get("d")), strict=True)
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


def rings(root, kind):
    """Circles of a kind as (x, y, radius)."""
    return [
        tuple(float(one.get(key)) for key in ("cx", "cy", "r"))
        for one in root.iter(f"{SVG}circle")
        if kind in one.get("class", "").split()
    ]


@pytest.mark.parametrize(("name", "turned"), TURNED)
def test_another_construction_is_drawn_and_spoken_otherwise(name, turned):
    numbers = NUMBERS.get(name, {})
    usual, other = draw(name, **numbers), draw(name, **numbers, **turned)
    marks = [[one.get("d") for one in parse(text).iter(f"{SVG}path")] for text in (usual, other)]
    assert marks[0] != marks[1]
    assert spoken(usual) != spoken(other)
    assert "{" not in other


@pytest.mark.parametrize("name", STEEL)
def test_frame_of_steel_shows_sections_and_no_crossed_timber(name):
    """Sawn timber cut across is the only mark of four lines that cross in a box: none is left."""
    numbers = NUMBERS.get(name, {})
    crosses = "ink"
    for frame, there in (("timber", False), ("steel", True)):
        root = parse(draw(name, **numbers, frame=frame))
        assert bool(sections(root)) is there
        crossed = [
            one
            for one in root.iter(f"{SVG}path")
            if one.get("class") == crosses and one.get("d").count("M") == 2 and one.get("stroke-opacity")
        ]
        # A platform stands on packers, and they are of timber on steel too.
        assert bool(crossed) is (not there or name == "platform")


@pytest.mark.parametrize(
    ("name", "inputs"), [("stud_bay", ("frame",)), ("eave", ("frame", "outside", "plate"))]
)
def test_house_set_out_without_these_numbers_is_drawn_of_timber_and_brick(name, inputs):
    usual: dict[str, Any] = {"frame": "timber", "outside": "masonry", "plate": 90}
    numbers = NUMBERS.get(name, {})
    assert draw(name, **numbers) == draw(name, **numbers, **{key: usual[key] for key in inputs})


@over(centres=(300, 450, 600), depth=(70, 90, 140), stud=(0.4, 1, 3))
def test_batt_between_studs_of_steel_runs_from_web_to_web_into_the_hollow(numbers):
    root = parse(draw("stud_bay", **numbers, frame="steel"))
    left, right = sections(root)[:2]
    scale = (left[3] - left[1]) / numbers["depth"]
    assert (right[0] - left[0]) / scale == pytest.approx(numbers["centres"], rel=0.01)
    assert (left[2] - left[0]) / scale == pytest.approx(FLANGE, rel=0.03)
    batt = max(boxes(root, "batt"), key=lambda box: box[2] - box[0])
    assert left[0] < batt[0] < left[2], "the batt begins inside the left section, behind its lips"
    # Pens have a width: the batt's edges lie within 3 units of the webs.
    assert batt[0] - left[0] <= 3
    assert 0 <= right[0] - batt[2] <= 3
    assert f"{fill.clear_bay(numbers['centres'], numbers['stud']):.0f} clear" in draw(
        "stud_bay", **numbers, frame="steel"
    )


@over(depth=(70, 90, 140))
def test_pocket_of_a_steel_corner_is_the_hollow_between_two_webs(numbers):
    root = parse(draw("pockets", **numbers, frame="steel", stud=1))
    first, second = sections(root)[:2]
    corner, junction = boxes(root, "now")[:2]
    assert first[0] <= corner[0] < first[2]
    assert corner[2] == pytest.approx(second[0], abs=1.5)
    assert corner[3] - corner[1] == pytest.approx(first[3] - first[1], abs=0.3), "its full depth"
    backing = sections(root)[5]
    assert junction[3] >= backing[3] - 0.3
    assert junction[1] < backing[1], "the batt runs past the lips into the hollow of the stud that is met"


@over(depth=(70, 90, 140), lintel=(35, 45, 70))
def test_hollow_of_a_steel_lintel_is_filled_with_what_is_left_of_the_wall(numbers):
    root = parse(draw("lintel", **numbers, frame="steel"))
    lintel = sections(root)[1]
    batt = boxes(root, "now")[0]
    scale = (lintel[2] - lintel[0]) / numbers["lintel"]
    assert batt[0] - lintel[0] <= 3
    assert (batt[2] - lintel[0]) / scale == pytest.approx(numbers["depth"], rel=0.02)


@over(plate=(70, 90, 140), pitch=(12, 22.5, 35), frame=("timber", "steel"))
def test_top_of_the_wall_at_the_eave_is_as_deep_as_its_studs(numbers):
    root = parse(draw("eave", **{**NUMBERS["eave"], **numbers}))
    full = max(boxes(root, "batt"), key=lambda box: box[2])
    scale = (full[3] - full[1]) / 290
    plates = sections(root) if numbers["frame"] == "steel" else boxes(root, "ink")[:2]
    lining = boxes(root, "board")[-1]
    for plate in plates:
        assert (plate[2] - plate[0]) / scale == pytest.approx(numbers["plate"], abs=2)
        assert lining[0] == pytest.approx(plate[2], abs=0.3), "the lining begins at the plate's inner face"


@over(pitch=(5, 22.5, 60), heel=(0, 100, 315))
def test_outside_the_eave_stands_brick_or_cladding_and_neither_reaches_the_roof(numbers):
    for outside, most in (("masonry", 112), ("cladding", 30)):
        root = parse(draw("eave", batt=290, **numbers, outside=outside))
        full = max(boxes(root, "batt"), key=lambda box: box[2])
        scale = (full[3] - full[1]) / 290
        leaf = boxes(root, "soft" if outside == "masonry" else "board")[0]
        # A board is never drawn thinner than 3 units, or it would not be seen.
        assert leaf[2] - leaf[0] <= max(most * scale, 3.1)
        roof = next(path for path in root.iter(f"{SVG}path") if "roof" in path.get("class").split())
        (x1, y1), (x2, y2) = points(roof.get("d"))
        for x in (leaf[0], leaf[2]):
            assert leaf[1] > y1 + (y2 - y1) * (x - x1) / (x2 - x1)


@over(depth=(240, 300, 350))
def test_floor_over_an_open_subfloor_names_no_garage_and_has_no_lining_below(numbers):
    garage, open_below = (draw("floor_zone", **numbers, below=below) for below in ("garage", "subfloor"))
    assert "garage" in garage
    assert "garage" not in open_below.lower()
    assert "bedroom" not in open_below
    assert len(boxes(parse(garage), "board")) == len(boxes(parse(open_below), "board")) + 1


@over(depth=(240, 300, 450), above=(75, 140, 200))
def test_duct_in_the_floor_zone_leaves_what_is_drawn_above_it_and_the_batts_end_there(numbers):
    depth, above = numbers["depth"], numbers["above"]
    root = parse(draw("floor_duct", **numbers))
    duct = boxes(root, "duct")[0]
    floor, lining = boxes(root, "board")[:2]
    scale = (lining[1] - floor[3]) / depth
    assert (duct[1] - floor[3]) / scale == pytest.approx(above, abs=2)
    assert duct[3] == pytest.approx(lining[1], abs=0.3)
    over_it = [box for box in boxes(root, "batt") if box[0] < duct[0] and box[2] > duct[2]]
    total = fill.fill_depth(above, fill.read_stock("75:2.0,90:2.5,140:3.5,165:4.1,200:4.0")).total
    assert max(box[3] for box in over_it) <= duct[1] + 0.3
    assert min(box[1] for box in over_it) == pytest.approx(floor[3], abs=0.3), "hard against the floor"
    assert (max(box[3] for box in over_it) - floor[3]) / scale == pytest.approx(total, abs=2)


@over(depth=(75, 140, 300, 600), waste=(65, 110))
def test_waste_in_the_floor_zone_stands_in_its_bay_clear_of_batt_and_joists(numbers):
    root = parse(draw("floor_pipes", **numbers))
    waste, pipe = rings(root, "pipe")
    joists = [box for box in boxes(root, "ink") if box[3] - box[1] > 15 and box[2] - box[0] < 25]
    floor, lining = boxes(root, "board")[:2]
    for x, y, radius in (waste, pipe):
        assert floor[3] <= y - radius
        assert y + radius <= lining[1]
        for box in (*boxes(root, "batt"), *joists):
            assert x + radius <= box[0] or x - radius >= box[2], box
    assert waste[1] - waste[2] >= pipe[1] + pipe[2], "the two do not touch"


@over(depth=(75, 240, 300), wall=(70, 90, 140), out=(0, 300))
def test_rim_is_closed_by_a_batt_of_the_full_depth_out_to_the_cantilever_s_end(numbers):
    """With a stock that fills the depth; what another leaves is told in words."""
    root = parse(draw("rim", **numbers, stock=f"{numbers['depth']}:3"))
    batt = boxes(root, "now")[0]
    rim = next(box for box in boxes(root, "ink") if box[2] == pytest.approx(batt[0], abs=0.2))
    scale = (rim[2] - rim[0]) / 45
    assert (batt[3] - batt[1]) / scale == pytest.approx(numbers["depth"], rel=0.04)
    assert (rim[3] - rim[1]) == pytest.approx(batt[3] - batt[1], abs=0.3)
    linings = boxes(root, "board")
    plates = [box for box in boxes(root, "ink") if box[1] >= batt[3] - 0.3 and box not in linings]
    assert len(plates) == 2
    for plate in plates:
        assert (plate[0] - rim[0]) / scale == pytest.approx(numbers["out"], abs=6)
        assert (plate[2] - plate[0]) / scale == pytest.approx(numbers["wall"], rel=0.04)
    seals = rings(root, "now")
    assert {round(y, 1) for _x, y, _r in seals} == {round(batt[1], 1), round(batt[3], 1)}
