"""Calculations of heat flow, gaps and surface temperature."""

from __future__ import annotations

from coordination.fabric import bridging, gaps, layers, surface
from coordination.fabric.registry import Definition, Input, Result, Value, choice, whole

R = Input("r", "m²K/W", "label value of the batts")
BASE = Input("base", "m²K/W", "resistance of the same ceiling without batts", from_limit="ceiling.base_r")
FRACTION = Input("fraction", "share", "share of the ceiling that stays bare, 0 to 1")
INSIDE = Input("inside", "°C", "air temperature inside", 20)
OUTSIDE = Input("outside", "°C", "air temperature outside")
HUMIDITY = Input("humidity", "share", "relative humidity inside: 0.5 or 50 for one half", 0.5)

KIND_OF_WALL, OWN_FIGURE = "kind of wall", "own figure"


def _read_layers(name: str, value: object) -> tuple[bridging.Layer, ...]:
    return bridging.read_layers(value)


def _bridged(layers: tuple[bridging.Layer, ...]) -> dict[str, Value]:
    done = bridging.combine(layers)
    return {
        "upper": done.upper,
        "lower": done.lower,
        "total": done.total,
        "u": done.u,
        "error": done.error,
    }


def _bare(r: float, base: float, fraction: float) -> dict[str, Value]:
    return {"r_added": gaps.added_r(r, base, fraction), "loss": gaps.lost_share(r, base, fraction)}


def _restore(r: float, base: float, fraction: float) -> dict[str, Value]:
    return {"r_needed": gaps.restoring_r(r, base, fraction)}


def _voids(level: int, r: float, total: float) -> dict[str, Value]:
    return {
        "correction": gaps.void_correction(level, r, total),
        "u": gaps.corrected_u(level, r, total),
    }


def _cutouts(count: int, diameter: float, clearance: float) -> dict[str, Value]:
    return {"area": gaps.cutout_area(count, diameter, clearance)}


def _surface(u: float, inside: float, outside: float, humidity: float, film: float) -> dict[str, Value]:
    temperature = surface.surface_temperature(u, inside, outside, film)
    lowest = surface.lowest_safe_temperature(inside, humidity)
    return {
        "temperature": temperature,
        "frsi": surface.surface_factor(u, film),
        "lowest_safe": lowest,
        "mould": temperature < lowest,
    }


def _mould_limit(inside: float, outside: float, humidity: float) -> dict[str, Value]:
    return {
        "lowest_safe": surface.lowest_safe_temperature(inside, humidity),
        "dew_point": surface.dew_point(inside, humidity),
        "frsi_needed": surface.needed_factor(inside, outside, humidity),
    }


def _layer(thickness: float, conductivity: float) -> dict[str, Value]:
    return {"r": layers.layer_r(thickness, conductivity)}


def _outer_leaf(outside: str, by: str, own: float) -> dict[str, Value]:
    return {"r": layers.outer_leaf_r(outside, own if by == OWN_FIGURE else None)}


def _label(thickness: float, r: float) -> dict[str, Value]:
    return {
        "conductivity": layers.conductivity_of(thickness, r),
        "plausible": layers.is_plausible_label(thickness, r),
    }


def _lagging(pipe: float, lagging: float, conductivity: float) -> dict[str, Value]:
    return {
        "r": layers.lagging_r(pipe, lagging, conductivity),
        "r_flat": layers.layer_r(lagging, conductivity),
    }


HEAT: tuple[Definition, ...] = (
    Definition(
        name="bridged",
        question="What do layers bridged by timber resist together?",
        inputs=(
            Input(
                "layers",
                "m²K/W",
                "layers from air to air, as 0.04,0.18,2.5/0.75@0.12,0.13 (main/bridge@share)",
                read=_read_layers,
            ),
        ),
        results=(
            Result("upper", "m²K/W", "upper limit of R"),
            Result("lower", "m²K/W", "lower limit of R"),
            Result("total", "m²K/W", "R, mean of both"),
            Result("u", "W/(m²K)", "U, inverse of R"),
            Result("error", "share", "greatest relative error of the method"),
        ),
        run=_bridged,
        formula="upper = 1/Σ(f/Rpath), lower = Σ 1/Σ(f/Rlayer), total = (upper + lower)/2, "
        "error = (upper - lower)/(2·total)",
        source="ISO 6946 combined method (procedure read in Scottish Building Standards annex 6.B); "
        "not for insulation bridged by metal",
    ),
    Definition(
        name="bare",
        question="How much do ceiling batts still add when a share of the ceiling is bare?",
        inputs=(R, BASE, FRACTION),
        results=(
            Result("r_added", "m²K/W", "R that the batts still add"),
            Result("loss", "share", "share of their label value that is lost"),
        ),
        run=_bare,
        formula="r_added = 1/(f/base + (1 - f)/(r + base)) - base; loss = 1 - r_added/r",
        source="areas side by side (parallel paths), as credited to AIRAH and Trethowen",
    ),
    Definition(
        name="restore",
        question="Which batts bring a ceiling with a bare share back to its R?",
        inputs=(R, BASE, FRACTION),
        results=(Result("r_needed", "m²K/W", "label value that restores r"),),
        run=_restore,
        formula="r_needed = (1 - f)/(1/(r + base) - f/base) - base; none when f ≥ base/(r + base)",
        source="inverse of `bare`; gives the row read of BCA 2011 table 3.12.1.1b (2.43 %, R3.5: R4.8)",
    ),
    Definition(
        name="voids",
        question="How far do gaps beside the batts raise U?",
        inputs=(
            Input("level", "", "0 no gap, 1 gaps, 2 gaps with air moving on the warm side", read=whole),
            Input("r", "m²K/W", "R of the insulation"),
            Input("total", "m²K/W", "R of the whole element"),
        ),
        results=(
            Result("correction", "W/(m²K)", "correction of U"),
            Result("u", "W/(m²K)", "U with the correction where it reaches 3 % of U"),
        ),
        run=_voids,
        formula="correction = ΔU''·(r/total)², ΔU'' = 0, 0.01, 0.04 for level 0, 1, 2",
        source="ISO 6946 annex F (annex D in 2007), values from memory",
        limits=("void.level_1", "void.level_2", "void.negligible"),
    ),
    Definition(
        name="cutouts",
        question="How much of the ceiling do fittings with a clearance leave bare?",
        inputs=(
            Input("count", "", "number of fittings", read=whole),
            Input("diameter", "mm", "diameter of the cut-out"),
            Input("clearance", "mm", "insulation kept clear all round"),
        ),
        results=(Result("area", "m²", "bare area"),),
        run=_cutouts,
        formula="area = n·π·(diameter/2 + clearance)²",
        source="geometry; the clearance is the fitting's marking and the maker's sheet",
    ),
    Definition(
        name="surface",
        question="How warm is the inside surface, and can mould grow on it?",
        inputs=(
            Input("u", "W/(m²K)", "U of the element at this place"),
            INSIDE,
            OUTSIDE,
            HUMIDITY,
            Input(
                "film", "m²K/W", "inside surface resistance within u: 0.25, or 0.13 for a heat-loss U", 0.25
            ),
        ),
        results=(
            Result("temperature", "°C", "temperature of the inside surface"),
            Result("frsi", "", "temperature factor"),
            Result("lowest_safe", "°C", "coldest surface without mould"),
            Result("mould", "", "true where mould can grow"),
        ),
        run=_surface,
        formula="frsi = 1 - 0.25/(1/u - film + 0.25), that is 1 - 0.25·u with film 0.25; "
        "temperature = outside + frsi·(inside - outside); mould when the surface is above 80 % humidity",
        source="ISO 13788 (Rsi 0.25 for mould, 80 % at the surface), values from memory; "
        "12.6 °C at 20 °C and 50 % published with DIN 4108-2",
        limits=("film.mould", "mould.humidity"),
    ),
    Definition(
        name="mould_limit",
        question="How warm must a surface stay in this room so that no mould grows?",
        inputs=(INSIDE, OUTSIDE, HUMIDITY),
        results=(
            Result("lowest_safe", "°C", "coldest surface without mould"),
            Result("dew_point", "°C", "temperature at which it drips"),
            Result("frsi_needed", "", "least temperature factor"),
        ),
        run=_mould_limit,
        formula="p = 610.5·exp(17.269·t/(237.3 + t)); surface where p(t) = humidity·p(inside)/0.8",
        source="ISO 13788",
        limits=("film.mould", "mould.humidity"),
    ),
    Definition(
        name="layer",
        question="What does a plane layer resist?",
        inputs=(Input("thickness", "mm", "thickness"), Input("conductivity", "W/(mK)", "conductivity")),
        results=(Result("r", "m²K/W", "R of the layer"),),
        run=_layer,
        formula="r = thickness / conductivity",
        source="ISO 6946",
    ),
    Definition(
        name="outer_leaf",
        question="What resists outside the batt of this wall?",
        inputs=(
            Input(
                "outside", "", "what stands outside: masonry or cladding", read=choice(*layers.OUTER_LEAVES)
            ),
            Input(
                "by",
                "",
                "whether the kind of wall decides, or an own figure",
                KIND_OF_WALL,
                read=choice(KIND_OF_WALL, OWN_FIGURE),
            ),
            Input("own", "m²K/W", "the own figure, outside film included", layers.VENEER_OUTSIDE),
        ),
        results=(Result("r", "m²K/W", "cavity, leaf and outside film together"),),
        run=_outer_leaf,
        formula="masonry = film + 110 mm brick at 0.65 + still cavity; cladding = still air before the wrap",
        source="ISO 6946 (films, cavities; 6.9.4 from memory), NCC 2022 Specification 36; or an own figure",
        limits=("film.outside",),
    ),
    Definition(
        name="label",
        question="Do the thickness and the R on this bag belong together?",
        inputs=(
            Input("thickness", "mm", "thickness on the label"),
            Input("r", "m²K/W", "R on the label"),
        ),
        results=(
            Result("conductivity", "W/(mK)", "conductivity that they imply"),
            Result("plausible", "", "true where batts have such a conductivity"),
        ),
        run=_label,
        formula="conductivity = thickness / r; plausible from 0.033 to 0.055",
        source="ISO 6946; range of handbooks, from memory",
        limits=("batts.conductivity_least", "batts.conductivity_most"),
    ),
    Definition(
        name="lagging",
        question="What does lagging round a pipe resist?",
        inputs=(
            Input("pipe", "mm", "outer diameter of the pipe"),
            Input("lagging", "mm", "thickness of the lagging"),
            Input("conductivity", "W/(mK)", "conductivity of the lagging", 0.04),
        ),
        results=(
            Result("r", "m²K/W", "R over the outer area of the cylinder"),
            Result("r_flat", "m²K/W", "R of a flat layer, as labels are often read"),
        ),
        run=_lagging,
        formula="r = ro·ln(ro/ri)/λ; r_flat = thickness/λ",
        source="heat flow through a cylinder; take the labelled value where there is one",
    ),
)
