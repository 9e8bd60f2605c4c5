"""Draft of a reach folder: reads terrain and canopy, drafts the river and stores the draft."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WGS84, is_metric, metric_crs, transform_points
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.grid import Grid
from reachmap.base.lock import locked
from reachmap.base.safe_files import RefusedError
from reachmap.draft import Draft, DraftSettings, Place, draft_river
from reachmap.draft.store import StoredDraft, StoredFeature, draft_in, keep, merged
from reachmap.ground.dem import read_dem
from reachmap.markup.cloud import add_returns, returns_on
from reachmap.markup.dem_look import Tile, look_at_tiles
from reachmap.markup.dem_note import DemNote
from reachmap.markup.drawing import Drawing
from reachmap.markup.file_facts import Unused, Use
from reachmap.markup.found import Found, found_files, terrain_files
from reachmap.markup.layers import LAYER_FIELDS
from reachmap.markup.read import read_drawing

LOCK = ".draft.lock"
"""Lock file of a folder's draft: one process makes or changes it at a time."""

LOCK_WAIT_S = 30.0
"""How long another process is waited for [s] (our choice)."""

STANDS_UP = re.compile(r"dsm|chm|canopy|surface|first|highest|vegetation")
"""Words in the file name of a surface or canopy height model."""

MOST_RISE_M = 120.0
"""Largest canopy height [m]; a raster with higher values holds heights above a datum."""


@dataclass(frozen=True, slots=True)
class DraftMade:
    """A new draft, and the folder's stored draft after merging it.

    Parameters
    ----------
    draft
        As made from the terrain.
    fresh
        The features that wait: those like ones decided before, or drawn, left out.
    kept
        All features stored in the folder.
    """

    draft: Draft
    fresh: tuple[StoredFeature, ...]
    kept: StoredDraft


def draft_folder(folder: Path, at: tuple[float, float] | None = None) -> DraftMade:
    """Draft a river from the terrain in a folder, and store it next to the drawing.

    Parameters
    ----------
    folder
        With terrain in it; it need not be a reach folder yet.
    at
        Longitude and latitude of a place on the river [degrees]; None for the largest river, or for
        the river line drawn.

    Raises
    ------
    MarkupError
        If there is no terrain, or it cannot be read.
    BuildError
        If the terrain shows no river.
    """
    drawing, _ = read_drawing(folder)
    note = drawing.reach_toml.plan.dem
    flow, paths = note.flow, [tile.path for tile in _tiles(folder)]
    if note.flights:  # a draft shows the water of one day
        flow = note.flights[0].flow
        paths = [drawing.tiles[number].path for number in note.flights[0].tiles]
    tiles = tuple(look_at_tiles(paths, WGS84)[0])
    crs = _crs_of(drawing, tiles)
    tiles = tuple(look_at_tiles(paths, crs)[0])
    near = None if at is None else _moved(at, crs)
    place = Place(crs, _bounds(tiles), _cell(tiles, crs), near, drawing.main, flow)

    def terrain(grid: Grid) -> FloatArray:
        return _heights(paths, grid, note)

    def canopy(grid: Grid, ground: FloatArray) -> FloatArray | None:
        return canopy_above(folder, grid, ground, note)

    draft = draft_river(place, terrain, canopy, DraftSettings())
    with locked(folder / LOCK, "a draft", wait_s=LOCK_WAIT_S):
        kept = merged(draft, draft_in(folder), _drawn(drawing))
        keep(folder, kept)
    return DraftMade(draft, kept.open, kept)


def _tiles(folder: Path) -> tuple[Tile, ...]:
    """Return the readable terrain of a folder."""
    tiles, faults = look_at_tiles(terrain_files(folder), WGS84)
    if tiles:
        return tuple(tiles)
    found = "there is no terrain in it to draft from"
    fix = "Put a terrain model into it: dem.tif, or tiles under any name (docs/evidence.md)"
    raise MarkupError(faults or [Fault(str(folder), found, fix)])


def _crs_of(drawing: Drawing, tiles: Sequence[Tile]) -> str:
    """Return the project's CRS: the drawing's, the tiles' own where it is metric, or UTM."""
    if drawing.crs:
        return drawing.crs
    named = drawing.reach_toml.crs
    if named and is_metric(named):
        return named
    middle = shapely.union_all([tile.outline for tile in tiles]).centroid
    return metric_crs(middle.x, middle.y)


def _moved(at: tuple[float, float], crs: str) -> tuple[float, float]:
    """Return a place in a CRS."""
    x, y = transform_points(np.array([at[0]]), np.array([at[1]]), WGS84, crs)
    return float(x[0]), float(y[0])


def _bounds(tiles: Sequence[Tile]) -> tuple[float, float, float, float]:
    """Return the bounds of tiles together: west, south, east, north [m]."""
    west, south, east, north = shapely.total_bounds([tile.outline for tile in tiles])
    return float(west), float(south), float(east), float(north)


def _cell(tiles: Sequence[Tile], crs: str) -> float:
    """Return the finest cell of the tiles on the ground [m], whatever the unit of their CRS."""
    found = []
    for tile in tiles:
        middle = tile.outline.centroid
        x, y = transform_points(np.array([middle.x]), np.array([middle.y]), crs, tile.crs)
        one_cell = np.array([x[0], x[0] + tile.cell]), np.array([y[0], y[0]])
        east, north = transform_points(*one_cell, tile.crs, crs)
        found.append(float(np.hypot(np.diff(east), np.diff(north))[0]))
    return round(min(found), 2)


def _drawn(drawing: Drawing) -> Mapping[str, Sequence[BaseGeometry]]:
    """Return the drawing's shapes by layer."""
    return {
        name: [one.shape for one in drawing.features[name] if one.shape is not None]
        for name in LAYER_FIELDS
    }


def _heights(paths: Sequence[Path], grid: Grid, note: DemNote) -> FloatArray:
    """Return the terrain on a raster [m]."""
    return read_dem(paths, grid, replace(note, datum="", flights=())).height.astype(np.float64)


def canopy_above(folder: Path, grid: Grid, ground: FloatArray, note: DemNote) -> FloatArray | None:
    """Return the height of the canopy [m above ground], NaN where unknown; None without any data.

    From a surface model (DSM), a canopy height model, or the returns of a classified point cloud;
    at each cell the first with data counts.
    """
    grown = np.full(grid.shape, np.nan)
    for one in found_files(folder):
        if one.fact.why is Unused.NOT_GROUND and STANDS_UP.search(one.path.stem.lower()):
            part = _raster_above(one.path, grid, ground, note)
        elif one.fact.use is Use.CLOUD:
            part = _cloud_above(one, folder, grid)
        else:
            continue
        if part is not None:
            grown = np.where(np.isnan(grown), part, grown)
    return grown if np.isfinite(grown).any() else None


def _raster_above(path: Path, grid: Grid, ground: FloatArray, note: DemNote) -> FloatArray | None:
    """Return heights above ground [m] of a DSM or canopy model; None where it can be neither."""
    try:
        heights = _heights([path], grid, note)
    except (MarkupError, RefusedError, OSError):
        return None
    both = np.isfinite(heights) & np.isfinite(ground)
    if not both.any():
        return None
    above = heights - ground
    if (
        abs(float(np.median(above[both]))) <= MOST_RISE_M / 2
        and float(np.percentile(above[both], 2)) >= -3.0
    ):
        return np.clip(above, 0.0, None)
    if float(np.percentile(heights[both], 99)) <= MOST_RISE_M:
        return np.clip(heights, 0.0, None)
    return None


def _cloud_above(one: Found, folder: Path, grid: Grid) -> FloatArray | None:
    """Return the highest return of a point cloud in each cell above the ground [m]."""
    gathered = returns_on(shapely.box(*grid.bounds), grid.crs)
    try:
        add_returns(gathered, one.path, folder)
    except RefusedError:
        return None
    canopy = gathered.canopy()
    return None if canopy is None else canopy.at(*np.meshgrid(grid.x, grid.y))


def flow_is_known(folder: Path) -> bool:
    """Return whether the flow on the day of the flight, or at the traced edges, is given."""
    plan = read_drawing(folder)[0].reach_toml.plan
    return bool(np.isfinite(plan.dem.flow) or np.isfinite(plan.traced_flow))
