"""Contrast of the three themes, recomputed with the WCAG 2.2 formula.

Source: WCAG 2.2, definitions of "relative luminance" and "contrast ratio"; criteria 1.4.3 (4.5:1, AA),
1.4.6 (7:1, AAA, adopted for the sunlight theme) and 1.4.11 (3:1 for controls and graphics).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

LOOK = Path(__file__).resolve().parents[2] / "coordination" / "static" / "coordination"
TOKENS = (LOOK / "tokens.css").read_text(encoding="utf-8")
LETTERING = ("ink", "soft", "pencil", "held", "open", "window", "now")
GROUNDS = ("board", "sheet", "shade")
WASHES = {
    "pencil": "pencil-wash",
    "held": "held-wash",
    "open": "open-wash",
    "window": "window-wash",
    "now": "now-wash",
}


def read_colours(selector: str) -> dict[str, str]:
    """The custom properties with a hex colour in the block of one selector."""
    block = TOKENS.split(selector + " {", 1)[1].split("}", 1)[0]
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-fA-F]{6});", block))


def luminance(colour: str) -> float:
    """Relative luminance of a six-digit sRGB colour."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


THEMES = {
    "light": read_colours("\n:root"),
    "dark": read_colours(':root[data-theme="dark"]'),
    "sunlight": read_colours(':root[data-theme="sunlight"]'),
}


def test_contrast_formula_gives_the_known_extremes_and_threshold() -> None:
    # WCAG 2.2: black on white is 21:1. #767676 on white, 4.54:1, is the lightest grey that passes AA (W3C's
    # technique G18 pages use it as an example; value from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("letters", LETTERING)
def test_lettering_reads_on_every_ground_of_every_theme(theme: str, letters: str) -> None:
    colours = THEMES[theme]
    wanted = 7.0 if theme == "sunlight" else 4.5
    grounds = [*GROUNDS, *([WASHES[letters]] if letters in WASHES else [])]
    for ground in grounds:
        ratio = contrast(colours[letters], colours[ground])
        assert ratio >= wanted, f"{theme}: {letters} on {ground} is {ratio:.2f}:1, wanted {wanted}:1"


@pytest.mark.parametrize("theme", THEMES)
def test_ink_reads_on_every_wash_and_lettering_reads_on_ink(theme: str) -> None:
    colours = THEMES[theme]
    wanted = 7.0 if theme == "sunlight" else 4.5
    for wash in WASHES.values():
        assert contrast(colours["ink"], colours[wash]) >= wanted
    assert contrast(colours["on-ink"], colours["ink"]) >= wanted


@pytest.mark.parametrize("theme", THEMES)
def test_control_edges_and_the_focus_ring_stand_out(theme: str) -> None:
    colours = THEMES[theme]
    for mark in ("edge", "focus"):
        for ground in GROUNDS:
            assert contrast(colours[mark], colours[ground]) >= 3.0, f"{theme}: {mark} on {ground}"


def test_the_device_dark_theme_is_the_chosen_dark_theme() -> None:
    assert read_colours(':root[data-theme="auto"]') == THEMES["dark"]


def test_no_colour_is_written_outside_the_tokens() -> None:
    for sheet in LOOK.glob("*.css"):
        if sheet.name in {"tokens.css", "print.css"}:
            continue
        found = re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\(", sheet.read_text(encoding="utf-8"))
        assert not found, f"{sheet.name} names a colour itself: {found}; put it into tokens.css"
