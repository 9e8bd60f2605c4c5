"""Everything that is drawn as shapes, from the product's layers and the angler's drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.base.shapes import F8
from reachmap.base.units import flow_words
from reachmap.base.words import Confidence
from reachmap.outputs.palette import BY_KIND, Shape
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.popups.cards import (
    Card,
    access_card,
    hazard_card,
    lane_card,
    note_card,
    seam_card,
    sounding_card,
    station_card,
    tailout_card,
    wading_card,
    water_card,
)
from reachmap.outputs.webmap.say import number_of, short, text_of
from reachmap.outputs.webmap.stands import Bearings, Fan, apart, behind_of, fan, water_code
from reachmap.outputs.webmap.unknown import guessed_ground, off_map, unknown_water

EVERY_FLOW = -1
"""Flow of what is there at every flow."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One thing to draw.

    Parameters
    ----------
    kind
        A kind of the palette.
    flow
        Position of its flow, or `EVERY_FLOW`.
    rings
        Lines, rings or a single point, each of shape (n, 2) in the project's CRS [m].
    closed
        Whether the rings bound an area.
    anchor
        Where its label stands and its card points to [m].
    card
        What is said of it, if anything.
    run
        Name of the run it belongs to, or empty.
    label
        Short writing beside it, or empty.
    mark
        Which sign a mark carries, or empty.
    weight
        The greater, the sooner its label is written where there is no room for all.
    faded
        Whether it is little sure, and drawn so.
    """

    kind: str
    flow: int
    rings: tuple[F8, ...]
    closed: bool
    anchor: tuple[float, float]
    card: Card | None = None
    run: str = ""
    label: str = ""
    mark: str = ""
    weight: float = 0.0
    faded: bool = False


def features(product: Product, *, tolerance: float = 0.2) -> list[Feature]:
    """Return everything to draw, all flows.

    Parameters
    ----------
    product
        The built reach.
    tolerance
        How far an outline may move when needless vertices are dropped [m].
    """
    thin = _Thin(tolerance)
    found = [*_from_rasters(product, thin), *_from_tables(product, thin)]
    return [*found, *_stations(product, thin), *_drawing(product, thin)]


class _Thin:
    """Turns geometry into rings, needless vertices dropped."""

    def __init__(self, tolerance: float) -> None:
        """Keep the tolerance [m]."""
        self.tolerance = tolerance

    def feature(self, kind: str, flow: int, geometry: BaseGeometry, **rest: Any) -> list[Feature]:
        """Return the geometry as one feature, or as none where nothing is left of it."""
        if geometry is None or geometry.is_empty:
            return []
        simple = geometry.simplify(self.tolerance)
        shown = geometry if simple.is_empty else simple
        rings = tuple(_rings(shown))
        closed = shown.geom_type in ("Polygon", "MultiPolygon")
        return [Feature(kind, flow, rings, closed, _anchor(shown), **rest)] if rings else []


def _rings(geometry: BaseGeometry) -> Iterator[F8]:
    """Yield every line and ring of a geometry."""
    for part in shapely.get_parts(geometry):
        if part.geom_type == "Polygon":
            yield shapely.get_coordinates(part.exterior)
            yield from (shapely.get_coordinates(hole) for hole in part.interiors)
        else:
            yield shapely.get_coordinates(part)


def _anchor(geometry: BaseGeometry) -> tuple[float, float]:
    """Return a place on the largest part: halfway along a line, well inside an area."""
    part = max(shapely.get_parts(geometry), key=lambda one: (one.area, one.length))
    if part.geom_type == "LineString":
        place = part.interpolate(0.5, normalized=True)
    else:
        place = part.representative_point()
    return float(place.x), float(place.y)


def _positions(product: Product) -> dict[str, int]:
    """Return the position of each flow by its label."""
    return {label: index for index, label in enumerate(product.labels)}


def _rows(product: Product, layer: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield a layer's rows with the position of their flow, those of mapped flows only."""
    positions = _positions(product)
    frame: gpd.GeoDataFrame | None = product.layers.get(layer)
    for row in frame.to_dict("records") if frame is not None else ():
        index = positions.get(str(row["flow_label"]))
        if index is not None:
            yield index, row


def _from_rasters(product: Product, thin: _Thin) -> Iterator[Feature]:
    """Yield what nobody knows: water at each flow, and the bed."""
    words = Card(
        "Not known", "Treat it as deep and fast", (), ("Nothing is known of the water here.",)
    )
    beyond = off_map(product.flows)
    for index in range(len(product.labels)):
        for outline in unknown_water(product.flows, index, beyond):
            yield from thin.feature("unknown_water", index, outline, card=words, faded=True)
    for outline in guessed_ground(product.ground, product.flows):
        yield from thin.feature("guess", EVERY_FLOW, outline)


def _from_tables(product: Product, thin: _Thin) -> Iterator[Feature]:
    """Yield the wetted edge, water, lines, wading and runs."""
    units = product.markup.plan.units
    for index, row in _rows(product, "wetted"):
        yield from thin.feature("edge", index, row["geometry"])
    for index, row in _rows(product, "wading"):
        grade = str(row["grade"])
        kind = grade if grade in BY_KIND else "unknown"
        yield from thin.feature(kind, index, row["geometry"], card=wading_card(row))
    for index, row in _rows(product, "water"):
        yield from thin.feature(
            str(row["kind"]) if str(row["kind"]) in BY_KIND else "soft_edge",
            index,
            row["geometry"],
            card=water_card(row, units),
            run=text_of(row["run"]),
            label=text_of(row["code"]),
            weight=number_of(row["score"]),
            faded=str(row["confidence"]) == Confidence.LOW,
        )
    lines: tuple[tuple[str, str, Callable[[Mapping[str, Any]], Card]], ...] = (
        ("seams", "seam_line", lambda row: seam_card(row, units)),
        ("tailouts", "tailout_line", lambda row: tailout_card(row, units)),
        ("lanes", "lane", lambda row: lane_card(row, units)),
    )
    for layer, kind, card in lines:
        for index, row in _rows(product, layer):
            yield from thin.feature(kind, index, row["geometry"], card=card(row))
    for index, row in _rows(product, "bands"):
        yield from thin.feature("band", index, row["geometry"])
    yield from _runs(product, thin)


def _runs(product: Product, thin: _Thin) -> Iterator[Feature]:
    """Yield the runs: those found, and those the angler drew that the product does not hold."""
    held = set()
    for row in product.layers["runs"].to_dict("records"):
        name = text_of(row["run"])
        held.add(name)
        kind = "own_run" if str(row["named_by"]) == "angler" else "found_run"
        yield from thin.feature(kind, EVERY_FLOW, row["geometry"], run=name, label=name)
    for run in product.markup.runs:
        if run.name not in held:
            yield from thin.feature(
                "own_run", EVERY_FLOW, run.outline, run=run.name, label=run.name
            )


def _stations(product: Product, thin: _Thin) -> Iterator[Feature]:
    """Yield the places to stand, each with its cast and the room behind it."""
    bearings, units = Bearings(product.ground), product.markup.plan.units
    water = {
        (index, text_of(row["code"])): (row["geometry"], text_of(row["run"]))
        for index, row in _rows(product, "water")
    }
    for index, row in apart(_rows(product, "stations")):
        place, run = water.get((index, water_code(row)), (None, ""))
        card = station_card(row, units)
        around = fan(row, bearings, place)
        behind = behind_of(row)
        if around is not None:
            yield from _fan_features(around, behind, index, card, run)
        yield from thin.feature(
            "station",
            index,
            row["geometry"],
            card=card,
            run=run,
            label=text_of(row["code"]),
            mark=behind,
        )


def _fan_features(around: Fan, behind: str, index: int, card: Card, run: str) -> Iterator[Feature]:
    """Yield the room behind a station and the reach of its cast."""
    x, y = (float(value) for value in around.swing[0])
    room = np.vstack([around.room, around.room[:1]])
    yield Feature(behind, index, (room,), True, (x, y), card, run)
    if behind != "blocked":
        yield Feature("swing", index, (around.swing,), False, (x, y), card, run)


def _drawing(product: Product, thin: _Thin) -> Iterator[Feature]:
    """Yield what the angler drew: river lines, notes, depths, access, hazards."""
    markup, units = product.markup, product.markup.plan.units
    for river in markup.rivers:
        yield from thin.feature("river", EVERY_FLOW, river.line, label=river.name)
    for bank in markup.banks:
        if bank.note:
            place = bank.outline.representative_point()
            yield from thin.feature("note", EVERY_FLOW, place, card=note_card(bank))
    for sounding in markup.soundings:
        flow = flow_words(sounding.flow, units) if np.isfinite(sounding.flow) else ""
        card = sounding_card(sounding, units, flow)
        label = short("depth", sounding.depth_m, units) if np.isfinite(sounding.depth_m) else ""
        yield from thin.feature("sounding", EVERY_FLOW, sounding.place, card=card, label=label)
    for access in markup.access:
        rest = {"card": access_card(access), "mark": access.kind.value}
        yield from thin.feature("access", EVERY_FLOW, access.place, **rest)
    for hazard in markup.hazards:
        rest = {"card": hazard_card(hazard), "mark": hazard.kind.value}
        yield from thin.feature("hazard", EVERY_FLOW, hazard.shape, **rest)


def is_mark(feature: Feature) -> bool:
    """Return whether a feature is drawn as a sign at its anchor."""
    return BY_KIND[feature.kind].shape is Shape.MARK
