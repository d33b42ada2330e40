"""Calculations of thickness: what fits, what must rise, how many pieces."""

from __future__ import annotations

from coordination.fabric import compression, fill
from coordination.fabric.registry import Definition, Input, Result, Value, whole

STOCK = "75:2.0,90:2.5,140:3.5,165:4.1,200:4.0,250:5.0,290:6.0"
BATT = Input("batt", "mm", "thickness of the batt")


def _read_stock(name: str, value: object) -> tuple[fill.Batt, ...]:
    return fill.read_stock(value)


def _platform(joist: float, batt: float) -> dict[str, Value]:
    return {"rise": fill.platform_rise(joist, batt)}


def _fill(depth: float, stock: tuple[fill.Batt, ...], squeeze: float) -> dict[str, Value]:
    best = fill.fill_depth(depth, stock, squeeze)
    return {
        "first": best.first,
        "second": best.second,
        "total": best.total,
        "r": best.r,
        "air": best.air,
    }


def _compressed(r: float, batt: float, depth: float) -> dict[str, Value]:
    return {
        "r": compression.compressed_r(r, batt, depth),
        "r_low": compression.compressed_r_low(r, batt, depth),
    }


def _compression_chart(label: float, thickness: float, cavity: float) -> dict[str, Value]:
    return {"r": compression.charted_r(label, thickness, cavity)}


def _batts(area: float, width: float, length: float, waste: float) -> dict[str, Value]:
    return {"count": fill.count_batts(area, width, length, waste)}


def _bays(length: float, centres: float, stud: float) -> dict[str, Value]:
    clear = fill.clear_bay(centres, stud)
    return {"count": fill.count_bays(length, centres), "clear": clear, "stud_share": stud / centres}


def _bay_cut(centres: float, stud: float, width: float) -> dict[str, Value]:
    clear = fill.clear_bay(centres, stud)
    cut = fill.cut_width(clear, width)
    return {"clear": clear, "cut": cut, "oversize": cut - clear}


def _pockets(corners: int, junctions: int) -> dict[str, Value]:
    return {"count": fill.count_pockets(corners, junctions)}


def _pipe_split(depth: float, pipe: float, lagging: float) -> dict[str, Value]:
    whole, behind = fill.split_round_pipe(depth, pipe, lagging)
    return {"whole": whole, "behind": behind}


PIPE = Input("pipe", "mm", "outer diameter of the pipe", 20)
LAGGING = Input("lagging", "mm", "thickness of the lagging", 13)
CENTRES = Input("centres", "mm", "spacing of the studs, centre to centre")
STUD = Input("stud", "mm", "thickness of the stud", 45)

THICKNESS: tuple[Definition, ...] = (
    Definition(
        name="platform",
        question="How high must the platform's packers be so that the ceiling batt runs through uncrushed?",
        inputs=(Input("joist", "mm", "depth of the chord or joist under the platform"), BATT),
        results=(Result("rise", "mm", "height of the packers"),),
        run=_platform,
        formula="rise = max(0, batt - joist)",
        source="geometry; common practice. The load must be in the truss design",
    ),
    Definition(
        name="fill",
        question="Which one or two batts fill this depth best?",
        inputs=(
            Input("depth", "mm", "depth to fill, less services"),
            Input("stock", "mm:R", "batt schedule as thickness:R,...", STOCK, read=_read_stock),
            Input("squeeze", "mm", "squeeze that is allowed, at most 5 % of the batts", 0),
        ),
        results=(
            Result("first", "mm", "thickness of the first batt"),
            Result("second", "mm", "thickness of the second batt, 0 for none"),
            Result("total", "mm", "thickness of both"),
            Result("r", "m²K/W", "sum of the label values"),
            Result("air", "mm", "depth that stays empty"),
        ),
        run=_fill,
        formula="a ≤ b from stock with a + b ≤ depth + squeeze, least |depth - (a + b)|, then highest R, "
        "then fewest kinds; a single batt where it ranks higher",
        source="search over the batt schedule; the default stock is an example, not a product list",
    ),
    Definition(
        name="compressed",
        question="What does a batt still resist in a space thinner than itself?",
        inputs=(
            Input("r", "m²K/W", "label value of the batt"),
            BATT,
            Input("depth", "mm", "depth of the space"),
        ),
        results=(
            Result("r", "m²K/W", "R by the fitted law"),
            Result("r_low", "m²K/W", "R by the proportional lower bound"),
        ),
        run=_compressed,
        formula="r = R·s^0.62, r_low = R·s, s = depth / batt; not below s = 0.5",
        source="fitted to a glass-fibre maker's compression chart printed in the Journal of Light "
        "Construction (17 cells, worst error 6.1 %)",
        limits=("batts.least_share",),
    ),
    Definition(
        name="compression_chart",
        question="What does a maker's chart give for a batt in a space thinner than itself?",
        inputs=(
            Input("label", "h·ft²·°F/Btu", "label value of the batt"),
            Input("thickness", "in", "thickness of the batt"),
            Input("cavity", "in", "depth of the space"),
        ),
        results=(Result("r", "m²K/W", "R by the chart"),),
        run=_compression_chart,
        formula="read off; 1 m²K/W = 5.678 h·ft²·°F/Btu",
        source="a glass-fibre maker's compression chart printed in the Journal of Light Construction; "
        "other makers' charts differ by about 1 in the label's unit",
    ),
    Definition(
        name="batts",
        question="How many batts does this area need?",
        inputs=(
            Input("area", "m²", "net area to fill"),
            Input("width", "mm", "width of a batt"),
            Input("length", "mm", "length of a batt"),
            Input("waste", "", "share added for waste", from_limit="batts.waste"),
        ),
        results=(Result("count", "pieces", "batts to bring"),),
        run=_batts,
        formula="count = area · (1 + waste) / (width · length), rounded up",
        source="common practice: 3 % waste",
    ),
    Definition(
        name="bays",
        question="How many bays does this wall have, and how wide are they?",
        inputs=(Input("length", "m", "length of the wall"), CENTRES, STUD),
        results=(
            Result("count", "bays", "bays along the wall"),
            Result("clear", "mm", "clear width of a bay"),
            Result("stud_share", "", "plain studs as a share of the wall"),
        ),
        run=_bays,
        formula="count = length / centres, rounded up; clear = centres - stud",
        source="geometry; with plates, noggings and lintels the timber share is commonly 12 to 15 %",
    ),
    Definition(
        name="bay_cut",
        question="How wide is the batt for this bay cut, so that it holds by friction?",
        inputs=(CENTRES, STUD, Input("width", "mm", "width of the batt as it comes")),
        results=(
            Result("clear", "mm", "clear width of the bay"),
            Result("cut", "mm", "width to cut"),
            Result("oversize", "mm", "batt wider than the bay by"),
        ),
        run=_bay_cut,
        formula="clear = centres - stud; a batt up to 25 mm wider goes in whole, else cut to clear + 10",
        source="common practice (friction fit); widths 430 and 580 from a Tasmanian home-energy page",
        limits=("batts.oversize",),
    ),
    Definition(
        name="pockets",
        question="How many pockets must be filled before the wrap?",
        inputs=(
            Input("corners", "", "external corners whose studs close a pocket", read=whole),
            Input("junctions", "", "internal walls that meet an outside wall", read=whole),
        ),
        results=(Result("count", "pockets", "pockets to fill and photograph"),),
        run=_pockets,
        formula="count = corners + junctions",
        source="common practice: one pocket at each; a reachable corner or a ladder junction has none",
    ),
    Definition(
        name="pipe_split",
        question="Where is the batt split round a pipe in the wall?",
        inputs=(Input("depth", "mm", "depth of the stud"), PIPE, LAGGING),
        results=(
            Result("whole", "mm", "pipe over its lagging: the layer that stops at both sides of it"),
            Result("behind", "mm", "layer of batt that runs on whole behind it"),
        ),
        run=_pipe_split,
        formula="whole = pipe + 2 · lagging; behind = depth - whole",
        source="geometry; common practice: the pipe on the warm side of the bay, against the lining",
    ),
)
