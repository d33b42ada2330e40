"""Drawings show what is built, in the order in which it is built, and of this house."""

import pytest

from coordination.fabric.drawings import draw
from tests.fabric.test_drawings import SVG, boxes, parse, spoken


def test_wall_between_rooms_has_a_lining_on_both_sides_and_no_outside():
    for frame in ("timber", "steel"):
        svg = draw("inner_bay", frame=frame)
        root = parse(svg)
        far, near = sorted(boxes(root, "board"), key=lambda box: box[1])
        filled = boxes(root, "batt")
        assert far[3] == pytest.approx(min(box[1] for box in filled), abs=0.3)
        assert near[1] == pytest.approx(max(box[3] for box in filled), abs=0.3)
        assert not [one for one in root.iter() if "wrap" in one.get("class", "").split()]
        for word in ("outside", "brick", "cladding", "wrap"):
            assert word not in spoken(svg).lower()


def test_wall_that_may_be_an_outside_one_says_so_and_keeps_its_pipe_on_the_warm_side():
    svg = draw("inner_bay", far="either")
    root = parse(svg)
    assert len(boxes(root, "board")) == 1, "the wet room's lining; beyond, only a line"
    assert "outside wall" in spoken(svg)
    pipe = next(one for one in root.iter(f"{SVG}circle") if "now" in one.get("class", ""))
    lining = boxes(root, "board")[0]
    assert float(pipe.get("cy", 0)) + float(pipe.get("r", 0)) == pytest.approx(lining[1], abs=0.3)


@pytest.mark.parametrize("drop", [150, 300, 600])
def test_bulkhead_is_drawn_as_it_is_built_and_in_both_its_ways(drop):
    """Framed before batts and lining: no lining runs on behind it, and each way closes without a gap."""
    svg = draw("bulkhead", batt=290, drop=drop)
    root = parse(svg)
    sheet = next(box for box in boxes(root, "now") if box[2] - box[0] > box[3] - box[1])
    face_batt = next(box for box in boxes(root, "now") if box != sheet)
    # The first way: a ceiling batt as long as the whole ceiling lies on the sheet.
    assert any(box[3] == pytest.approx(sheet[1], abs=0.3) for box in boxes(root, "batt"))
    # The second: the ceiling's batt lies over the whole top of the face's batt.
    above = [
        box
        for box in boxes(root, "batt")
        if box[3] == pytest.approx(face_batt[1], abs=0.3) and box[0] <= face_batt[0] + 0.3
    ]
    assert above
    assert above[0][2] > face_batt[2]
    uprights = [box for box in boxes(root, "board") if box[2] - box[0] < 6 < box[3] - box[1]]
    behind = [box for box in uprights if box[2] <= sheet[0] + 10]
    low = max(box[3] for box in boxes(root, "now"))
    assert len(behind) == 2
    assert max(box[1] for box in behind) == pytest.approx(low, abs=0.3), "lined below the bulkhead only"
    assert "before the lining" in spoken(svg)
    assert "before it is framed" not in spoken(svg)


def test_batt_under_a_platform_comes_after_its_deck():
    said = spoken(draw("platform", joist=90, batt=290))
    assert "under the finished deck, before the lining" in said
    assert "before the deck" not in said


def test_edge_of_a_slab_shows_insulation_only_where_the_house_has_it():
    bare, insulated = draw("slab_edge", insulated=False), draw("slab_edge", insulated=True, r=1.5)
    assert not boxes(parse(bare), "batt")
    assert "No insulation at the edge" in spoken(bare)
    assert len(boxes(parse(insulated), "batt")) == 1
    assert "R1.5" in spoken(insulated)
    assert "where specified" in spoken(draw("slab_edge")), "a house that never said it"


@pytest.mark.parametrize("name", ["rim", "floor_duct"])
def test_floor_zone_is_called_full_only_where_the_stock_fills_it(name):
    """Two of 145 mm leave 10 of 300 mm; with 150 mm in the stock nothing is left."""
    assert "290 mm of batts" in spoken(draw(name, depth=300, stock="145:3.5"))
    assert "to the full 300" not in spoken(draw(name, depth=300, stock="145:3.5"))
    full = spoken(draw(name, depth=300, stock="150:3.5"))
    assert "of batts" not in full.replace("of batts the", "")
    assert "300 mm" in full
