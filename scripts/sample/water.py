"""How the true river runs, worked out by the project's own flow stage on the true bed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter1d, label, map_coordinates

from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, solve

from . import bed, plan
from .line import Line
from .raster import Laid

FloatArray = NDArray[np.float64]

STEP = 4.0
"""Distance of the stations at which a level along the river is kept [m]."""

SETTINGS = FlowSettings(method="engine")


@dataclass(frozen=True, slots=True)
class TrueWater:
    """The true river with its flows: 1 m raster, line, ground Dataset and flows Dataset at 2 m."""

    laid: Laid
    line: Line
    ground: xr.Dataset
    flows: xr.Dataset

    def number(self, flow_cfs: float) -> int:
        """Return the place of a flow among those worked out."""
        return int(np.abs(self.flows["flow"].to_numpy() - plan.cfs(flow_cfs)).argmin())

    def level_along(self, flow_cfs: float) -> tuple[FloatArray, FloatArray]:
        """Return stations and the main channel's level there [m], never rising downstream."""
        s, n = self.ground["station"].to_numpy(), self.ground["offset"].to_numpy()
        level = self.flows["level"].to_numpy()[self.number(flow_cfs)]
        _, left, right = bed.main_channel(self.line).at(np.nan_to_num(s))
        middle = np.isfinite(level) & (n < 0.8 * left) & (n > -0.8 * right)
        at = np.arange(0.0, self.line.length + STEP / 2, STEP)
        place = np.clip(np.rint(s[middle] / STEP).astype(int), 0, at.size - 1)
        order = np.argsort(place, kind="stable")
        cuts = np.searchsorted(place[order], np.arange(1, at.size))
        found = np.array([np.median(part) for part in np.split(level[middle][order], cuts)])
        return at, np.minimum.accumulate(gaussian_filter1d(found, 1.5, mode="nearest"))

    def level_at(self, flow_cfs: float, station: FloatArray) -> FloatArray:
        """Return the main channel's level at stations [m]."""
        return np.interp(station, *self.level_along(flow_cfs))

    def bed_at(self, station: FloatArray, offset: FloatArray) -> FloatArray:
        """Return the true bed at places [m], straight between the 1 m cells' centres."""
        x, y = self.line.place(station, offset)
        rows, cols = self.laid.y[0] - y, x - self.laid.x[0]
        return np.asarray(map_coordinates(self.laid.bed, [rows, cols], order=1, cval=np.nan))

    def look_up(
        self, name: str, flow_cfs: float, station: FloatArray, offset: FloatArray
    ) -> FloatArray:
        """Return a field of the flows at the cells that hold places; NaN where not wet."""
        x, y = self.line.place(station, offset)
        gx, gy = self.flows["x"].to_numpy(), self.flows["y"].to_numpy()
        row = np.clip(np.rint((gy[0] - y) / (gy[0] - gy[1])).astype(int), 0, gy.size - 1)
        col = np.clip(np.rint((x - gx[0]) / (gx[1] - gx[0])).astype(int), 0, gx.size - 1)
        return np.asarray(self.flows[name].to_numpy()[self.number(flow_cfs), row, col])

    def edge(
        self, flow_cfs: float, station: FloatArray, side: int
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return the offset of the main channel's edge [m] and whether it was cut at the bank top.

        `side` is 1 for the left, -1 for the right. Walks inwards from a little beyond the bank top
        to the first water: bars within the channel do not stop it, mouths of side channels do.
        """
        channel = bed.main_channel(self.line)
        _, left, right = channel.at(station)
        limit = (left if side > 0 else right) + 2.0
        steps = np.arange(0.0, 45.0, 0.25)
        out = limit[:, None] - steps[None, :]
        level = self.level_at(flow_cfs, station)
        ground = self.bed_at(np.broadcast_to(station[:, None], out.shape), side * out)
        wet = ground < level[:, None]
        first = wet.argmax(axis=1)
        return side * out[np.arange(station.size), first], first == 0


def run_water(
    laid: Laid,
    line: Line,
    ground: xr.Dataset,
    flows_cfs: Sequence[float],
    settings: FlowSettings = SETTINGS,
) -> TrueWater:
    """Return the true river with its flows worked out."""
    flows = sorted(plan.cfs(flow) for flow in set(flows_cfs))
    return TrueWater(laid, line, ground, solve(ground, flows, settings))


def wet_at_one_metre(water: TrueWater, flow_cfs: float) -> tuple[NDArray[np.bool_], FloatArray]:
    """Return which 1 m cells are under the water that joins the main channel, and its level [m].

    The level is that of the main channel at each cell's station: flat across.
    """
    laid = water.laid
    known = np.isfinite(laid.bed)
    row, col = np.nonzero(known)
    s, n = water.line.locate(laid.x[col], laid.y[row])
    level = np.full(known.shape, np.nan)
    level[known] = water.level_at(flow_cfs, s)
    low = known & (laid.bed < level)
    pieces, _ = label(low)
    near = np.zeros(known.shape, dtype=bool)
    near[known] = np.abs(n) < 15
    middle = low & near
    joined = np.unique(pieces[middle])
    return low & np.isin(pieces, joined[joined > 0]) & ~_not_reached(water, flow_cfs), level


def _not_reached(water: TrueWater, flow_cfs: float) -> NDArray[np.bool_]:
    """Return the low 1 m cells the flow stage leaves dry: more than 4 m from its water."""
    wet = water.flows["wet"].to_numpy()[water.number(flow_cfs)] == Wet.YES
    fine = np.repeat(np.repeat(wet, 2, axis=0), 2, axis=1)
    return np.asarray(distance_transform_edt(~fine) > 4.0)
