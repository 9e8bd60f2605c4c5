"""The way back: the higher flow at which a bar, an island or a stand is cut off from the bank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from scipy import ndimage

from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.more_water import HAND, Surface, cells_about, with_more_water
from reachmap.angler.view import land_ends
from reachmap.angler.wading import CAREFUL, EASY, GRADES, NONE
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.listed import CellList
from reachmap.base.packed import packed_raster, values_at
from reachmap.base.patches import FOUR
from reachmap.base.words import Side, WadeGrade, Wet

NEAR_CELLS = 6
"""Radius about a place over which its water level is taken, in cells, of 1 m where the raster's are
smaller; our choice."""

WADED = (WadeGrade.EASY, WadeGrade.CAREFUL)
"""Grades of water that one may wade."""

CLOSING = ("open_until_m3_s", "cut_off_m3_s", "cut_off_rise_m")
"""Columns that are filled in here: last open flow, first closed one, rise of the water then."""

Grounds = dict[int, IntArray]
"""Place in a layer, and the ground one would stand on there, as places in the list of cells. What
needs no wading to get to land, or has no way at all, is left out."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """One flow: its water, land, what one reaches on foot, bars and zones by number.

    Arrays have the shape (n,) of the list of cells in `surface`; the zones one may wade are
    numbered from 1 in the order of the layer `wading`, 0 where there is none. `bar_cells` holds the
    places in the list of each bar's cells.
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
    only: str | None = None,
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
    only
        Name of the one flow whose rows are filled in, where the others are already; None for all.

    Notes
    -----
    A place that needs no wading to get to land is never cut off by it: as the water comes up one
    walks away. Any other is cut off at the first higher flow at which the ground one would stand on
    is no longer joined to land by water one can wade, or is under water out of bounds. Between two
    mapped flows it is not known: reckon with the lower.
    """
    labels = flows["asked"].to_numpy().tolist()
    first, last = (0, len(labels)) if only is None else (labels.index(only), labels.index(only) + 1)
    stages = _stages(ground, flows, layers["wading"], first)
    back = {}
    for name, find in (("bars", _of_bars), ("stations", _of_stands), ("wading", _of_zones)):
        frame = layers[name]
        columns = frame[list(CLOSING)].to_numpy(dtype=np.float64, copy=True).T
        for here, stage in enumerate(stages[: last - first]):
            mine = np.flatnonzero(frame["flow_label"] == stage.surface.label)
            grounds = find(stage, frame, mine.astype(np.int32))
            columns[:, list(grounds)] = _closings(stages[here:], list(grounds.values()))
        back[name] = frame.assign(**dict(zip(CLOSING, columns, strict=True)))
    surfaces = [stage.surface for stage in stages]
    back["stations"] = with_more_water(back["stations"], surfaces, rise_m, only=only)
    return back


def with_closings(
    layers: Mapping[str, gpd.GeoDataFrame], filled: Mapping[str, gpd.GeoDataFrame]
) -> dict[str, gpd.GeoDataFrame]:
    """Return layers with the columns that `ways_back` filled in, from layers of the same rows."""
    names = {"wading": CLOSING, "bars": CLOSING, "stations": (*CLOSING, *HAND)}
    back = {
        name: layers[name].assign(**{one: filled[name][one].to_numpy() for one in columns})
        for name, columns in names.items()
    }
    return {**layers, **back}


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
    return np.datetime64("NaT", "s") if not above.size else np.datetime64(times[int(above[0])])


def _stages(
    ground: xr.Dataset, flows: xr.Dataset, wading: gpd.GeoDataFrame, first: int
) -> list[_Stage]:
    """Return the flows from number `first` on, graded water put back on cells known or ever wet."""
    codes = {grade.value: code for code, grade in GRADES.items()}
    waded = wading[wading["grade"].isin(WADED)]
    grid = Grid.of(ground)
    river, known, ends = _river(ground, flows)
    stages = []
    names = list(zip(flows["flow"].to_numpy(), flows["asked"].to_numpy(), strict=True))
    for index, (flow, label) in enumerate(names[first:], start=first):
        one = flows.isel(flow=index)
        wet, level = (values_at(one[name], river.cells) for name in ("wet", "level"))
        surface = Surface(grid, river, float(flow), str(label), wet == Wet.YES, level)
        dry = (wet == Wet.NO) & known
        land = river.joined_to(ends, dry)
        mine = waded[waded["flow_label"] == surface.label]
        zones = grid.rasterize(mine.geometry).ravel()[river.cells]
        grade = np.array([NONE, *(codes[one] for one in mine["grade"])], dtype=np.uint8)[zones]
        reach = river.joined_to(land, land | dry | (grade == EASY) | (grade == CAREFUL))
        bars = river.patches(dry & ~land)
        stages.append(_Stage(surface, land, reach, bars, _patches(bars), zones))
    return stages


def _river(ground: xr.Dataset, flows: xr.Dataset) -> tuple[CellList, BoolArray, BoolArray]:
    """Return the cells known or wet at some flow; which are known, and where land begins."""
    known = np.isfinite(ground["bed"].to_numpy())
    ever = known.copy()
    for index in range(flows.sizes["flow"]):
        ever.ravel()[packed_raster(flows["wet"].isel(flow=index)).where(Wet.YES)] = True
    river = CellList.of(ever)
    begin = land_ends(ground)
    ends = np.zeros(river.cells.size, dtype=bool)
    at = river.places(np.r_[begin.left, begin.right])
    ends[at[at >= 0]] = True
    return river, known.ravel()[river.cells], ends


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
        if not stage.reach[ground].any():
            rise = _rise(stages[0].surface, stage.surface, ground)
            return last.surface.flow, stage.surface.flow, rise
        last = stage
    return last.surface.flow, np.nan, np.nan


def _near_cells(grid: Grid) -> int:
    """Return how many cells round a place are looked at."""
    return round(NEAR_CELLS * max(1.0 / grid.cell, 1.0))


def _rise(here: Surface, there: Surface, ground: IntArray) -> float:
    """Return how much higher the water stands about a ground at another flow [m]; NaN unknown."""
    river, around = here.river, _near_cells(here.grid)
    rows, cols = np.unravel_index(river.cells[ground], river.shape)
    top, left = (max(int(at.min()) - around, 0) for at in (rows, cols))
    bottom, right = (
        min(int(at.max()) + around + 1, size)
        for at, size in zip((rows, cols), river.shape, strict=True)
    )
    about = np.zeros((bottom - top, right - left), dtype=bool)
    about[rows - top, cols - left] = True
    row, col = np.nonzero(ndimage.binary_dilation(about, FOUR, iterations=around))
    near = river.places((row + top) * river.shape[1] + col + left)
    near = near[near >= 0]
    near = near[here.wet[near] & there.wet[near]]
    if not near.size:
        return float("nan")
    return float(np.median(there.level[near] - here.level[near]))


def _of_bars(stage: _Stage, bars: gpd.GeoDataFrame, places: IntArray) -> Grounds:
    """Return the grounds of bars: themselves."""
    found, grid, river = {}, stage.surface.grid, stage.surface.river
    for place, shape in zip(places, bars.geometry.iloc[places], strict=True):
        window = grid.window_over(shape.bounds, margin=1)
        row, col = np.nonzero(grid.part(window).rasterize([shape]))
        inside = river.places((row + window[0].start) * river.shape[1] + col + window[1].start)
        found[int(place)] = _reached(stage, stage.bars[inside[inside >= 0]])
    return {place: cells for place, cells in found.items() if cells is not None}


def _of_stands(stage: _Stage, stands: gpd.GeoDataFrame, places: IntArray) -> Grounds:
    """Return the grounds of stands: the bars one stands on or beside."""
    off_land = places[(stands["side"] == Side.ISLAND).to_numpy()[places]]
    grid, river = stage.surface.grid, stage.surface.river
    points = shapely.get_coordinates(stands.geometry.iloc[off_land].to_numpy())
    *_, inside = grid.index(*points.T)
    near = river.places(cells_about(grid, points[inside], _near_cells(grid)))
    bars = np.where(near >= 0, stage.bars[near], 0)
    found = {
        int(place): _reached(stage, one) for place, one in zip(off_land[inside], bars, strict=True)
    }
    return {place: cells for place, cells in found.items() if cells is not None}


def _of_zones(stage: _Stage, wading: gpd.GeoDataFrame, places: IntArray) -> Grounds:
    """Return the grounds of zones one may wade: the bars beside one, or else the zone itself."""
    waded = places[wading["grade"].isin(WADED).to_numpy()[places]]
    zones = _patches(stage.zones)
    # Each cell of a zone, and in turn itself and those that share a side with it.
    here, there = stage.surface.river.adjacent
    itself = np.flatnonzero(stage.zones)
    zone = stage.zones[np.r_[itself, here, there]]
    adjacent = np.r_[itself, there, here]
    by_land = set(zone[stage.land[adjacent]].tolist())
    touching = np.flatnonzero((zone > 0) & (stage.bars[adjacent] > 0))
    touching = touching[np.argsort(zone[touching], kind="stable")]
    first = np.searchsorted(zone[touching], np.arange(len(waded) + 2))
    found = {}
    for number, place in enumerate(waded.tolist(), start=1):
        if number in by_land:
            continue
        mine = touching[first[number] : first[number + 1]]
        bars = _reached(stage, stage.bars[adjacent[mine]])
        found[place] = zones[number] if bars is None else bars
    return found


def _reached(stage: _Stage, bars: IntArray) -> IntArray | None:
    """Return the cells of bars of some numbers, if one gets to any on foot; None otherwise."""
    numbers = np.unique(bars[bars > 0]).tolist()
    if not numbers:
        return None
    cells = np.concatenate([stage.bar_cells[number] for number in numbers])
    return cells if stage.reach[cells].any() else None


def _patches(numbers: IntArray) -> dict[int, IntArray]:
    """Return the places in the list of cells that hold each number above 0."""
    cells = np.flatnonzero(numbers).astype(np.int32)
    cells = cells[np.argsort(numbers[cells], kind="stable")]
    names, starts, counts = np.unique(numbers[cells], return_index=True, return_counts=True)
    parts = zip(names.tolist(), starts, counts, strict=True)
    return {name: cells[start : start + count] for name, start, count in parts}
