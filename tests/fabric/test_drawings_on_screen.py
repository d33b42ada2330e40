"""Every drawing in a real browser, over a grid of houses: lettering that can be read, and nothing over it.

The least sizes are this project's own (common practice for reading at arm's length on site): 14 px on the
narrowest screen, and on a usual phone no smaller than the words around it.
"""

import itertools
from pathlib import Path

import pytest
from django.conf import settings

from coordination.fabric import FabricError
from coordination.fabric.drawings import DRAWINGS, draw

pytestmark = pytest.mark.browser

STYLES = Path(settings.BASE_DIR) / "coordination/static/coordination"
LEAST = 14.0
LEAST_ON_A_PHONE = 17.5

FRAMES = ("timber", "steel")

GRID: dict[str, dict[str, tuple[float | str, ...]]] = {
    "eave": {
        "pitch": (22.5, 5, 15, 35, 60),
        "heel": (100, 0, 60, 400),
        "batt": (290, 90),
        "perimeter": (90, 140),
        "airway": (25, 50),
        "plate": (90, 140),
        "outside": ("masonry", "cladding"),
    },
    "platform": {"joist": (90, 45, 140, 190, 290), "batt": (290, 150, 250), "frame": FRAMES},
    "floor_zone": {
        "depth": (350, 200, 240, 300, 305, 400, 450),
        "duct": (0, 60, 150),
        "below": ("garage", "subfloor"),
    },
    "rim": {"depth": (300, 75, 140, 600), "wall": (90, 70, 140), "out": (300, 0, 100, 600)},
    "floor_pipes": {"depth": (300, 75, 140, 600), "waste": (110, 65, 160)},
    "floor_duct": {"depth": (300, 75, 240, 600), "above": (140, 0, 40, 75, 290, 500)},
    "stud_bay": {
        "centres": (600, 300, 450),
        "stud": (45, 35, 1),
        "depth": (90, 70, 140),
        "cable": (12, 20),
        "frame": FRAMES,
    },
    "pipe_split": {
        "centres": (600, 450),
        "depth": (90, 140, 190),
        "pipe": (20, 25),
        "lagging": (13, 20),
        "frame": FRAMES,
    },
    "pockets": {"depth": (90, 70, 120, 140), "stud": (45, 35), "inner": (70, 90), "frame": FRAMES},
    "void_cap": {"width": (300, 100, 600, 900), "batt": (290, 90, 175), "frame": FRAMES},
    "bulkhead": {
        "width": (400, 200, 600),
        "drop": (300, 150, 600),
        "batt": (290, 90, 175),
        "face": (90, 140),
        "frame": FRAMES,
    },
    "inner_bay": {
        "far": ("room", "either"),
        "centres": (600, 300, 450),
        "depth": (90, 70, 140),
        "pipe": (20, 12, 46),
        "frame": FRAMES,
    },
    "truss_pipes": {
        "pitch": (22.5, 3, 5, 12, 15, 30, 45, 60),
        "batt": (290, 175),
        "chord": (90, 140),
        "pipe": (46, 60),
    },
    "raked_wall": {"height": (1200, 300, 2400), "stud": (90, 140), "ceiling": (290, 150), "frame": FRAMES},
    "switchboard": {
        "depth": (90, 70, 140),
        "second": (90, 70, 140),
        "board": (400, 300, 600),
        "batt": (70,),
        "frame": FRAMES,
    },
    "window_seal": {"gap": (12, 5, 20, 40), "depth": (90, 70, 140, 190), "stud": (45, 35), "frame": FRAMES},
    "wrap_laps": {"lap": (150, 75, 300), "roll": (1350, 900, 2700)},
    "lintel": {
        "depth": (90, 70, 140),
        "lintel": (45, 35, 90, 70),
        "high": (190, 90, 290, 360),
        "frame": FRAMES,
    },
    "pieces": {"height": (2400, 1200, 3000), "clear": (555, 355), "most": (3, 2, 5)},
    "lining_plane": {"batt": (290, 90, 175), "batten": (35, 0, 16, 45), "chord": (90, 140), "frame": FRAMES},
    "clear_fitting": {"diameter": (90, 60, 300), "clearance": (200, 0, 50), "batt": (290, 90, 175)},
    "ridge": {"pitch": (22.5, 5, 15, 35, 45), "slot": (40, 10, 25, 100)},
    "exhaust_duct": {"pitch": (22.5, 5, 35, 45), "batt": (290, 90), "duct": (125, 100, 250)},
    "plate_hole": {"hole": (25, 20, 40, 60), "pipe": (16, 10, 50), "depth": (90, 70, 140), "frame": FRAMES},
    "slab_edge": {
        "insulated": ("unknown", "yes", "no"),
        "insulation": (30, 50),
        "beam": (400, 300, 600),
        "slab": (100, 150),
        "visible": (75, 0, 150),
    },
    "abutment": {"pitch": (22.5, 5, 15, 45), "stud": (90, 70, 140), "batt": (70,), "lap": (150, 75, 250)},
    "cavity": {"depth": (90, 70, 140), "cavity": (20, 10, 40)},
    "garage_wall": {"depth": (90, 70, 140), "batt": (70, 90), "height": (2400, 2700), "frame": FRAMES},
    "seal_line": {"depth": (300, 140, 240, 400), "wall": (90, 70, 140), "gaps": (14, 1)},
    "break_roof": {"r": (0.2, 0.1, 0.4), "batten": (40, 22, 60)},
    "break_wall": {"r": (0.2, 0.1, 0.4), "depth": (90, 70, 140)},
    "grommet": {"hole": (34, 22, 60), "pipe": (20, 12, 50), "depth": (90, 70, 140)},
}

FIND_FAULTS = """
() => [...document.querySelectorAll('svg.to-scale')].flatMap(svg => {
  const faults = [], said = svg.closest('figure').dataset.drawing;
  const sheet = svg.getBoundingClientRect();
  const scale = svg.getScreenCTM().a;
  const texts = [...svg.querySelectorAll('text')].map(one => ({
    words: one.textContent, box: one.getBoundingClientRect(),
    size: parseFloat(getComputedStyle(one).fontSize) * scale,
  }));
  const rings = [...svg.querySelectorAll('circle.paper')].map(one => one.getBoundingClientRect());
  const meet = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1;
  const within = (a, b) => a.left >= b.left - 0.5 && a.right <= b.right + 0.5
    && a.top >= b.top - 0.5 && a.bottom <= b.bottom + 0.5;
  const holds = (ring, box) => {
    const x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
    return x > ring.left && x < ring.right && y > ring.top && y < ring.bottom;
  };
  texts.forEach((text, i) => {
    if (!within(text.box, sheet)) faults.push(`${said}: '${text.words}' leaves the sheet`);
    texts.slice(i + 1).forEach(other => {
      if (meet(text.box, other.box)) faults.push(`${said}: '${text.words}' meets '${other.words}'`);
    });
    rings.forEach(ring => {
      if (meet(text.box, ring) && !(/^[0-9]$/.test(text.words) && holds(ring, text.box)))
        faults.push(`${said}: '${text.words}' meets the ring of a number`);
    });
  });
  rings.forEach((ring, i) => {
    if (!within(ring, sheet)) faults.push(`${said}: a number leaves the sheet`);
    rings.slice(i + 1).forEach(other => {
      if (meet(ring, other)) faults.push(`${said}: two numbers meet`);
    });
  });
  return faults.concat(texts.length ? [] : [`${said}: no text`]);
})
"""

SIZES = """
() => [...document.querySelectorAll('svg.to-scale')].map(svg =>
  [svg.closest('figure').dataset.drawing, Math.min(...[...svg.querySelectorAll('text')].map(one =>
    parseFloat(getComputedStyle(one).fontSize) * svg.getScreenCTM().a))])
"""


def houses_for(name):
    """The drawing for each house of the grid that it accepts; a house that has no such detail is left out."""
    grid = GRID[name]
    for values in itertools.product(*grid.values()):
        numbers = dict(zip(grid, values, strict=True))
        try:
            yield numbers, draw(name, None, **numbers)
        except FabricError:
            continue


def as_page(drawings, theme="light"):
    css = "".join((STYLES / file).read_text() for file in ("tokens.css", "base.css", "drawing.css"))
    figures = "".join(
        f'<figure class="drawing" data-drawing="{said}">{svg}</figure>' for said, svg in drawings
    )
    return (
        f'<!doctype html><html data-theme="{theme}"><head><meta name="viewport" content="width=device-width">'
        f'<style>{css}</style></head><body><main class="page">{figures}</main></body></html>'
    )


def test_the_grid_names_every_drawing():
    assert set(GRID) == set(DRAWINGS)
    for name in GRID:
        assert len(list(houses_for(name))) >= 8, name


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_no_lettering_meets_another_or_leaves_its_sheet(page, name):
    page.set_viewport_size({"width": 320, "height": 900})
    page.set_content(as_page([(f"{name} {numbers}", svg) for numbers, svg in houses_for(name)]))
    assert page.evaluate(FIND_FAULTS) == []


def test_two_texts_on_one_another_would_be_found(page):
    svg = draw("platform", joist=90, batt=290).replace(
        "</svg>", '<text x="60" y="100">one</text><text x="62" y="101">two</text></svg>'
    )
    page.set_content(as_page([("planted", svg)]))
    assert "planted: 'one' meets 'two'" in page.evaluate(FIND_FAULTS)


@pytest.mark.parametrize(
    ("wide", "least"),
    [(320, LEAST), (390, LEAST_ON_A_PHONE), (820, LEAST_ON_A_PHONE), (1366, LEAST_ON_A_PHONE)],
)
def test_lettering_is_large_enough_on_every_screen(page, artifacts, wide, least):
    drawings = [(name, next(iter(houses_for(name)))[1]) for name in DRAWINGS]
    page.set_viewport_size({"width": wide, "height": 900})
    for theme in ("light", "dark"):
        page.set_content(as_page(drawings, theme))
        assert {name: size for name, size in page.evaluate(SIZES) if size < least} == {}
        assert page.evaluate(FIND_FAULTS) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= wide
        page.screenshot(path=str(artifacts / f"drawings-{wide}-{theme}.png"), full_page=True)


def test_lettering_is_large_enough_on_paper(page):
    """Two drawings stand side by side on A4: 9 pt or more."""
    drawings = [(name, next(iter(houses_for(name)))[1]) for name in DRAWINGS]
    page.set_content(as_page(drawings))
    page.emulate_media(media="print")
    # Half of A4 less margins of 14 mm and a gutter of 6 mm, at the 96 px of a CSS inch.
    page.set_viewport_size({"width": round((210 - 28 - 6) / 2 / 25.4 * 96), "height": 1000})
    for name, size in page.evaluate(SIZES):
        assert size * 72 / 96 >= 9, name
