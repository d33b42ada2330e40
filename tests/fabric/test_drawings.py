"""Drawings: to scale, readable on a phone, spoken for those who cannot see them."""

import math
import re
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coordination.fabric import FabricError
from coordination.fabric.drawings import DRAWINGS, draw
from coordination.fabric.drawings.sheet import WIDTH, wrap_words

NUMBERS: dict[str, dict[str, Any]] = {
    "eave": {"pitch": 22.5, "heel": 100, "batt": 290},
    "platform": {"joist": 90, "batt": 290},
    "floor_zone": {"depth": 350},
    "truss_pipes": {"pitch": 22.5, "batt": 290},
    "void_cap": {"batt": 290},
    "bulkhead": {"batt": 290},
    "lining_plane": {"batt": 290},
    "clear_fitting": {"batt": 290},
    "ridge": {"pitch": 22.5, "slot": 40},
    "exhaust_duct": {"pitch": 22.5, "batt": 290},
    "abutment": {"pitch": 22.5},
    "seal_line": {"depth": 300},
    "rim": {"depth": 300},
    "floor_pipes": {"depth": 300},
    "floor_duct": {"depth": 300},
}
SVG = "{http://www.w3.org/2000/svg}"


def parse(text):
    return ElementTree.fromstring(text)  # noqa: S314 - our own text


def points(path):
    """The corners of a path made of M, L and Z."""
    return [tuple(float(v) for v in pair.split()) for pair in re.findall(r"[-\d.]+ [-\d.]+", path)]


def spoken(text):
    """What the drawing says to those who cannot see it, its notes included."""
    return parse(text)[1].text or ""


def boxes(root, kind):
    """Outlines of a kind as (left, top, right, bottom)."""
    found = []
    for path in root.iter(f"{SVG}path"):
        if kind in path.get("class", "").split() and path.get("d", "").endswith("Z"):
            xs, ys = zip(*points(path.get("d")), strict=True)
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_required_numbers_are_those_that_the_drawing_names(name):
    assert set(DRAWINGS[name].numbers) == set(NUMBERS.get(name, {}))


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_drawing_is_sound_svg_with_a_text_alternative(name):
    text = draw(name, **NUMBERS.get(name, {}))
    root = parse(text)
    assert root.get("role") == "img"
    title, description = root[0], root[1]
    assert title.tag == f"{SVG}title"
    assert description.tag == f"{SVG}desc"
    assert title.text
    assert len(description.text or "") > 60
    assert root.get("aria-label") == description.text
    assert "{" not in text
    assert "nan" not in text


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_drawing_obeys_a_strict_content_security_policy(name):
    root = parse(draw(name, **NUMBERS.get(name, {})))
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in {"svg", "title", "desc", "path", "circle", "text"}
        assert not {"style", "id"} & set(element.keys())
        assert not any(key.startswith("on") for key in element.attrib)
        for key in ("fill", "stroke"):
            assert element.get(key) in (None, "none", "currentColor")


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_text_stays_at_fourteen_pixels_and_within_the_sheet_at_320(name):
    root = parse(draw(name, **NUMBERS.get(name, {})))
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    size = float(root.get("font-size"))
    # 320 px less the page's own margins of 16 px.
    assert size * (320 - 32) / width >= 14
    for text in root.iter(f"{SVG}text"):
        x, y, wide = float(text.get("x")), float(text.get("y")), len(text.text) * size * 0.5
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.get("text-anchor")]
        assert left >= -1
        assert left + wide <= width + 2, text.text
        assert size * 0.6 <= y <= height


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_every_mark_lies_on_the_sheet(name):
    root = parse(draw(name, **NUMBERS.get(name, {})))
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    for path in root.iter(f"{SVG}path"):
        for kind in ("ink", "soft"):
            if kind in path.get("class") and re.fullmatch(r"[MLZ\d. -]+", path.get("d")):
                for x, y in points(path.get("d")):
                    assert -1 <= x <= width + 1
                    assert -1 <= y <= height + 1


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_every_text_can_be_replaced_by_a_translator(name):
    labels = {key: f"«{key}»" for key in DRAWINGS[name].labels}
    root = parse(draw(name, labels, **NUMBERS.get(name, {})))
    for text in root.iter(f"{SVG}text"):
        assert text.text.isdigit() or text.text.startswith("«"), text.text
    assert root[0].text == "«title»"
    assert "«says»" in (root[1].text or "")


@pytest.mark.parametrize(
    ("pitch", "heel", "batt", "back"), [(22.5, 100, 290, 519), (15, 60, 250, 802), (25, 150, 200, 161)]
)
def test_eave_is_to_scale(pitch, heel, batt, back):
    """Set-back, batt and perimeter batt stand to each other on paper as on site."""
    root = parse(draw("eave", pitch=pitch, heel=heel, batt=batt, airway=25))
    full = max(boxes(root, "batt"), key=lambda box: box[3] - box[1])
    wall = boxes(root, "perimeter")[0]
    scale = (full[3] - full[1]) / batt
    line = (full[0] - wall[0]) / scale
    zero = max(0, (25 - heel) / math.tan(math.radians(pitch)))
    assert line + zero == pytest.approx(back, abs=3)
    assert (wall[3] - wall[1]) / scale == pytest.approx(90, abs=2)
    assert any(text.text == str(back) for text in root.iter(f"{SVG}text"))


def test_roof_of_the_eave_has_the_pitch():
    root = parse(draw("eave", pitch=22.5, heel=100, batt=290))
    roof = next(path for path in root.iter(f"{SVG}path") if "roof" in path.get("class").split())
    (x1, y1), (x2, y2) = points(roof.get("d"))
    assert math.degrees(math.atan2(y1 - y2, x2 - x1)) == pytest.approx(22.5, abs=0.1)


def test_eave_with_a_raised_heel_has_no_set_back_and_no_perimeter_batt():
    root = parse(draw("eave", pitch=22.5, heel=315, batt=290))
    assert boxes(root, "perimeter") == []
    assert "out to the wall line" in (root[1].text or "")


def test_platform_shows_the_rise_and_drops_it_where_there_is_none():
    assert "Packers 200 mm" in draw("platform", joist=90, batt=290)
    assert "Packers" not in draw("platform", joist=290, batt=290)


def test_floor_zone_fills_itself_by_the_calculation():
    drawn = draw("floor_zone", depth=300, stock="90:2.5,200:4.0")
    assert "90 mm batt hard against the floor" in drawn
    assert "200 mm batt under it, R6.5" in drawn
    assert "10 mm air left below" in drawn


@pytest.mark.parametrize("pitch", [5, 15, 35, 60])
@pytest.mark.parametrize("heel", [0, 60, 400])
def test_eave_is_drawn_for_every_roof(pitch, heel):
    root = parse(draw("eave", pitch=pitch, heel=heel, batt=290))
    assert float(root.get("viewBox").split()[3]) < 700


def test_labels_take_the_numbers_of_the_drawing():
    assert "Rückversatz 519" in draw("eave", {"full": "Rückversatz {set_back}"}, **NUMBERS["eave"])


@pytest.mark.parametrize(
    ("name", "labels", "numbers", "culprit"),
    [
        ("roof", {}, {}, "drawing"),
        ("eave", {}, {"pitch": 22.5, "heel": 100}, "batt"),
        ("eave", {}, {"pitch": 0, "heel": 100, "batt": 290}, "pitch"),
        ("eave", {"nothing": "x"}, NUMBERS["eave"], "labels"),
        ("eave", {"full": "{unknown}"}, NUMBERS["eave"], "labels"),
        ("stud_bay", {}, {"cable": 60}, "cable"),
        ("stud_bay", {}, {"colour": 1}, "colour"),
        ("pipe_split", {}, {"pipe": 100}, "pipe"),
        ("floor_zone", {}, {"depth": 200, "duct": 200}, "duct"),
        ("lintel", {}, {"lintel": 120}, "lintel"),
        ("truss_pipes", {}, {"pitch": 22.5, "batt": 90}, "batt"),
        ("abutment", {}, {"pitch": 0}, "pitch"),
        ("abutment", {}, {"pitch": 22.5, "lap": 400}, "lap"),
        ("cavity", {}, {"cavity": 120}, "cavity"),
        ("garage_wall", {}, {"batt": 140}, "batt"),
        ("seal_line", {}, {"depth": 300, "gaps": 0}, "gaps"),
        ("break_roof", {}, {"r": 4}, "r"),
        ("break_wall", {}, {"depth": -90}, "depth"),
        ("grommet", {}, {"hole": 20, "pipe": 20}, "hole"),
        ("stud_bay", {}, {"frame": "brass"}, "frame"),
        ("eave", {}, {**NUMBERS["eave"], "outside": "straw"}, "outside"),
        ("floor_zone", {}, {"depth": 300, "below": "sea"}, "below"),
        ("rim", {}, {"depth": 300, "out": 900}, "out"),
        ("floor_duct", {}, {"depth": 300, "above": 300}, "above"),
    ],
)
def test_what_cannot_be_drawn_is_refused_by_name(name, labels, numbers, culprit):
    with pytest.raises(FabricError) as refused:
        draw(name, labels, **numbers)
    assert refused.value.input_name == culprit


def test_markup_in_a_label_is_written_out_not_obeyed():
    assert "<script>" not in draw("eave", {"full": "<script>{batt}"}, **NUMBERS["eave"])


def test_long_texts_are_wrapped_and_keep_their_words():
    words = "a note that is far too long for one line of a sheet that is read on a telephone"
    rows = wrap_words(words, WIDTH / 2)
    assert " ".join(rows) == words
    assert len(rows) > 2


def test_number_and_unit_stay_on_one_line():
    for room in range(40, 200, 5):
        assert not any(
            row.endswith("290") for row in wrap_words("a full ceiling batt of 290 mm, whole", room)
        )


@pytest.mark.parametrize(("pitch", "heel"), [(22.5, 60), (15, 30), (25, 100)])
def test_perimeter_batt_never_fills_the_airway(pitch, heel):
    """Its upper face stays below the roof less 25 mm, measured on the drawing itself."""
    root = parse(draw("eave", pitch=pitch, heel=heel, batt=290, airway=25))
    named = {word: path for path in root.iter(f"{SVG}path") for word in path.get("class").split()[:1]}
    perimeter = next(
        path
        for path in root.iter(f"{SVG}path")
        if "perimeter" in path.get("class").split() and path.get("d").endswith("Z")
    )
    (x1, y1), (x2, y2) = points(named["roof"].get("d"))
    full = max(boxes(root, "batt"), key=lambda box: box[3] - box[1])
    air = 25 * (full[3] - full[1]) / 290
    for x, y in points(perimeter.get("d")):
        assert y >= y1 + (y2 - y1) * (x - x1) / (x2 - x1) + air - 0.3


@pytest.mark.parametrize(("joist", "batt"), [(90, 290), (140, 250), (190, 200)])
def test_platform_is_to_scale(joist, batt):
    """Chord and packer stand to the batt as on site: the packer is the rise that was calculated."""
    root = parse(draw("platform", joist=joist, batt=batt))
    full = boxes(root, "batt")[0]
    scale = (full[3] - full[1]) / batt
    crossed = {round((lower - upper) / scale) for _, upper, _, lower in boxes(root, "ink")}
    assert {joist, batt - joist} <= {size + slack for size in crossed for slack in (-2, -1, 0, 1, 2)}


@pytest.mark.parametrize("frame", ["timber", "steel"])
@pytest.mark.parametrize(
    ("depth", "pipe", "behind"), [(90, 20, 44), (90, 25, 39), (140, 20, 94), (70, 20, 24)]
)
def test_pipe_in_the_wall_leaves_the_batt_behind_it_whole(frame, depth, pipe, behind):
    """90 mm stud, 20 mm pipe with 13 mm lagging: 44 mm run on behind it, to scale, and none in front."""
    root = parse(draw("pipe_split", depth=depth, pipe=pipe, centres=450, frame=frame))
    layers = sorted(boxes(root, "batt"), key=lambda box: box[2] - box[0])
    back, front = layers[-1], layers[-3:-1]
    assert back[2] - back[0] > 2 * max(box[2] - box[0] for box in front)
    whole = pipe + 26
    assert (back[3] - back[1]) / (front[0][3] - front[0][1]) == pytest.approx(behind / whole, rel=0.03)
    assert any(text.text == str(behind) for text in root.iter(f"{SVG}text"))
    assert f"{behind} mm, whole behind the pipe" in spoken(draw("pipe_split", depth=depth, pipe=pipe))
    x, y, radius = next(
        tuple(float(one.get(key)) for key in ("cx", "cy", "r"))
        for one in root.iter(f"{SVG}circle")
        if one.get("class") == "soft"
    )
    assert y - radius == pytest.approx(back[3], abs=0.3), "the lagging touches the layer behind it"
    for box in front:
        assert box[2] <= x - radius + 0.3 or box[0] >= x + radius - 0.3, "nothing lies in front of the pipe"


roofs = st.fixed_dictionaries(
    {
        "pitch": st.floats(3, 60).map(lambda value: round(value, 1)),
        "heel": st.integers(0, 400),
        "batt": st.integers(60, 400),
        "perimeter": st.integers(50, 200),
        "airway": st.integers(0, 60),
    }
)


@given(roofs)
@settings(max_examples=60)
def test_no_eave_runs_off_its_sheet(numbers):
    root = parse(draw("eave", **numbers))
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    assert height < 720
    for path in root.iter(f"{SVG}path"):
        for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path.get("d")):
            assert -2 <= float(x) <= width + 2
            assert -2 <= float(y) <= height + 2


def test_strip_of_a_break_is_as_thick_as_its_resistance_needs():
    """ISO 6946, d = R·λ: R0.2 at 0.04 W/(m·K) is 8 mm, and stands to the 40 mm batten as 8 to 40."""
    root = parse(draw("break_roof", r=0.2, batten=40))
    assert "about 8 mm" in (root[1].text or "")
    strip = boxes(root, "now")[0]
    dims = [path for path in root.iter(f"{SVG}path") if path.get("class") == "dim ink"]
    lengths = [abs(a[1] - b[1]) for a, b in (points(one.get("d")) for one in dims) if a[0] == b[0]]
    assert (strip[3] - strip[1]) / max(lengths) == pytest.approx(8 / 40, abs=0.01)


def test_blocking_over_the_garage_wall_names_the_gaps_of_this_house():
    root = parse(draw("seal_line", depth=300, gaps=14))
    assert "14 in this house: 300 mm" in (root[1].text or "")


def test_wrap_of_the_abutment_laps_over_the_sheet_to_scale():
    """150 mm of lap stand to the 90 mm stud as on site."""
    root = parse(draw("abutment", pitch=22.5, lap=150, stud=90, batt=90))
    batt = boxes(root, "now")[0]
    dims = [points(path.get("d")) for path in root.iter(f"{SVG}path") if path.get("class") == "dim ink"]
    lap = next(abs(a[1] - b[1]) for a, b in dims if a[0] == b[0])
    assert lap / (batt[2] - batt[0]) == pytest.approx(150 / 90, rel=0.02)
    roof = next(path for path in root.iter(f"{SVG}path") if "roof" in path.get("class").split())
    (x1, y1), (x2, y2) = points(roof.get("d"))
    assert math.degrees(math.atan2(y2 - y1, x1 - x2)) == pytest.approx(22.5, abs=0.2)


def test_the_edge_of_a_steep_roof_ends_above_the_legend():
    """A roof of 60° falls by 330·tan 60° = 572 mm over its overhang: the legend begins below that."""
    for pitch in (5, 35, 60):
        for heel in (0, 100):
            root = parse(draw("eave", pitch=pitch, heel=heel, batt=290))
            roof = next(path for path in root.iter(f"{SVG}path") if "roof" in path.get("class").split())
            lowest = max(y for _x, y in points(roof.get("d")))
            legend = next(
                text for text in root.iter(f"{SVG}text") if "Heel height" in "".join(text.itertext())
            )
            assert lowest < float(legend.get("y")) - 12, (pitch, heel)


def test_a_fitting_marked_to_be_covered_has_no_guard():
    assert "Rigid guard keeps the batts 200 mm" in spoken(draw("clear_fitting", clearance=200, batt=290))
    covered = spoken(draw("clear_fitting", clearance=0, batt=290))
    assert "Marked to be covered" in covered
    assert "0 mm clear" not in covered


def test_a_batt_thinner_than_the_stud_is_not_called_its_full_depth():
    assert "Batt 90 mm, the full depth of the stud" in spoken(draw("garage_wall", depth=90, batt=90))
    thin = spoken(draw("garage_wall", depth=90, batt=75))
    assert "full depth" not in thin
    assert "15 mm stay empty" in thin
