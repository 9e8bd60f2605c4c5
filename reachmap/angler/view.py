"""One flow over the ground as the angler's floor looks at it: plain arrays on one raster."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from affine import Affine
from scipy import ndimage

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.words import Wet

FOUR = ndimage.generate_binary_structure(2, 1)
EIGHT = ndimage.generate_binary_structure(2, 2)


@dataclass(frozen=True, slots=True)
class View:
    """One flow over the ground; arrays of shape (y, x), NaN unknown.

    `x0, y0` are the centre of cell (0, 0) [m], `row_sign` +1 where rows run north, -1 where south.
    `land` is ground joined to the outside of the river by dry ground: one walks there from home.
    `width` is the river's usual width [m]. `side` is +1 on river left's land, -1 on river right's,
    0 elsewhere. `wet_then` marks what this map wets at the flow of the terrain model's day, nothing
    where there is none; `from_terrain` whether heights come from a terrain model.
    """

    x0: float
    y0: float
    cell: float
    row_sign: float
    crs: str
    flow: float
    label: str
    wet: BoolArray
    dry: BoolArray
    unknown: BoolArray
    level: FloatArray
    depth: FloatArray
    east: FloatArray
    north: FloatArray
    bed: FloatArray
    top: FloatArray
    confidence: FloatArray
    cover: CodeArray
    station: FloatArray
    offset: FloatArray
    line_x: FloatArray
    line_y: FloatArray
    line_station: FloatArray
    land: BoolArray
    side: IntArray
    width: float
    wet_then: BoolArray
    from_terrain: bool

    @property
    def speed(self) -> FloatArray:
        """Return the speed of the water [m/s], shape (y, x)."""
        return np.asarray(np.hypot(self.east, self.north))

    @property
    def affine(self) -> Affine:
        """Return the transform from (col, row) corners to map coordinates."""
        half, step = self.cell / 2, self.row_sign * self.cell
        return Affine(self.cell, 0, self.x0 - half, 0, step, self.y0 - step / 2)

    def points(self, row: FloatArray | IntArray, col: FloatArray | IntArray) -> FloatArray:
        """Return map coordinates [m], shape (n, 2), of places in rows and columns."""
        east = self.x0 + np.asarray(col, dtype=np.float64) * self.cell
        north = self.y0 + self.row_sign * self.cell * np.asarray(row, dtype=np.float64)
        return np.column_stack((east, north))

    def cells(self, points: FloatArray) -> tuple[IntArray, IntArray, BoolArray]:
        """Return rows, columns and whether on the raster, of points [m] of shape (n, 2)."""
        col = np.rint((points[:, 0] - self.x0) / self.cell).astype(np.int32)
        row = np.rint((points[:, 1] - self.y0) / (self.row_sign * self.cell)).astype(np.int32)
        inside = (row >= 0) & (col >= 0) & (row < self.wet.shape[0]) & (col < self.wet.shape[1])
        row, col = np.where(inside, row, 0), np.where(inside, col, 0)
        return row.astype(np.int32), col.astype(np.int32), np.asarray(inside)

    def at(self, array: FloatArray, points: FloatArray) -> FloatArray:
        """Return the nearest cells' values at points [m], shape (n,); NaN outside the raster."""
        row, col, inside = self.cells(points)
        return np.where(inside, array[row, col], np.nan)


def view_of(ground: xr.Dataset, flow: xr.Dataset, then: xr.Dataset | None = None) -> View:
    """Return one flow over the ground.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flow
        The flow stage's Dataset, with one flow or at one flow.
    then
        The flow stage's Dataset at the flow of the terrain model's day; None where not known.

    Raises
    ------
    ValueError
        If `flow` holds several flows or lies on another raster.
    """
    flow = _one(flow, ground)
    codes = flow["wet"].to_numpy()
    wet, unknown = codes == Wet.YES, codes == Wet.UNKNOWN
    dry = (codes == Wet.NO) & np.isfinite(ground["bed"].to_numpy())
    y = ground["y"].to_numpy()
    land, side = _land(ground, dry)

    def of(dataset: xr.Dataset, name: str) -> FloatArray:
        return np.asarray(dataset[name].to_numpy(), dtype=np.float64)

    wet_then = np.zeros(wet.shape, dtype=bool)
    if then is not None:
        wet_then = _one(then, ground)["wet"].to_numpy() == Wet.YES
    return View(
        x0=float(ground["x"][0]),
        y0=float(y[0]),
        cell=float(ground.attrs["cell"]),
        row_sign=1.0 if y[-1] > y[0] else -1.0,
        crs=str(ground.attrs["crs"]),
        flow=float(flow["flow"]),
        label=str(flow["asked"].item()),
        wet=np.asarray(wet),
        dry=np.asarray(dry),
        unknown=np.asarray(unknown),
        level=of(flow, "level"),
        depth=of(flow, "depth"),
        east=of(flow, "east_speed"),
        north=of(flow, "north_speed"),
        bed=of(ground, "bed"),
        top=of(ground, "top"),
        confidence=of(ground, "confidence"),
        cover=np.asarray(ground["cover"].to_numpy(), dtype=np.uint8),
        station=of(ground, "station"),
        offset=of(ground, "offset"),
        line_x=of(ground, "line_x"),
        line_y=of(ground, "line_y"),
        line_station=of(ground, "line_station"),
        land=land,
        side=side,
        width=float(np.nanmedian(ground["line_width"].to_numpy())),
        wet_then=np.asarray(wet_then),
        from_terrain=ground.attrs.get("vertical", "dem") == "dem",
    )


def _one(flow: xr.Dataset, ground: xr.Dataset) -> xr.Dataset:
    """Return a Dataset of one flow without its flow dimension, checked against the ground."""
    if flow["wet"].ndim == 3:
        if flow.sizes["flow"] != 1:
            msg = f"one flow at a time, found {flow.sizes['flow']}"
            raise ValueError(msg)
        flow = flow.isel(flow=0)
    if flow["wet"].shape != ground["bed"].shape:
        msg = "flow and ground lie on different rasters"
        raise ValueError(msg)
    return flow


def _land(ground: xr.Dataset, dry: BoolArray) -> tuple[BoolArray, IntArray]:
    """Return the dry ground outside the river, and on which side of it (+1 left, -1 right).

    A piece of dry ground is land if somewhere it lies beyond half the drawn width from the line;
    anything else is an island, a bar or a rock. A piece that lies beyond on both sides (a dry bed
    across the whole river) is land cell by cell.
    """
    half = 0.5 * np.interp(
        np.nan_to_num(ground["station"].to_numpy()),
        ground["line_station"].to_numpy(),
        ground["line_width"].to_numpy(),
    )
    offset = ground["offset"].to_numpy()
    labels, count = ndimage.label(dry, FOUR)
    sides = np.zeros((2, count + 1), dtype=bool)
    rim = mapped_rim(dry, ground["bed"].to_numpy())
    with np.errstate(invalid="ignore"):
        for index, beyond in enumerate((offset > half, offset < -half)):
            sides[index, np.unique(labels[dry & beyond & rim])] = True
    sides[:, 0] = False
    left, right = sides[0][labels], sides[1][labels]
    land = left | right
    side = np.where(left & right, np.sign(np.nan_to_num(offset)), left.astype(int) - right)
    return land, np.where(land, side, 0).astype(np.int32)


def mapped_rim(dry: BoolArray, bed: FloatArray) -> BoolArray:
    """Return the dry cells next to the end of the mapped ground: beyond them one walks on."""
    known = np.isfinite(bed)
    outside, _ = ndimage.label(np.pad(~known, 1, constant_values=True), EIGHT)
    beyond = ndimage.binary_dilation(outside == outside[0, 0], EIGHT)[1:-1, 1:-1]
    return np.asarray(beyond & dry)
