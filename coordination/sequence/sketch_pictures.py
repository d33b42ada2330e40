"""The to-scale drawing of a detail as a picture, for what shows no SVG: a mail, a page on paper.

Painting takes a few tenths of a second: it is done by tasks, never while somebody waits for a page.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any
from xml.etree import ElementTree

import resvg_py
from PIL import Image

from coordination.fabric import FabricError
from coordination.fabric.drawings import draw

log = logging.getLogger(__name__)

WIDE = 560
"""Pixels: twice the drawing's own width, so that it stays sharp on a telephone."""

PAPER, INK = "#ffffff", "#1d2126"
PENS = {
    "soft": "#555b64",
    "pencil": "#1f5282",
    "batt": "#1f5282",
    "held": "#98320f",
    "open": "#1f6340",
    "now": "#8a5000",
}
"""Colours of the light theme: a mail and a sheet of paper have no other."""

COLOURS = 48
FACE = "Bitstream Vera Sans"
"""Comes with ReportLab, so that lettering is the same on a server that has no typeface at all."""

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Picture:
    """A drawing as PNG, with its title and its text alternative."""

    title: str
    says: str
    png: bytes
    wide: int
    high: int


def paint_picture(name: str, numbers: Mapping[str, Any]) -> Picture | None:
    """The drawing as a picture; None where there is none, or the numbers give none."""
    if not name:
        return None
    try:
        return _paint(name, tuple(sorted(numbers.items())))
    except FabricError as error:
        log.warning("no drawing '%s' from %s: %s", name, dict(numbers), error)
        return None


@lru_cache(maxsize=128)
def _paint(name: str, numbers: tuple[tuple[str, Any], ...]) -> Picture:
    """Houses of one type share their numbers, and crews of one day share a house."""
    root = ElementTree.fromstring(draw(name, **dict(numbers)))  # noqa: S314 - our own text
    title, says = root[0].text or "", root[1].text or ""
    for mark in root.iter():
        _ink(mark)
    svg = ElementTree.tostring(root, encoding="unicode")
    painted = resvg_py.svg_to_bytes(
        svg_string=svg,
        width=WIDE,
        background=PAPER,
        skip_system_fonts=True,
        font_files=[font_file("Vera.ttf"), font_file("VeraBd.ttf")],
        font_family=FACE,
        sans_serif_family=FACE,
    )
    return _squeeze(title, says, bytes(painted))


def font_file(name: str) -> str:
    """Where a typeface lies that comes with ReportLab."""
    return str(files("reportlab") / "fonts" / name)


def _ink(mark: ElementTree.Element) -> None:
    """Write into a mark what a style sheet would give it: its pen's colour, and a face that is there."""
    classes = mark.get("class", "").split()
    pen = next((PENS[one] for one in classes if one in PENS), INK)
    for key in ("fill", "stroke"):
        if mark.get(key) == "currentColor":
            mark.set(key, pen)
    if "paper" in classes:
        mark.set("fill", PAPER)
    if mark.get("font-family"):
        mark.set("font-family", FACE)
    if mark.get("font-weight"):
        mark.set("font-weight", "700")
    if mark.tag == f"{SVG}text" and mark.text:
        # The face has no sign of its own for a space that may not break.
        mark.text = re.sub("\u00a0", " ", mark.text)


def _squeeze(title: str, says: str, png: bytes) -> Picture:
    """The same picture with few colours: a third of the bytes, and nothing that an eye would miss."""
    with Image.open(io.BytesIO(png)) as opened:
        few = opened.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    out = io.BytesIO()
    few.save(out, "PNG", optimize=True)
    return Picture(title, says, out.getvalue(), few.width, few.height)
