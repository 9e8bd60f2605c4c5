"""From the ground to the engine's grids, coarser ones too, and water handed between them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr
from scipy.ndimage import distance_transform_edt, label, map_coordinates

from reachmap.base.shapes import B1, F8, I4
from reachmap.flow.engine.basin import Basin
from reachmap.flow.engine.cells import Cells, Frame

SPREAD_CELLS = 1.5
"""Water of a coarse grid reaches this many coarse cells beyond its edge on the next. Our choice."""
WET_ENOUGH = 0.03
"""A coarse cell with less water tells the next grid nothing [m]. Our choice."""


def ground_frame(ground: xr.Dataset) -> tuple[Frame, bool]:
    """Return the ground as a frame whose rows run north, and whether its rows had to be turned.

    Parameters
    ----------
    ground
        The ground stage's Dataset; `line_station` gives head and foot.
    """
    y = ground["y"].to_numpy()
    turned = bool(y[0] > y[-1])
    arrays = {}
    for name in ("bed", "roughness", "station", "offset"):
        array = ground[name].to_numpy().astype(np.float64)
        arrays[name] = np.pad(array[::-1] if turned else array, 1, constant_values=np.nan)
    station, cell = arrays["station"], float(ground.attrs["cell"])
    line = ground["line_station"].to_numpy()
    head, foot = float(line.min()), float(line.max())
    with np.errstate(invalid="ignore"):
        inside = np.isfinite(arrays["bed"]) & (arrays["roughness"] > 0)
        inside &= (station > head) & (station < foot)
    return (
        Frame(
            bed=arrays["bed"],
            rough=arrays["roughness"],
            station=station,
            offset=arrays["offset"],
            inside=inside,
            head=head,
            foot=foot,
            cell=cell,
            x=float(ground["x"].to_numpy()[0]) - cell,
            y=float(y.min()) - cell,
        ),
        turned,
    )


def coarser(frame: Frame) -> Frame:
    """Return the frame on cells twice as large: means over the inside cells of each four.

    A coarse cell is inside where at least two of its four are. The station's mean is over all known
    cells, so that ends stay where they are.
    """
    inner = tuple(slice(1, -1) for _ in range(2))
    pads = [(0, size % 2) for size in np.array(frame.bed.shape) - 2]

    def fours(array: np.ndarray, fill: float) -> np.ndarray:
        body = np.pad(array[inner], pads, constant_values=fill)
        rows, cols = body.shape
        return (
            body.reshape(rows // 2, 2, cols // 2, 2)
            .transpose(0, 2, 1, 3)
            .reshape(rows // 2, cols // 2, 4)
        )

    use = fours(frame.inside, False).astype(bool)
    count = use.sum(axis=2)

    def mean(array: F8, mask: np.ndarray) -> F8:
        number = mask.sum(axis=2)
        total = np.where(mask, fours(array, np.nan), 0.0).sum(axis=2)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.pad(np.where(number > 0, total / number, np.nan), 1, constant_values=np.nan)

    known = np.isfinite(fours(frame.station, np.nan))
    station = mean(frame.station, known)
    inside = np.pad(count >= 2, 1, constant_values=False)
    with np.errstate(invalid="ignore"):
        inside &= (station > frame.head) & (station < frame.foot)
    return replace(
        frame,
        bed=mean(frame.bed, use),
        rough=mean(frame.rough, use),
        station=station,
        offset=mean(frame.offset, known),
        inside=inside,
        cell=2 * frame.cell,
        x=frame.x - 0.5 * frame.cell,
        y=frame.y - 0.5 * frame.cell,
    )


def within_reach(frame: Frame, stations: F8, levels: F8, margin: float) -> B1:
    """Return the inside cells that may get wet: low, and joined to the river over such cells.

    Parameters
    ----------
    frame
        The raster.
    stations, levels
        The river's level along the line [m], [m].
    margin
        How far above it ground may still get wet [m].
    """
    flat = np.flatnonzero(frame.inside)
    level = np.interp(frame.station.ravel()[flat], stations, levels)
    low = np.zeros(frame.inside.shape, np.bool_)
    low.ravel()[flat] = frame.bed.ravel()[flat] < level + margin
    return low & largest_along(frame, low)


def largest_along(frame: Frame, mask: B1) -> B1:
    """Return the pieces of `mask` that hold the lowest cell of some stretch of the line."""
    pieces, _ = label(mask)
    flat = np.flatnonzero(mask)
    bins = (frame.station.ravel()[flat] / (4 * frame.cell)).astype(np.int64)
    near = np.abs(frame.offset.ravel()[flat])
    with np.errstate(invalid="ignore"):
        usable = near <= np.nanpercentile(near, 50)
    flat, bins = flat[usable], bins[usable]
    order = np.lexsort((frame.bed.ravel()[flat], bins))
    _, first = np.unique(bins[order], return_index=True)
    kept = np.unique(pieces.ravel()[flat[order[first]]])
    return np.asarray(np.isin(pieces, kept[kept > 0]))


def hand_down(coarse: Basin, fine: Basin) -> None:
    """Give the finer grid the coarser one's water: level and speed straight between cell centres.

    Beyond the coarse water's edge the nearest values hold for `SPREAD_CELLS` coarse cells.
    """
    cells, target = coarse.cells, fine.cells
    water = coarse.water
    wet = cells.spread((water[:, 0] > WET_ENOUGH).astype(np.float64), 0.0) > 0
    away, nearest = distance_transform_edt(~wet, return_indices=True)
    level, east, north = (
        cells.spread(values, 0.0)[tuple(nearest)]
        for values in (water[:, 0] + cells.bed, water[:, 1], water[:, 2])
    )
    # place of a fine cell among coarse centres; both rasters have one cell of margin
    place = np.array([(axis - 1 + 0.5) / 2 - 0.5 + 1 for axis in (target.row, target.col)])

    def at(raster: F8) -> F8:
        return np.asarray(map_coordinates(raster, place, order=1, mode="nearest"))

    depth = np.maximum(at(level) - target.bed, 0.0)
    depth[at(away) > SPREAD_CELLS] = 0.0
    depth[depth <= fine.settings.thin_m] = 0.0
    fine.water[:, 0] = depth
    fine.water[:, 1] = np.where(depth > 0, at(east), 0.0)
    fine.water[:, 2] = np.where(depth > 0, at(north), 0.0)


def cells_near(frame: Frame, cells: Cells, x: float, y: float, radius: float) -> I4:
    """Return the cells within `radius` [m] of a place, the nearest one at least.

    None where no cell lies within four cells and the radius.
    """
    away = np.hypot(frame.x + cells.col * cells.cell - x, frame.y + cells.row * cells.cell - y)
    near = np.flatnonzero(away <= radius).astype(np.int32)
    if near.size == 0 and away.min() <= radius + 4 * cells.cell:
        near = np.array([np.argmin(away)], np.int32)
    return near


def station_gradient(frame: Frame) -> tuple[F8, F8]:
    """Return the direction down the river in each cell, east and north; 0 where unknown."""
    up, right = np.gradient(frame.station)
    right, up = np.nan_to_num(right), np.nan_to_num(up)
    size = np.hypot(right, up)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(size > 0, right / size, 0.0), np.where(size > 0, up / size, 0.0)


def joined_to_river(basin: Basin, wet: B1) -> B1:
    """Return the wet cells that hang together, over wet cells, with water from head to foot."""
    pieces = basin.cells.pieces(wet)
    return np.asarray(np.isin(pieces, np.unique(pieces[basin.river & wet])) & wet)
