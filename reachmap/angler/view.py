"""One flow over the ground as the angler's floor looks at it: plain arrays on one raster."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.patches import EIGHT, Patches, cells_of, joined_to, on_border
from reachmap.base.words import Wet


@dataclass(frozen=True, eq=False)
class View:
    """One flow over the ground; arrays of shape (y, x), NaN unknown.

    `length` is that of the river line, `width` the river's usual width [m]. `land` is ground joined
    to the outside of the river by dry ground: one walks there from home; `rim` the cells next to
    the end of the mapped ground. `side` is +1 on river
    left's land, -1 on river right's, 0 elsewhere. `wet_then` marks what this map wets at the flow
    of the terrain model's day, nothing where there is none; `from_terrain` whether heights come
    from a terrain model.
    """

    grid: Grid
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
    surface: FloatArray
    confidence: FloatArray
    cover: CodeArray
    station: FloatArray
    offset: FloatArray
    length: float
    land: BoolArray
    rim: BoolArray
    side: IntArray
    width: float
    wet_then: BoolArray
    from_terrain: bool

    @property
    def cell(self) -> float:
        """Return the side of a cell [m]."""
        return self.grid.cell

    @cached_property
    def speed(self) -> FloatArray:
        """Return the speed of the water [m/s], shape (y, x)."""
        return np.asarray(np.hypot(self.east, self.north))

    @cached_property
    def wet_cells(self) -> tuple[IntArray, IntArray]:
        """Return rows and columns of the wet cells, shape (n,), in the order of the raster."""
        return cells_of(self.wet)

    def spread(self, values: FloatArray) -> FloatArray:
        """Return values of the wet cells as a raster (y, x), 0 elsewhere."""
        out = np.zeros(self.wet.shape)
        out[self.wet_cells] = values
        return out

    def at(self, array: FloatArray, points: FloatArray) -> FloatArray:
        """Return the nearest cells' values at points [m], shape (n,); NaN outside the raster."""
        row, col, inside = self.grid.index(*points.T)
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
    line = Centreline.of(ground)
    rim = mapped_rim(ground["bed"].to_numpy())
    land, side = _land(ground, line, dry, rim)

    def of(dataset: xr.Dataset, name: str) -> FloatArray:
        return np.asarray(dataset[name].to_numpy(), dtype=np.float64)

    wet_then = np.zeros(wet.shape, dtype=bool)
    if then is not None:
        wet_then = _one(then, ground)["wet"].to_numpy() == Wet.YES
    return View(
        grid=Grid.of(ground),
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
        surface=of(ground, "surface"),
        confidence=of(ground, "confidence"),
        cover=np.asarray(ground["cover"].to_numpy(), dtype=np.uint8),
        station=of(ground, "station"),
        offset=of(ground, "offset"),
        length=line.foot,
        land=land,
        rim=rim,
        side=side,
        width=line.median_width,
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


def land_ends(
    ground: xr.Dataset, line: Centreline, rim: BoolArray | None = None
) -> tuple[BoolArray, BoolArray]:
    """Return the cells at the end of the mapped ground beyond half the drawn width, left and right.

    Dry ground joined to one of them at some flow is land then. `rim` is from `mapped_rim`, where
    that is known already.
    """
    half = 0.5 * line.width(np.nan_to_num(ground["station"].to_numpy()))
    offset = ground["offset"].to_numpy()
    if rim is None:
        rim = mapped_rim(ground["bed"].to_numpy())
    with np.errstate(invalid="ignore"):
        return rim & (offset > half), rim & (offset < -half)


def _land(
    ground: xr.Dataset, line: Centreline, dry: BoolArray, rim: BoolArray
) -> tuple[BoolArray, IntArray]:
    """Return the dry ground outside the river, and on which side of it (+1 left, -1 right).

    A piece of dry ground is land if somewhere it lies beyond half the drawn width from the line;
    anything else is an island, a bar or a rock. A piece that lies beyond on both sides (a dry bed
    across the whole river) is land cell by cell.
    """
    offset = ground["offset"].to_numpy()
    left, right = (joined_to(ends, dry) for ends in land_ends(ground, line, rim))
    land = left | right
    side = np.where(left & right, np.sign(np.nan_to_num(offset)), left.astype(int) - right)
    return land, np.where(land, side, 0).astype(np.int32)


def mapped_rim(bed: FloatArray) -> BoolArray:
    """Return the cells next to the end of the mapped ground: where they are dry one walks on."""
    off = np.pad(~np.isfinite(bed), 1, constant_values=True)
    patches = Patches.of(off, EIGHT)
    outside = patches.holding(on_border(off.shape))[patches.labels]
    return np.asarray(ndimage.binary_dilation(outside, EIGHT)[1:-1, 1:-1])
