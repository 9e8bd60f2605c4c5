"""Checks of notes and marks: near the river, complete, plausible."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from reachmap.base.errors import Fault
from reachmap.base.quoting import quoted
from reachmap.base.units import FOOT_M
from reachmap.markup.check_banks import median_width
from reachmap.markup.drawing import Drawing
from reachmap.markup.features import Feature, all_of
from reachmap.markup.layers import LAYER_NAMES
from reachmap.markup.places import length_words

FAR = 2_000.0
"""Largest distance of a feature from the river line [m] (our choice)."""

FAR_ACCESS = 10_000.0
"""The same for access points [m]: a car park may lie off the river (our choice)."""

USUAL_WIDTH = 100.0
"""River width assumed where no banks give it [m] (our choice, on the wide side)."""

OFF_WATER = 1.5
"""A sounding farther than this many widths from every river line is on dry land (our choice)."""

LEVEL_GAP = 6.0
"""Largest difference between noted water levels and the DEM [m] (our choice, 3-8)."""

BED_GAP = 15.0
"""Greatest depth of a noted bed below the DEM's ground or water [m] (our choice)."""

RATIO_SLACK = 0.12
"""Tolerance of a ratio about 3.28 or its inverse that suggests a wrong unit (our choice)."""

MOST_LISTED = 3
"""More features than this with the same fault are reported together (our choice)."""


def far_away(drawing: Drawing) -> list[Fault]:
    """Return a fault for features, or whole layers, far from the river."""
    main = drawing.main
    faults: list[Fault] = []
    if main is None:
        return faults
    for name in LAYER_NAMES:
        drawn = [one for one in drawing.features[name] if one.shape is not None]
        limit = FAR_ACCESS if name == "access" else FAR
        away = shapely.distance(np.array([one.shape for one in drawn], dtype=object), main)
        far = [
            (one, gap) for one, gap in zip(drawn, np.atleast_1d(away), strict=True) if gap > limit
        ]
        fix = "Check the CRS of its file; if that is right, move it or take it out"
        if len(far) > MOST_LISTED:
            nearest = length_words(min(gap for _, gap in far), drawing.units)
            found = f"{len(far)} of {len(drawn)} features lie {nearest} or more from the river"
            faults.append(Fault(name, found, fix))
        else:
            faults += [
                Fault(one.where, f"it lies {length_words(gap, drawing.units)} from the river", fix)
                for one, gap in far
            ]
    return faults


def far_tracks(drawing: Drawing) -> list[Fault]:
    """Return a fault for each track most of which lies far from the river."""
    main = drawing.main
    if main is None:
        return []
    faults = []
    for track in drawing.tracks:
        gap = float(np.median(shapely.distance(shapely.points(track.x, track.y), main)))
        if gap > FAR:
            found = f"half of it lies {length_words(gap, drawing.units)} or more from the river"
            fix = "Check its places and their CRS; x is east and y is north"
            faults.append(Fault(track.name, found, fix))
    return faults


def soundings(drawing: Drawing) -> list[Fault]:
    """Return faults of soundings: without a value, without a flow, on dry land."""
    lines = all_of(drawing.features["river"])
    water = shapely.union_all(lines) if lines else None
    usual = median_width(drawing)
    reach = OFF_WATER * (USUAL_WIDTH if math.isnan(usual) else usual)
    faults = []
    for one in drawing.features["soundings"]:
        depth, bed, flow = (one.values[name] for name in ("depth", "bed", "flow"))
        if one.wrong & {"depth", "bed"}:
            pass  # reported already
        elif math.isnan(depth) and math.isnan(bed):
            fix = "Fill in depth with its flow, or bed; or delete it"
            faults.append(Fault(one.where, "it has neither depth nor bed", fix))
        elif math.isnan(bed) and math.isnan(flow) and "flow" not in one.wrong:
            fix = "Fill in the river's flow when the depth was taken"
            faults.append(Fault(one.where, "it has a depth but no flow", fix))
        if one.shape is None or water is None:
            continue
        gap = float(one.shape.distance(water))
        if reach < gap <= FAR:
            found = f"it lies {length_words(gap, drawing.units)} from the river line, on dry land"
            faults.append(Fault(one.where, found, "Move it into the water, or delete it"))
    return faults


def levels_against_dem(drawing: Drawing) -> list[Fault]:
    """Return a fault for each noted height that the DEM contradicts."""
    heights = drawing.heights
    faults: list[Fault] = []
    if heights is None:
        return faults
    for layer, field, low, high in (
        ("levels", "level", LEVEL_GAP, LEVEL_GAP),
        ("soundings", "bed", BED_GAP, LEVEL_GAP),
    ):
        pairs = zip(drawing.features[layer], heights.points[layer], strict=True)
        wrong = [
            (one, float(ground))
            for one, ground in pairs
            if np.isfinite(ground)
            and not math.isnan(one.values[field])
            and not -low <= one.values[field] - ground <= high
        ]
        faults += list(_height_faults(drawing, layer, field, wrong))
    return faults


def run_names(drawing: Drawing) -> list[Fault]:
    """Return a fault for each run without a name of its own."""
    faults = []
    first: dict[str, str] = {}
    for one in drawing.features["runs"]:
        name = " ".join(one.values["name"].split()).casefold()
        if not name:
            faults.append(Fault(one.where, "it has no name", "Give the run a name, or delete it"))
        elif name in first:
            found = f"its name {quoted(one.values['name'], 40)} is also that of {first[name]}"
            faults.append(Fault(one.where, found, "Name the two apart"))
        else:
            first[name] = one.where
    return faults


def unsized(drawing: Drawing) -> list[str]:
    """Return notes on marks without a size."""
    notes = []
    for layer in ("trees", "rocks"):
        lacking = sum(
            1
            for one in drawing.features[layer]
            if math.isnan(one.values["height"]) or math.isnan(one.values["size"])
        )
        if lacking:
            notes.append(f"{lacking} of the {layer} have no height or size: unknown there.")
    flat = sum(1 for one in drawing.features["banks"] if math.isnan(one.values["rise"]))
    if flat and not drawing.tiles:
        notes.append(f"{flat} banks have no rise and there is no DEM: their height is unknown.")
    return notes


def unit_ratio(found: float, true: float) -> str:
    """Return a hint where one height is the other in feet or in metres; "" where it is not."""
    if not (found and true and np.isfinite(found) and np.isfinite(true)):
        return ""
    ratio = found / true
    if abs(ratio * FOOT_M - 1) < RATIO_SLACK:
        return "it looks like feet taken for metres"
    if abs(ratio / FOOT_M - 1) < RATIO_SLACK:
        return "it looks like metres taken for feet"
    return ""


def _height_faults(
    drawing: Drawing, layer: str, field: str, wrong: list[tuple[Feature, float]]
) -> Iterator[Fault]:
    """Yield the faults of heights that contradict the DEM; many are reported as one."""
    for one, ground in wrong[: MOST_LISTED if len(wrong) <= MOST_LISTED else 1]:
        value = one.values[field]
        hint = unit_ratio(value, ground)
        found = (
            f"{field} is {length_words(value, drawing.units)} where the DEM says "
            f"{length_words(ground, drawing.units)}"
        )
        if len(wrong) > MOST_LISTED:
            found += f" ({len(wrong)} of {len(drawing.features[layer])} {layer} differ like this)"
        fix = "Give heights in the DEM's datum, in the folder's units or with their unit behind"
        yield Fault(one.where, found + (f"; {hint}" if hint else ""), fix)
