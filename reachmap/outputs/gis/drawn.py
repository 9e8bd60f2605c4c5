"""Drawn hazards and access points as GIS layers: every map must show them."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import shapely

from reachmap.base.columns import Layer, count, frame_of, text, word
from reachmap.base.words import AccessKind, HazardKind
from reachmap.markup.model import Markup

_HAZARD = (
    count("number", "Its place in the drawing, from 1."),
    word("kind", HazardKind, "Kind of hazard."),
    text("note", "What was written on it, or empty."),
)

DRAWN: tuple[Layer, ...] = (
    Layer("hazards_drawn", "Point", "Hazards as drawn; the middle of a line or an area.", _HAZARD),
    Layer("hazard_outlines", "LineString", "Lines and outlines of hazards as drawn.", _HAZARD),
    Layer(
        "access_drawn",
        "Point",
        "Ways to the water as drawn.",
        (
            word("kind", AccessKind, "What it is."),
            text("note", "What was written on it, or empty."),
        ),
    ),
)
"""Layers of the drawing in results.gpkg, the same at every flow."""

DRAWN_BY_NAME: Mapping[str, Layer] = {layer.name: layer for layer in DRAWN}


def drawn_layers(markup: Markup) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers of `DRAWN` from a drawing, in its CRS."""
    facts = [
        {"number": number, "kind": str(one.kind), "note": one.note}
        for number, one in enumerate(markup.hazards, start=1)
    ]
    spots = [
        {**fact, "geometry": one.shape.representative_point()}
        for fact, one in zip(facts, markup.hazards, strict=True)
    ]
    lines = [
        {**fact, "geometry": line}
        for fact, one in zip(facts, markup.hazards, strict=True)
        for line in _lines(one.shape)
    ]
    ways = [
        {"kind": str(one.kind), "note": one.note, "geometry": one.place} for one in markup.access
    ]
    rows = {"hazards_drawn": spots, "hazard_outlines": lines, "access_drawn": ways}
    return {name: frame_of(DRAWN_BY_NAME[name], rows[name], markup.crs) for name in rows}


def _lines(shape: shapely.Geometry) -> list[shapely.LineString]:
    """Return the lines of a line or of an area's outline; none of a point."""
    if shapely.get_dimensions(shape) == 0:
        return []
    flat = shape.boundary if shapely.get_dimensions(shape) == 2 else shape
    parts = np.atleast_1d(shapely.get_parts(flat))
    return [shapely.LineString(part.coords) for part in parts]
