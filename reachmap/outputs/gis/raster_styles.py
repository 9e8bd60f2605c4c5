"""Raster styles for desktop GIS: classes in the reader's units, and codes with their words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np

from reachmap.base import qml
from reachmap.base.arrays import FloatArray
from reachmap.base.units import LENGTH, SPEED
from reachmap.base.words import UnitSystem, Wet
from reachmap.outputs.palette import BY_KIND, PLAIN_DAY, ramps
from reachmap.text.gis import WET_WORDS, height_words, step_words

UNCERTAINTY_COLOURS = ("#f4f1fb", "#d9cff0", "#b79fe0", "#8f6bc6", "#683da2", "#43167a")
"""Colours of the classes of uncertainty, lowest first (our choice)."""

DEPTH_SPREAD, SPEED_SPREAD = (0.0, 0.1, 0.2, 0.3, 0.5, 0.8), (0.0, 0.05, 0.1, 0.2, 0.3, 0.5)
"""Class bounds of standard deviations [m], [m/s] (our choice)."""

AGREEMENT = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9)
"""Class bounds of the chance that depth and speed are about as mapped (our choice)."""

ODDS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8)
"""Class bounds of odds: those of the table of docs/uncertainty.md, what was said and what held."""

LEVEL_STEPS = 7
"""Number of equal classes over the heights of one raster (our choice)."""

WET_COLOURS = {
    Wet.NO: ("#ffffff", 0),
    Wet.YES: (PLAIN_DAY, 255),
    Wet.UNKNOWN: (BY_KIND["unknown"].day.fill, 255),
}
"""Colour and opacity of each code; unknown is opaque."""


@dataclass(frozen=True, slots=True)
class Step:
    """One class: from the bound of the previous one to `upto` [SI, inf for the last]."""

    upto: float
    colour: str
    words: str


def steps_of(name: str, values: FloatArray, units: UnitSystem) -> tuple[Step, ...]:
    """Return the colour classes of a raster of numbers.

    Parameters
    ----------
    name
        Name of the raster, like "depth".
    values
        Its values [SI], NaN where there is none; used for `level` only.
    units
        Of the reach folder, for the names of the classes.
    """
    depth, speed = ramps(units)
    length, pace = LENGTH[units], SPEED[units]
    table = {
        "depth": (depth.bounds, depth.day, length),
        "speed": (speed.bounds, speed.day, pace),
        "depth_spread": (DEPTH_SPREAD, UNCERTAINTY_COLOURS, length),
        "speed_spread": (SPEED_SPREAD, UNCERTAINTY_COLOURS, pace),
        "suits_chance": (ODDS, UNCERTAINTY_COLOURS, ""),
        "wet_chance": (ODDS, UNCERTAINTY_COLOURS, ""),
        "agreement": (AGREEMENT, UNCERTAINTY_COLOURS[::-1], ""),
    }
    if name == "level":
        return _level_steps(values, depth.day, length)
    bounds, colours, unit = table[name]
    return _steps(bounds, colours, step_words(bounds, unit))


def _steps(
    bounds: Sequence[float], colours: Sequence[str], words: Sequence[str]
) -> tuple[Step, ...]:
    """Return classes from their lower bounds."""
    upper = (*bounds[1:], math.inf)
    return tuple(Step(*one) for one in zip(upper, colours, words, strict=True))


def _level_steps(values: FloatArray, colours: Sequence[str], unit: str) -> tuple[Step, ...]:
    """Return equal classes over the heights found, each named by its upper bound."""
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    ends = np.linspace(low, high, LEVEL_STEPS + 1)
    words = [
        f"{height_words(float(a), unit)} to {height_words(float(b), unit)}"
        for a, b in pairwise(ends)
    ]
    return _steps([float(end) for end in ends[:-1]], colours, words)


def raster_qml(name: str, steps: Sequence[Step]) -> str:
    """Return a raster's style as QML; QGIS applies a file with the raster's name by itself."""
    root = qml.root("Symbology")
    add_pipe(root, name, steps)
    return qml.text_of(root)


def add_pipe(root: ET.Element, name: str, steps: Sequence[Step], *, opacity: float = 1.0) -> None:
    """Add a raster's renderer to a style or to a layer of a project."""
    pipe = ET.SubElement(root, "pipe")
    if name == "wet":
        _codes(pipe)
    else:
        _classes(pipe, steps)
    pipe[0].set("opacity", f"{opacity:g}")
    ET.SubElement(pipe, "rasterresampler", maxOversampling="1")


def _codes(pipe: ET.Element) -> None:
    """Add a palette of the codes."""
    renderer = ET.SubElement(
        pipe, "rasterrenderer", type="paletted", band="1", opacity="1", alphaBand="-1"
    )
    palette = ET.SubElement(renderer, "colorPalette")
    for code, (colour, opacity) in WET_COLOURS.items():
        ET.SubElement(
            palette,
            "paletteEntry",
            value=str(code.value),
            color=colour,
            alpha=str(opacity),
            label=WET_WORDS[code],
        )


def _classes(pipe: ET.Element, steps: Sequence[Step]) -> None:
    """Add discrete colour classes."""
    finite = [step.upto for step in steps if math.isfinite(step.upto)]
    ends = {"classificationMin": "0", "classificationMax": f"{finite[-1]:g}"}
    renderer = ET.SubElement(
        pipe,
        "rasterrenderer",
        {"type": "singlebandpseudocolor", "band": "1", "opacity": "1", "alphaBand": "-1", **ends},
    )
    shader = ET.SubElement(
        ET.SubElement(renderer, "rastershader"),
        "colorrampshader",
        colorRampType="DISCRETE",
        classificationMode="1",
        clip="0",
        minimumValue="0",
        maximumValue=f"{finite[-1]:g}",
    )
    for step in steps:
        upto = f"{step.upto:.6g}" if math.isfinite(step.upto) else "inf"
        ET.SubElement(shader, "item", value=upto, color=step.colour, alpha="255", label=step.words)


def colour_table() -> dict[int, tuple[int, int, int, int]]:
    """Return the colours of the codes of `wet` for the GeoTIFF's colour table."""
    return {
        code.value: (*(int(colour[i : i + 2], 16) for i in (1, 3, 5)), opacity)  # type: ignore[misc]
        for code, (colour, opacity) in WET_COLOURS.items()
    }
