"""The way back: at which higher flow a bar, an island or a stand is cut off from the bank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from scipy import ndimage

from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.more_water import Surface, with_more_water
from reachmap.angler.view import land_ends
from reachmap.angler.wading import GRADES, NONE, reachable_ground
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.patches import FOUR, joined_to
from reachmap.base.words import Side, WadeGrade, Wet

NEAR_CELLS = 6
"""How far round a place its water level is looked at, in cells, of 1 m where the raster's are
smaller; our choice."""

WADED = (WadeGrade.EASY, WadeGrade.CAREFUL)
"""Grades of water that one may wade."""

STEPS = (np.argwhere(FOUR) - 1).T
"""Rows and columns from a cell to itself and to those that share a side with it."""

Grounds = dict[int, IntArray]
"""Place in a layer, and the cells of the ground one would stand on there, counted in the flattened
raster. What needs no wading to get to land, or has no way at all, is left out."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """One flow: its water, land, what one reaches on foot, bars and zones by number.

    Arrays have shape (y, x); the zones one may wade are numbered from 1 in the order of the layer
    `wading`, 0 where there is none. `bar_cells` holds the cells of each bar, counted in the
    flattened raster.
    """

    surface: Surface
    land: BoolArray
    reach: BoolArray
    bars: IntArray
    bar_cells: dict[int, IntArray]
    zones: IntArray


def ways_back(
    ground: xr.Dataset,
    flows: xr.Dataset,
    layers: Mapping[str, gpd.GeoDataFrame],
    *,
    rise_m: float = HazardSettings().more_water_m,
) -> dict[str, gpd.GeoDataFrame]:
    """Return `wading`, `stations` and `bars` over all flows with when the way back is cut off.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flows
        The flow stage's Dataset, flows rising.
    layers
        Those three layers over all these flows, as `assess` made them.
    rise_m
        How much more water a stale or guessed gauge may hide [m].

    Notes
    -----
    A place that needs no wading to get to land is never cut off by it: as the water comes up one
    walks away. Any other is cut off at the first higher flow at which the ground one would stand on
    is no longer joined to land by water one can wade, or is under water out of bounds. Between two
    mapped flows nobody knows: reckon with the lower.
    """
    stages = _stages(ground, flows, layers["wading"])
    back = {}
    for name, find in (("bars", _of_bars), ("stations", _of_stands), ("wading", _of_zones)):
        frame = layers[name]
        columns: FloatArray = np.full((3, len(frame)), np.nan)
        for here, stage in enumerate(stages):
            mine = np.flatnonzero(frame["flow_label"] == stage.surface.label)
            grounds = find(stage, frame, mine.astype(np.int32))
            columns[:, list(grounds)] = _closings(stages[here:], list(grounds.values()))
        back[name] = frame.assign(
            open_until_m3_s=columns[0], cut_off_m3_s=columns[1], cut_off_rise_m=columns[2]
        )
    surfaces = [stage.surface for stage in stages]
    back["stations"] = with_more_water(back["stations"], surfaces, rise_m)
    return back


def when_cut_off(
    open_until: float, times: Sequence[np.datetime64], flow: FloatArray
) -> np.datetime64:
    """Return when a forecast first goes above the last flow at which the way back is open.

    Parameters
    ----------
    open_until
        That flow [m3/s].
    times
        Times of the forecast, rising.
    flow
        Forecast discharge [m3/s]; NaN is unknown and counts as above.

    Returns
    -------
    numpy.datetime64
        The first such time; NaT if the forecast never goes above.
    """
    with np.errstate(invalid="ignore"):
        above = np.flatnonzero(~(np.asarray(flow) <= open_until))
    return np.datetime64("NaT") if not above.size else np.datetime64(times[int(above[0])])


def _stages(ground: xr.Dataset, flows: xr.Dataset, wading: gpd.GeoDataFrame) -> list[_Stage]:
    """Return every flow, its graded water put back on the raster."""
    codes = {grade.value: code for code, grade in GRADES.items()}
    waded = wading[wading["grade"].isin(WADED)]
    grid, known = Grid.of(ground), np.isfinite(ground["bed"].to_numpy())
    left, right = land_ends(ground, Centreline.of(ground))
    wet, level = flows["wet"].to_numpy(), flows["level"].to_numpy()
    names = zip(flows["flow"].to_numpy(), flows["asked"].to_numpy(), strict=True)
    stages = []
    for index, (flow, label) in enumerate(names):
        surface = Surface(grid, float(flow), str(label), wet[index] == Wet.YES, level[index])
        dry = (wet[index] == Wet.NO) & known
        land = joined_to(left | right, dry)
        mine = waded[waded["flow_label"] == surface.label]
        zones = grid.rasterize(mine.geometry)
        grade = np.array([NONE, *(codes[one] for one in mine["grade"])], dtype=np.uint8)[zones]
        reach = reachable_ground(grade, land, dry)
        bars = ndimage.label(dry & ~land, FOUR)[0].astype(np.int32)
        stages.append(_Stage(surface, land, reach, bars, _patches(bars), zones))
    return stages


def _closings(stages: Sequence[_Stage], grounds: Sequence[IntArray]) -> FloatArray:
    """Return when the way back from grounds at the first of some flows closes, shape (3, n).

    The last open flow, the first closed one [m3/s] and how far the water is up then [m]; NaN where
    there is none. Places on one bar share their ground: it is looked at once.
    """
    keys = [ground.tobytes() for ground in grounds]
    found = {
        key: _closes(stages, one) for key, one in dict(zip(keys, grounds, strict=True)).items()
    }
    return np.array([found[key] for key in keys], dtype=np.float64).reshape(-1, 3).T


def _closes(stages: Sequence[_Stage], ground: IntArray) -> tuple[float, float, float]:
    """Return last open flow, first closed one and rise of one ground, as `_closings` does."""
    last = stages[0]
    for stage in stages[1:]:
        if not stage.reach.ravel()[ground].any():
            rise = _rise(stages[0].surface, stage.surface, ground)
            return last.surface.flow, stage.surface.flow, rise
        last = stage
    return last.surface.flow, np.nan, np.nan


def _near_cells(grid: Grid) -> int:
    """Return how many cells round a place are looked at."""
    return round(NEAR_CELLS * max(1.0 / grid.cell, 1.0))


def _rise(here: Surface, there: Surface, ground: IntArray) -> float:
    """Return how much higher the water stands about a ground at another flow [m]; NaN unknown."""
    around = _near_cells(here.grid)
    rows, cols = np.unravel_index(ground, here.wet.shape)
    top, left = (max(int(at.min()) - around, 0) for at in (rows, cols))
    window = (
        slice(top, int(rows.max()) + around + 1),
        slice(left, int(cols.max()) + around + 1),
    )
    near = np.zeros(here.wet[window].shape, dtype=bool)
    near[rows - top, cols - left] = True
    near = ndimage.binary_dilation(near, FOUR, iterations=around)
    near &= here.wet[window] & there.wet[window]
    if not near.any():
        return float("nan")
    return float(np.median(there.level[window][near] - here.level[window][near]))


def _of_bars(stage: _Stage, bars: gpd.GeoDataFrame, places: IntArray) -> Grounds:
    """Return the grounds of bars: themselves."""
    found, grid = {}, stage.surface.grid
    for place, shape in zip(places, bars.geometry.iloc[places], strict=True):
        window = grid.window_over(shape.bounds, margin=1)
        inside = grid.part(window).rasterize([shape]) > 0
        found[int(place)] = _reached(stage, stage.bars[window][inside])
    return {place: cells for place, cells in found.items() if cells is not None}


def _of_stands(stage: _Stage, stands: gpd.GeoDataFrame, places: IntArray) -> Grounds:
    """Return the grounds of stands: the bars one stands on or beside."""
    off_land = places[(stands["side"] == Side.ISLAND).to_numpy()[places]]
    points = shapely.get_coordinates(stands.geometry.iloc[off_land].to_numpy())
    rows, cols, inside = stage.surface.grid.index(*points.T)
    found, around = {}, _near_cells(stage.surface.grid)
    for place, row, col in zip(off_land[inside], rows[inside], cols[inside], strict=True):
        near = stage.bars[
            max(row - around, 0) : row + around + 1,
            max(col - around, 0) : col + around + 1,
        ]
        found[int(place)] = _reached(stage, near)
    return {place: cells for place, cells in found.items() if cells is not None}


def _of_zones(stage: _Stage, wading: gpd.GeoDataFrame, places: IntArray) -> Grounds:
    """Return the grounds of zones one may wade: the bars beside one, or else the zone itself."""
    waded = places[wading["grade"].isin(WADED).to_numpy()[places]]
    zones, shape = _patches(stage.zones), stage.zones.shape
    found = {}
    for number, place in enumerate(waded.tolist(), start=1):
        cells = zones[number]
        rows, cols = np.unravel_index(cells, shape)
        near = (rows[:, None] + STEPS[0], cols[:, None] + STEPS[1])
        beside = np.ravel_multi_index(near, shape, mode="clip")
        if stage.land.ravel()[beside].any():
            continue
        bars = _reached(stage, stage.bars.ravel()[beside])
        found[place] = cells if bars is None else bars
    return found


def _reached(stage: _Stage, bars: IntArray) -> IntArray | None:
    """Return the cells of bars of some numbers, if one gets to any on foot; None otherwise."""
    numbers = np.unique(bars[bars > 0]).tolist()
    if not numbers:
        return None
    cells = np.concatenate([stage.bar_cells[number] for number in numbers])
    return cells if stage.reach.ravel()[cells].any() else None


def _patches(numbers: IntArray) -> dict[int, IntArray]:
    """Return the cells that hold each number above 0, counted in the flattened raster."""
    cells = np.flatnonzero(numbers).astype(np.int32)
    cells = cells[np.argsort(numbers.ravel()[cells], kind="stable")]
    names, starts, counts = np.unique(numbers.ravel()[cells], return_index=True, return_counts=True)
    parts = zip(names.tolist(), starts, counts, strict=True)
    return {name: cells[start : start + count] for name, start, count in parts}
