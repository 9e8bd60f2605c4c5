"""Places to stand for each piece of swing water, every few yards down it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import geopandas as gpd
import numpy as np
from scipy import ndimage

from reachmap.angler.settings import StationSettings
from reachmap.angler.view import View
from reachmap.angler.wading import EASY, Wading, reachable_ground
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import cells_of, joined_to, nearest_cells
from reachmap.base.words import AccessKind, Side
from reachmap.markup.model import Access

LEFT, RIGHT, ISLAND = 1, -1, 0
SIDES = {LEFT: Side.LEFT, RIGHT: Side.RIGHT, ISLAND: Side.ISLAND}


@dataclass(frozen=True, slots=True)
class Stands:
    """Places to stand, arrays of shape (n,) or (n, 2).

    `water` is the row of the water layer, `side` +1 on river left's bank, -1 on river right's, 0 on
    ground between waters; `point` [m]; `level` of the water there [m]; `wade` the depth stood in,
    negative on ground above the water [m]; `speed` of the water stood in [m/s]; `station` [m];
    `across` and `down` unit vectors over to the water and with its current; `away` the distance to
    the water's near edge [m]; `entered` whether an access was drawn from which one gets here on
    foot; `barred` the hazard (its place in the list) that forbids standing there, -1 none.
    """

    water: IntArray
    side: IntArray
    point: FloatArray
    level: FloatArray
    wade: FloatArray
    speed: FloatArray
    station: FloatArray
    across: FloatArray
    down: FloatArray
    away: FloatArray
    entered: BoolArray
    barred: IntArray

    def __len__(self) -> int:
        """Return the number of places."""
        return int(self.water.size)

    def take(self, index: IntArray | BoolArray) -> Stands:
        """Return some of the places."""
        return Stands(**{one.name: getattr(self, one.name)[index] for one in fields(self)})


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of swing water on the raster: its row in the layer, a window, its cells."""

    number: int
    window: tuple[slice, slice]
    cells: BoolArray

    def holds(self, row: IntArray, col: IntArray) -> BoolArray:
        """Return which cells of the raster lie in it."""
        r, c = row - self.window[0].start, col - self.window[1].start
        ok = (r >= 0) & (c >= 0) & (r < self.cells.shape[0]) & (c < self.cells.shape[1])
        return np.asarray(ok & self.cells[np.where(ok, r, 0), np.where(ok, c, 0)])


@dataclass(frozen=True, slots=True)
class Footing:
    """Cells one may stand on: `good`; `side`, `wade` [m] and `level` of the water by it [m].

    The last three are known on good cells only: elsewhere 0 and NaN. `barred` is the hazard that
    forbids standing there, -1 none; `reach` all one gets to on foot.
    """

    good: BoolArray
    side: IntArray
    wade: PackedRaster
    level: PackedRaster
    entered: BoolArray
    barred: IntArray
    reach: BoolArray


class Ground(NamedTuple):
    """Ground and water one gets to on foot: from land, and from a drawn access, masks (y, x)."""

    reach: BoolArray
    entered: BoolArray


def find_ground(view: View, grade: CodeArray, access: tuple[Access, ...]) -> Ground:
    """Return what is reachable on foot at this flow, its water graded."""
    reach = reachable_ground(grade, view.land, view.dry)
    return Ground(reach, entered_ground(reach, access_cells(view, reach, access)))


def find_footing(
    view: View,
    wading: Wading,
    access: tuple[Access, ...],
    settings: StationSettings,
    *,
    barred: IntArray | None = None,
) -> Footing:
    """Return the cells from which one may cast at this flow.

    Dry ground near the water and not far above it, or easy water no deeper than one casts from;
    only what can be reached on foot from land. Water takes the side of the ground nearest to it.
    `barred` is from `barred_cells`; None bars nothing.
    """
    reach, entered = find_ground(view, wading.grade, access)
    good = np.zeros(reach.shape, dtype=bool)
    side = np.zeros(reach.shape, dtype=np.int32)
    # Dry ground by the water: it takes the level of the nearest water.
    row, col = cells_of(view.dry & reach)
    away, near_row, near_col = nearest_cells(
        view.wet, row, col, int(np.ceil(settings.land_m / view.cell))
    )
    near_level = view.level[near_row, near_col]
    with np.errstate(invalid="ignore"):
        low = view.bed[row, col] - near_level <= settings.rise_high_m
    shore = low & (away * view.cell <= settings.land_m)
    dry = row[shore], col[shore]
    good[dry], side[dry] = True, view.side[dry]
    level, wade = near_level[shore], near_level[shore] - view.bed[dry]
    # Water one stands in: it takes the side of the nearest ground.
    row, col = view.wet_cells
    deep = wading.depth.at(np.ravel_multi_index((row, col), view.wet.shape).astype(np.int32))
    with np.errstate(invalid="ignore"):
        stood = (wading.grade[row, col] == EASY) & (deep <= settings.stand_depth_high_m)
    wet = row[stood], col[stood]
    _, near_row, near_col = nearest_cells(view.dry, *wet)
    good[wet], side[wet] = True, view.side[near_row, near_col]
    cells = np.concatenate([np.ravel_multi_index(at, good.shape) for at in (dry, wet)])
    order = np.argsort(cells)
    wades, levels = (
        PackedRaster(view.grid.shape, np.array(np.nan), cells[order].astype(np.int32), one[order])
        for one in (np.r_[wade, deep[stood]], np.r_[level, view.level[wet]])
    )
    if barred is None:
        barred = np.full(reach.shape, -1, dtype=np.int32)
    return Footing(good, side, wades, levels, entered, barred, reach)


def access_cells(view: View, reach: BoolArray, access: tuple[Access, ...]) -> BoolArray:
    """Return the cells of `reach` nearest to each access on foot, shape (y, x).

    Boat landings are left out: they give no access on foot.
    """
    starts = np.zeros(reach.shape, dtype=bool)
    access = tuple(one for one in access if one.kind is not AccessKind.LANDING)
    if not access or not reach.any():
        return starts
    row, col, inside = view.grid.index(*np.array([[one.place.x, one.place.y] for one in access]).T)
    _, near_row, near_col = nearest_cells(reach, row, col)
    starts[near_row[inside], near_col[inside]] = True
    return starts


def entered_ground(reach: BoolArray, starts: BoolArray) -> BoolArray:
    """Return the cells of `reach` that side-by-side steps join to any of `starts`."""
    return joined_to(starts, reach)


def find_pieces(view: View, water: gpd.GeoDataFrame, reach_m: float) -> list[Piece]:
    """Return the pieces of swing water on the raster, each with a cast's length [m] about it."""
    pieces = []
    margin = int(np.ceil(reach_m / view.cell)) + 2
    open_ = view.spread(np.isfinite(view.station[view.wet_cells])) > 0
    for number, outline in enumerate(water.geometry):
        window = view.grid.window_over(outline.bounds, margin)
        cells = (view.grid.part(window).rasterize([outline]) > 0) & open_[window]
        if cells.any():
            pieces.append(Piece(number, window, cells))
    return pieces


def find_stands(
    view: View,
    footing: Footing,
    pieces: list[Piece],
    reach_m: float,
    settings: StationSettings,
) -> Stands:
    """Return the places to stand for every piece of swing water.

    Where every cell of a stretch is barred by a hazard its best one is returned too, so that it can
    be counted; `barred` marks it.

    Parameters
    ----------
    view, footing
        The flow, and where one may stand.
    pieces
        The water, on the raster.
    reach_m
        Longest cast [m].
    settings
        Spacing and where on the bank.
    """
    found: list[Stands] = []
    for piece in pieces:
        found += _stands_of_piece(view, footing, piece, reach_m, settings)
    if not found:
        return _no_stands()
    return Stands(
        **{
            one.name: np.concatenate([getattr(stands, one.name) for stands in found])
            for one in fields(Stands)
        }
    )


def _no_stands() -> Stands:
    """Return no places."""
    whole, none, pair = np.zeros(0, np.int32), np.zeros(0), np.zeros((0, 2))
    return Stands(whole, whole, pair, none, none, none, none, pair, pair, none, none > 0, whole)


def _stands_of_piece(
    view: View, footing: Footing, piece: Piece, reach_m: float, settings: StationSettings
) -> list[Stands]:
    """Return the places for one piece of water, side by side of the river."""
    window, body = piece.window, piece.cells
    station = view.station[window]
    away = ndimage.distance_transform_edt(~body) * view.cell
    good = footing.good[window] & ~body & (away <= reach_m) & np.isfinite(station)
    good &= away >= min(settings.clear_of_water_m, view.cell)
    low, high = float(station[body].min()), float(station[body].max())
    count = max(round((high - low) / settings.spacing_m), 1)
    edges = np.linspace(low, high + 1e-6, count + 1)
    effort = away + settings.depth_effort * np.maximum(footing.wade.window(*window), 0.0)
    found = []
    for side in SIDES:
        here = good & (footing.side[window] == side)
        slot = np.digitize(station[here], edges) - 1
        inside = (slot >= 0) & (slot < count)
        rows, cols = (axis[inside] for axis in np.nonzero(here))
        slot, cost = slot[inside], effort[rows, cols]
        shut = footing.barred[window][rows, cols] >= 0
        order = np.lexsort((cost, shut, slot))
        first = order[np.unique(slot[order], return_index=True)[1]]
        if first.size:
            rows, cols = rows[first] + window[0].start, cols[first] + window[1].start
            found.append(_stands(view, footing, piece, side, (rows, cols), settings))
    return found


def _stands(
    view: View,
    footing: Footing,
    piece: Piece,
    side: int,
    cells: tuple[IntArray, IntArray],
    settings: StationSettings,
) -> Stands:
    """Return the places in `cells`, with the current of the piece abreast of each."""
    rows, cols = cells
    window, inner = piece.window, piece.cells
    point = view.grid.points(rows, cols)
    inner_rows, inner_cols = np.nonzero(inner)
    body = view.grid.points(inner_rows + window[0].start, inner_cols + window[1].start)
    carry = np.column_stack(
        [(one[window] * view.depth[window])[inner] for one in (view.east, view.north)]
    )
    along = view.station[window][inner]
    station = view.station[rows, cols]
    down = np.empty((len(rows), 2))
    over = np.empty((len(rows), 2))
    away = np.empty(len(rows))
    for i, at in enumerate(station):
        near = np.abs(along - at) <= max(1.5 * view.cell, settings.abreast_m)
        if not near.any():
            near = np.abs(along - at) <= np.abs(along - at).min() + view.cell
        current = np.nansum(carry[near], axis=0)
        down[i] = current / max(float(np.hypot(*current)), 1e-9)
        gap = body[near] - point[i]
        across = np.array([-down[i, 1], down[i, 0]])
        over[i] = across if float((gap @ across).mean()) > 0 else -across
        away[i] = float(np.hypot(gap[:, 0], gap[:, 1]).min())
    count = len(rows)
    flat = np.ravel_multi_index((rows, cols), view.wet.shape).astype(np.int32)
    return Stands(
        water=np.full(count, piece.number, dtype=np.int32),
        side=np.full(count, side, dtype=np.int32),
        point=point,
        level=footing.level.at(flat),
        wade=footing.wade.at(flat),
        speed=np.where(
            view.wet[rows, cols], np.hypot(view.east[rows, cols], view.north[rows, cols]), 0.0
        ),
        station=station,
        across=over,
        down=down,
        away=away,
        entered=footing.entered[rows, cols],
        barred=footing.barred[rows, cols],
    )
