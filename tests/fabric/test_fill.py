"""Platforms, floor zones, bays, pieces."""

import pytest

from coordination.fabric import FabricError, calculate
from coordination.fabric.fill import Batt, fill_depth, read_stock

STOCK = "75:2.0,90:2.5,140:3.5,165:4.1,200:4.0,250:5.0,290:6.0"


def test_platform_over_a_ninety_millimetre_chord_rises_by_two_hundred():
    """R6 of 290 mm on a 90 mm joist (common practice and geometry)."""
    assert calculate("platform", joist=90, batt=290).result == {"rise": 200}
    assert calculate("platform", joist=290, batt=200).result == {"rise": 0}


@pytest.mark.parametrize(
    ("depth", "total", "pairs", "r", "air"),
    [
        (300, 290, [(90, 200)], 6.5, 10),
        (305, 305, [(140, 165)], 7.6, 0),
        (320, 305, [(140, 165)], 7.6, 15),
        (340, 340, [(90, 250), (140, 200)], 7.5, 0),
        (350, 340, [(90, 250), (140, 200)], 7.5, 10),
        (360, 340, [(90, 250), (140, 200)], 7.5, 20),
        (365, 365, [(165, 200)], 8.1, 0),
        (380, 380, [(90, 290)], 8.5, 0),
        (390, 390, [(140, 250)], 8.5, 0),
        (400, 400, [(200, 200)], 8.0, 0),
    ],
)
def test_two_batts_fill_a_floor_zone(depth, total, pairs, r, air):
    """Search by hand over an example schedule (derived)."""
    done = calculate("fill", depth=depth, stock=STOCK, squeeze=0).result
    assert done["total"] == total
    assert (done["first"], done["second"]) in pairs
    assert done["r"] == pytest.approx(r)
    assert done["air"] == air


def test_squeeze_of_five_millimetres_takes_the_fuller_pair():
    """140 + 165 in 300: 1.6 % squeeze (derived)."""
    done = calculate("fill", depth=300, stock=STOCK, squeeze=5).result
    assert (done["first"], done["second"], done["total"], done["air"]) == (140, 165, 305, 0)


def test_squeeze_never_exceeds_five_per_cent_of_the_batts():
    assert fill_depth(100, [Batt(110, 3.0), Batt(80, 2.0)], squeeze=50).total == 80
    assert fill_depth(105, [Batt(110, 3.0), Batt(80, 2.0)], squeeze=50).total == 110


def test_single_batt_wins_where_it_fills_better():
    done = calculate("fill", depth=200, stock="90:2.5,200:4.0").result
    assert (done["first"], done["second"], done["total"], done["r"]) == (200, 0, 200, 4)


def test_depth_below_every_batt_is_refused_with_the_thinnest():
    with pytest.raises(FabricError, match="75 mm") as refused:
        calculate("fill", depth=60, stock=STOCK)
    assert refused.value.input_name == "depth"


@pytest.mark.parametrize("stock", ["", "90", "90:x", "90:2.5:3", "0:2", "90:-1", 90])
def test_unreadable_stock_is_refused_by_name(stock):
    with pytest.raises(FabricError) as refused:
        calculate("fill", depth=300, stock=stock)
    assert refused.value.input_name == "stock"


def test_stock_is_read_from_text_and_from_pairs_alike():
    assert read_stock("75:2.0, 90:2.5") == read_stock([(75, 2.0), Batt(90, 2.5)])


@pytest.mark.parametrize(("width", "count"), [(430, 83), (580, 62)])
def test_batts_for_forty_square_metres(width, count):
    """3 % waste, batts 1160 long (common practice)."""
    assert calculate("batts", area=40, width=width, length=1160).result == {"count": count}


def test_whole_number_of_batts_is_not_rounded_up_by_the_last_bit():
    assert calculate("batts", area=100, width=1000, length=1030).result == {"count": 100}


@pytest.mark.parametrize(
    ("centres", "stud", "clear", "width", "oversize"),
    [(450, 45, 405, 430, 25), (450, 35, 415, 430, 15), (600, 45, 555, 580, 25), (600, 35, 565, 580, 15)],
)
def test_batts_are_wider_than_their_bays(centres, stud, clear, width, oversize):
    """430 and 580 mm batts (published, read on a Tasmanian home-energy page); friction fit is practice."""
    done = calculate("bay_cut", centres=centres, stud=stud, width=width).result
    assert done == {"clear": clear, "cut": width, "oversize": oversize}


def test_odd_bay_is_trimmed_not_folded():
    """Clear width and about 10 mm (common practice)."""
    assert calculate("bay_cut", centres=300, stud=45, width=430).result["cut"] == 265


def test_bay_wider_than_the_batt_is_refused():
    with pytest.raises(FabricError, match="wider batt") as refused:
        calculate("bay_cut", centres=600, stud=45, width=430)
    assert refused.value.input_name == "width"


@pytest.mark.parametrize(("centres", "count", "share"), [(450, 18, 0.10), (600, 14, 0.075)])
def test_bays_of_an_eight_metre_wall(centres, count, share):
    """By hand: 8000 / 450 = 17.8 and 8000 / 600 = 13.3, rounded up; 45 mm of stud in each."""
    done = calculate("bays", length=8, centres=centres, stud=45).result
    assert done["count"] == count
    assert done["stud_share"] == pytest.approx(share)


def test_batt_is_split_at_what_the_lagged_pipe_leaves_of_the_stud():
    """By hand: 20 mm of pipe and twice 13 mm of lagging are 46 mm; of a 90 mm stud 44 mm stay behind it."""
    assert calculate("pipe_split", depth=90).result == {"whole": 46, "behind": 44}
    assert calculate("pipe_split", depth=140, pipe=25, lagging=20).result == {"whole": 65, "behind": 75}
    with pytest.raises(FabricError, match="move it out of the wall"):
        calculate("pipe_split", depth=70, pipe=40)


def test_pockets_are_corners_and_junctions():
    assert calculate("pockets", corners=6, junctions=8).result == {"count": 14}
    with pytest.raises(FabricError, match="whole"):
        calculate("pockets", corners=1.5, junctions=8)
