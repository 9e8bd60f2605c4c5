"""The data of a page for its script, as plain JSON values and packed text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reachmap.base.arrays import FloatArray
from reachmap.base.language import number_tag, number_text
from reachmap.base.packed import numbers_in
from reachmap.base.units import flow_words, rounded_flow
from reachmap.base.words import UnitSystem
from reachmap.outputs.palette import PLAIN_DAY, PLAIN_NIGHT, ramps
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.encode import (
    differences,
    json_for_script,
    packed,
    packed_rings,
    quantised,
)
from reachmap.outputs.webmap.feature import EVERY_FLOW, Feature
from reachmap.outputs.webmap.folium_map import MAP_VARIABLE
from reachmap.outputs.webmap.gauge_scale import gauge_values, rise_and_edge
from reachmap.outputs.webmap.legend import legend
from reachmap.outputs.webmap.page_grid import TILE, PageGrid
from reachmap.outputs.webmap.run_values import run_values
from reachmap.outputs.webmap.runs import Run, RunWater, runs_by_flow
from reachmap.outputs.webmap.signed import DRY_STEPS, depth_values
from reachmap.outputs.webmap.tiles import SPREAD_STEPS_M, Tiles
from reachmap.outputs.webmap.whom_values import WhomRuns, everyone, whom_say, whom_values
from reachmap.text.map_cards import Card
from reachmap.text.map_page import (
    CHANGE,
    CHART,
    CURVES,
    GRADES,
    LIST,
    READING,
    STAND,
    TAKEN,
    WINDOW,
)
from reachmap.text.numbers import WAYS
from reachmap.text.page_notes import note_words
from reachmap.text.page_position import POSITION
from reachmap.text.sure import SURE_OF_BED, SURE_OF_WATER, spread_words
from reachmap.text.wading_terms import limits_of, terms_of

FILE_UNIT_M = 0.1
"""Resolution of the page's coordinates on the ground [m]."""

LONGEST_LABEL = 60
"""Longest name on the map [characters]; lists and cards have the full name."""


@dataclass(frozen=True, slots=True)
class PlacedFeature:
    """A feature with its rings and anchor in the page's coordinates."""

    feature: Feature
    rings: tuple[NDArray[np.int64], ...]
    anchor: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Parts:
    """Prepared data of all flows, computed once and used by every page.

    `own` are the labels of the flows requested; the others are intermediate steps. `rise_m` and
    `edge_m` are from `rise_and_edge`. `deepest_m` is the range of the depth tints: the 98th
    percentile of the depth at the highest flow. `everyone` holds the runs for outings other than
    that of reach.toml. `coarseness` is what features and tiles were drawn with, besides the
    product: how much coarser the page's cells are, and the tolerance of outlines [m].
    """

    product: Product
    page: PageGrid
    tiles: Tiles
    features: tuple[PlacedFeature, ...]
    runs: tuple[Run, ...]
    own: frozenset[str]
    rise_m: FloatArray
    edge_m: FloatArray
    deepest_m: float
    everyone: tuple[WhomRuns, ...] = ()
    coarseness: tuple[float, float] = (1, 0.2)

    @classmethod
    def of(
        cls,
        product: Product,
        page: PageGrid,
        tiles: Tiles,
        features: tuple[PlacedFeature, ...],
        own: Sequence[str] | None = None,
        coarseness: tuple[float, float] = (1, 0.2),
    ) -> Parts:
        """Return the parts of a product; `own` None: all of its flows were requested."""
        rise, edge = rise_and_edge(product.flows, product.ground)
        named = frozenset(product.labels if own is None else own)
        depth = numbers_in(product.flows["depth"].isel(flow=-1))
        depth = depth[np.isfinite(depth)]
        deepest = float(np.quantile(depth, 0.98)) if depth.size else 0.0
        held = RunWater.of(product)
        runs = runs_by_flow(product, held)
        others = everyone(product, held, runs)
        return cls(
            product, page, tiles, features, runs, named, rise, edge, deepest, others, coarseness
        )

    def words(self, index: int, units: UnitSystem) -> str:
        """Return a flow in words; an intermediate step is rounded."""
        flow = float(self.product.flows["flow"].to_numpy()[index])
        step = self.product.labels[index] not in self.own
        return flow_words(rounded_flow(flow, units) if step else flow, units)

    def other_words(self, index: int) -> str:
        """Return a flow of a folder in feet in m3/s; nothing of a metric folder."""
        metric = self.product.markup.plan.units is UnitSystem.METRIC
        return "" if metric else self.words(index, UnitSystem.METRIC)


def book(
    parts: Parts, flows: Sequence[int], start: int, *, with_log: bool = True
) -> dict[str, Any]:
    """Return the data of a page of some flows.

    Parameters
    ----------
    parts
        All flows.
    flows
        Positions of the flows on this page, rising.
    start
        Index of the flow initially shown.
    with_log
        Whether the angler's own log is included.
    """
    units, page = parts.product.markup.plan.units, parts.page
    unit = FILE_UNIT_M * page.scale
    drawn, rings = _features(parts, flows, with_log)
    tiles = parts.tiles
    runs = _runs(parts, parts.runs, flows, with_log)
    labels = [parts.product.labels[index] for index in flows]
    whom = whom_values(parts.everyone, labels, runs, lambda one: _runs(parts, one, flows, with_log))
    return {
        "map": MAP_VARIABLE,
        "reach": parts.product.markup.plan.name,
        "origin": [round(one, 3) for one in page.origin],
        "unit": unit,
        "metre": page.scale / unit,
        "start": start,
        "flows": [_flow(parts, index, units) for index in flows],
        "gauge": gauge_values(parts.product),
        "say": {
            "reading": dict(READING),
            "list": dict(LIST),
            "change": dict(CHANGE),
            "stand": dict(STAND),
            "window": WINDOW,
            "curves": CURVES,
            "chart": dict(CHART),
            "taken": dict(TAKEN),
            "grades": dict(GRADES),
            "notes": note_words(),
            "position": dict(POSITION),
            "whom": whom_say(),
        },
        "locale": number_tag(),
        "ways": {name: [asdict(way) for way in ways[units]] for name, ways in WAYS.items()},
        "legend": legend(),
        "ramps": _ramps(units, parts.deepest_m),
        "limits": limits_of(parts.product.report, units),
        "plain": {"day": PLAIN_DAY, "night": PLAIN_NIGHT},
        "tiles": _tiles(page, tiles, unit),
        "rasters": {name: _differences(parts, name, flows) for name in RASTERS},
        "sure": list(tiles.sure)
        if len(tiles.sure) == 1
        else [tiles.sure[index] for index in flows],
        "sureWords": list(SURE_OF_WATER if parts.product.doubt is not None else SURE_OF_BED),
        "doubtWords": spread_words(SPREAD_STEPS_M, units),
        "doubtSteps": list(SPREAD_STEPS_M),
        "terms": list(terms_of(parts.product.report, units).first),
        "shapes": _shapes(parts, rings, flows, with_log),
        "book": packed(json_for_script(drawn | {"runs": runs, "whom": whom}).encode("utf-8")),
    }


RASTERS = {
    "depth": ("ground", "flows", "doubt"),
    "speed": ("ground", "flows", "doubt"),
    "grade": ("ground", "flows", "doubt", "layers"),
}
"""Coded rasters of a page, and what they are made of."""


def _differences(parts: Parts, name: str, flows: Sequence[int]) -> list[str]:
    """Return the rasters of some flows as differences; they may be held."""
    each = getattr(parts.tiles, name)
    return parts.product.once(
        f"{name} differences",
        RASTERS[name],
        lambda: differences([each[index] for index in flows]),
        (list(flows), parts.coarseness, parts.tiles.speed_step),
    )


def _shapes(
    parts: Parts, rings: Sequence[NDArray[np.int64]], flows: Sequence[int], with_log: bool
) -> str:
    """Return the rings of a page; they may be held where no log is among them."""
    product = parts.product
    if with_log and product.log is not None:
        return packed_rings(rings)
    return product.once(
        "shapes",
        ("ground", "flows", "doubt", "waters", "layers", "asks", "drawing", "words"),
        lambda: packed_rings(rings),
        (list(flows), parts.coarseness),
    )


def _flow(parts: Parts, index: int, units: UnitSystem) -> dict[str, Any]:
    """Return one flow: name, value [m3/s], words, and how high and wide the water is [m]."""
    rise, edge = float(parts.rise_m[index]), float(parts.edge_m[index])
    return {
        "label": parts.product.labels[index],
        "value": float(parts.product.flows["flow"].to_numpy()[index]),
        "words": parts.words(index, units),
        "other": parts.other_words(index),
        "own": parts.product.labels[index] in parts.own,
        "rise": round(rise, 3) if math.isfinite(rise) else None,
        "edge": round(edge, 2),
    }


def _runs(
    parts: Parts, runs: Sequence[Run], flows: Sequence[int], with_log: bool
) -> list[dict[str, Any]]:
    """Return runs at some flows as plain values."""
    units, page = parts.product.markup.plan.units, parts.page

    def placed(points: FloatArray) -> FloatArray:
        found = (page.to_page(points) - np.asarray(page.origin)) / (FILE_UNIT_M * page.scale)
        return np.asarray(found)

    return run_values(runs, flows, units, placed, with_log=with_log)


def placed_features(found: Sequence[Feature], page: PageGrid) -> tuple[PlacedFeature, ...]:
    """Return features in the page's coordinates, all transformed in one call."""
    origin, unit = page.origin, FILE_UNIT_M * page.scale
    parts = [np.vstack([feature.anchor, *feature.rings]) for feature in found]
    if not parts:
        return ()
    moved = page.to_page(np.vstack(parts))
    placed = []
    start = 0
    for feature in found:
        x, y = np.rint((moved[start] - origin) / unit).astype(int).tolist()
        ends = start + 1 + np.cumsum([0, *(len(ring) for ring in feature.rings)])
        rings = [quantised(moved[a:b], origin, unit) for a, b in pairwise(ends)]
        placed.append(PlacedFeature(feature, tuple(rings), (x, y)))
        start = int(ends[-1])
    return tuple(placed)


def _ramps(units: UnitSystem, deepest: float) -> dict[str, Any]:
    """Return the colour classes with their labels."""
    classes: dict[str, Any] = {}
    for ramp in ramps(units, deepest):
        way = WAYS[ramp.quantity][units][0]
        signs = [number_text(bound / way.size, 0 if way.size < 1 else 1) for bound in ramp.bounds]
        classes[ramp.quantity] = {
            "bounds": list(ramp.bounds),
            "signs": signs,
            "unit": way.unit,
            "day": list(ramp.day),
            "night": list(ramp.night),
        }
    return classes


def _tiles(page: PageGrid, tiles: Tiles, unit: float) -> dict[str, Any]:
    """Return the positions of the tiles, and the outline of the raster they were cut from."""
    side = TILE * page.grid.cell / unit
    west, south, east, north = page.source.bounds
    corners = np.array([[west, north], [east, north], [east, south], [west, south]])
    return {
        "cells": TILE,
        "sureCells": TILE // 2,
        "side": side,
        "at": [[round(column * side, 3), round(-row * side, 3)] for row, column in tiles.blocks],
        "ground": DRY_STEPS,
        "depths": [round(float(value), 4) for value in depth_values()],
        "speedStep": tiles.speed_step,
        "outline": quantised(page.to_page(corners), page.origin, unit).ravel().tolist(),
    }


def _features(
    parts: Parts, flows: Sequence[int], with_log: bool
) -> tuple[dict[str, Any], list[NDArray[np.int64]]]:
    """Return the features of some flows as columns with their cards, and their rings."""
    position = {flow: index for index, flow in enumerate(flows)} | {EVERY_FLOW: EVERY_FLOW}
    placed = [
        one
        for one in parts.features
        if one.feature.flow in position and (with_log or one.feature.kind != "trip")
    ]
    shown = [one.feature for one in placed]
    names = {run.name: index for index, run in enumerate(parts.runs)}
    cards: dict[Card, int] = {}
    columns: dict[str, Any] = {
        "kind": [feature.kind for feature in shown],
        "flow": [position[feature.flow] for feature in shown],
        "rings": [len(feature.rings) for feature in shown],
        "closed": [int(feature.closed) for feature in shown],
        "x": [one.anchor[0] for one in placed],
        "y": [one.anchor[1] for one in placed],
        "card": [
            cards.setdefault(feature.card, len(cards)) if feature.card is not None else -1
            for feature in shown
        ],
        "run": [names.get(feature.run, -1) for feature in shown],
        "label": [_cut(feature.label) for feature in shown],
        "mark": [feature.mark for feature in shown],
        "weight": [_weight(feature.weight) for feature in shown],
        "faded": [int(feature.faded) for feature in shown],
        "near": [position.get(feature.near, EVERY_FLOW) for feature in shown],
    }
    rings = [ring for one in placed for ring in one.rings]
    return {"features": columns, "cards": [card.plain() for card in cards]}, rings


def _cut(label: str) -> str:
    """Return a label cut to the length allowed on the map."""
    return label if len(label) <= LONGEST_LABEL else label[: LONGEST_LABEL - 1] + "…"


def _weight(weight: float) -> float:
    """Return a weight rounded for the page."""
    return round(weight, 1) if math.isfinite(weight) else 0.0
