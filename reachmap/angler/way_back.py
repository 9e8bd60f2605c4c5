"""The way back: at which higher flow a bar, an island or a stand is cut off from the bank."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.more_water import with_more_water
from reachmap.angler.view import View, view_of
from reachmap.angler.wading import GRADES, NONE, UNKNOWN, reachable_ground
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.grid import Window
from reachmap.base.patches import FOUR
from reachmap.base.words import Side, WadeGrade

NEAR_CELLS = 6
"""How far round a place its water level is looked at, in cells, of 1 m where the raster's are
smaller; our choice."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """One flow: its view, graded water, what one reaches on foot, bars by number."""

    view: View
    grade: CodeArray
    reach: BoolArray
    bars: IntArray


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
    stages = [
        _stage(view_of(ground, flows.isel(flow=[index])), layers["wading"])
        for index in range(flows.sizes["flow"])
    ]
    back = {}
    for name, find in (("bars", _of_bar), ("stations", _of_stand), ("wading", _of_zone)):
        frame = layers[name]
        found = [_closes(stages, row, find) for row in frame.itertuples(index=False)]
        columns = np.array(found, dtype=np.float64).reshape(-1, 3).T
        back[name] = frame.assign(
            open_until_m3_s=columns[0], cut_off_m3_s=columns[1], cut_off_rise_m=columns[2]
        )
    back["stations"] = with_more_water(back["stations"], [stage.view for stage in stages], rise_m)
    return back


def _closes(
    stages: list[_Stage], row: Any, find: Callable[[_Stage, Any], BoolArray | None]
) -> tuple[float, float, float]:
    """Return the last open flow, the first closed one [m3/s] and how far the water is up then [m].

    NaN where there is none, or where the place needs no wading to get to land.
    """
    here = next(i for i, stage in enumerate(stages) if stage.view.label == row.flow_label)
    ground = find(stages[here], row)
    if ground is None:
        return np.nan, np.nan, np.nan
    last = here
    for index in range(here + 1, len(stages)):
        if not (ground & stages[index].reach).any():
            closed = stages[index]
            rise = _rise(stages[here], closed, ground)
            return stages[last].view.flow, closed.view.flow, rise
        last = index
    return stages[last].view.flow, np.nan, np.nan


def _rise(here: _Stage, there: _Stage, ground: BoolArray) -> float:
    """Return how much higher the water stands about a place at another flow [m]; NaN unknown."""
    reach = _near_cells(here.view)
    window = _about(ground, reach)
    near = ndimage.binary_dilation(ground[window], FOUR, iterations=reach)
    near &= here.view.wet[window] & there.view.wet[window]
    if not near.any():
        return float("nan")
    rise = there.view.level[window][near] - here.view.level[window][near]
    return float(np.median(rise))


def _near_cells(view: View) -> int:
    """Return how many cells round a place are looked at."""
    return round(NEAR_CELLS * max(1.0 / view.cell, 1.0))


def _about(mask: BoolArray, margin: int) -> tuple[slice, slice]:
    """Return the slices that hold a mask and `margin` cells more all round, within the raster."""
    spans = []
    for axis in (1, 0):
        where = np.flatnonzero(mask.any(axis=axis))
        spans.append(slice(max(int(where[0]) - margin, 0), int(where[-1]) + margin + 1))
    return spans[0], spans[1]


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


def _stage(view: View, wading: gpd.GeoDataFrame) -> _Stage:
    """Return one flow, its graded water put back on the raster."""
    mine = wading[wading["flow_label"] == view.label]
    codes = {grade.value: code for code, grade in GRADES.items()}
    burnt = view.grid.rasterize(mine.geometry, [codes[one] for one in mine["grade"]], fill=NONE)
    ungraded = np.where(view.unknown, UNKNOWN, NONE)
    grade = np.where(burnt != NONE, burnt, ungraded).astype(np.uint8)
    bars, _ = ndimage.label(view.dry & ~view.land, FOUR)
    reach = reachable_ground(grade, view.land, view.dry)
    return _Stage(view, grade, reach, bars.astype(np.int32))


def _of_bar(stage: _Stage, row: Any) -> BoolArray | None:
    """Return the cells of a bar; None where one does not get there on foot at all."""
    window, cells = _cells(stage, row.geometry)
    return _bars(stage, np.unique(stage.bars[window][cells]))


def _of_stand(stage: _Stage, row: Any) -> BoolArray | None:
    """Return the bar one stands on or beside; None where one stands by land."""
    view = stage.view
    if row.side != Side.ISLAND:
        return None
    found = view.grid.index(np.array([row.geometry.x]), np.array([row.geometry.y]))
    row_at, col_at, inside = (one.tolist()[0] for one in found)
    if not inside:
        return None
    reach = _near_cells(view)
    near = stage.bars[
        max(row_at - reach, 0) : row_at + reach + 1,
        max(col_at - reach, 0) : col_at + reach + 1,
    ]
    return _bars(stage, np.unique(near))


def _of_zone(stage: _Stage, row: Any) -> BoolArray | None:
    """Return the ground a zone's way back leads over; None where it touches land or is closed."""
    if row.grade not in (WadeGrade.EASY, WadeGrade.CAREFUL):
        return None
    window, cells = _cells(stage, row.geometry)
    beside = ndimage.binary_dilation(cells, FOUR)
    if (beside & stage.view.land[window]).any():
        return None
    touched = _bars(stage, np.unique(stage.bars[window][beside]))
    if touched is not None:
        return touched
    whole = np.zeros(stage.view.wet.shape, dtype=bool)
    whole[window] = cells
    return whole


def _bars(stage: _Stage, numbers: IntArray) -> BoolArray | None:
    """Return the cells of bars one gets to on foot; None where there is none."""
    numbers = numbers[numbers > 0]
    if not numbers.size:
        return None
    cells = np.asarray(np.isin(stage.bars, numbers))
    return cells if (cells & stage.reach).any() else None


def _cells(stage: _Stage, shape: BaseGeometry) -> tuple[Window, BoolArray]:
    """Return a window about an outline, one cell wider, and the outline's cells in it."""
    window = stage.view.grid.window_over(shape.bounds, margin=1)
    return window, stage.view.grid.part(window).rasterize([shape]) > 0
