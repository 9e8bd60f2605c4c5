"""Flow between solved flows: level and velocity interpolated over ln Q."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.fields import check_fields
from reachmap.base.listed import CellList
from reachmap.base.packed import PackedRaster, packed_field, packed_raster, values_at
from reachmap.base.words import Wet
from reachmap.flow.carry import carry_level
from reachmap.flow.lagrange import slope_weights, value_weights
from reachmap.flow.notes import FlowNote, NoteKind, notes_of, with_notes
from reachmap.flow.place import Place, place_of, used_for

VERSION = 3
"""Raised when the numbers of this module change."""

WET_M = 0.01
"""Shallowest depth counted as wet [m]; our choice, 0.003-0.03."""


@dataclass(frozen=True, slots=True)
class SolvedFlows:
    """Solved flows prepared for interpolation: their water, cell by cell.

    Parameters
    ----------
    fields
        The flow stage's Dataset, flows rising.
    flows
        Its discharges [m3/s], shape (n,).
    cells
        The cells that any of them wets, as rising indices into the raveled raster, shape (m,).
    river
        The same cells, and which of them touch.
    bed
        Ground at the cells [m], shape (m,).
    level
        Level at the cells [m], that of the nearest wet cell where dry, shape (n, m).
    depth, east, north
        Depth [m] and velocity [m/s] at the cells, 0 where dry, shape (n, m).
    wet
        Which cells each flow wets, shape (n, m).
    """

    fields: xr.Dataset
    flows: FloatArray
    cells: IntArray
    river: CellList
    bed: FloatArray
    level: FloatArray
    depth: FloatArray
    east: FloatArray
    north: FloatArray
    wet: BoolArray

    @classmethod
    def of(cls, ground: xr.Dataset, flows: xr.Dataset) -> SolvedFlows:
        """Return the solved flows of a flow stage's Dataset, on its ground."""
        count = flows.sizes["flow"]
        rasters = [packed_raster(flows["wet"][k]) for k in range(count)]
        wets = [raster.where(Wet.YES) for raster in rasters]
        cells = np.unique(np.concatenate(wets)).astype(np.int32)
        wet = np.stack([raster.at(cells) == Wet.YES for raster in rasters])
        level, depth, east, north = (
            np.stack([values_at(flows[name][k], cells) for k in range(count)])
            for name in ("level", "depth", "east_speed", "north_speed")
        )
        shape = flows.sizes["y"], flows.sizes["x"]
        places = np.stack(np.divmod(cells, shape[1]), axis=1)
        for k in range(count):
            carry_level(level[k], wet[k], places)
        depth, east, north = (np.nan_to_num(one) for one in (depth, east, north))
        bed = values_at(ground["bed"], cells)
        discharges = flows["flow"].to_numpy().astype(np.float64)
        river = CellList.of_cells(cells, shape)
        return cls(flows, discharges, cells, river, bed, level, depth, east, north, wet)

    def without(self, index: int) -> SolvedFlows:
        """Return these flows without one, for its leave-one-out error."""
        kept = [k for k in range(self.flows.size) if k != index]
        arrays = {
            name: getattr(self, name)[kept]
            for name in ("flows", "level", "depth", "east", "north", "wet")
        }
        return replace(self, fields=self.fields.isel(flow=kept), **arrays)

    def water_at(self, flow: float) -> Water:
        """Return depth and velocity at a flow between two of these, on `cells`.

        Raises
        ------
        ValueError
            If the discharge is outside the range of these flows or one of them.

        Notes
        -----
        The level of each solved flow is carried on to its dry cells from the nearest wet ones, then
        interpolated by Hermite's cubic in ln Q with the slopes of Lagrange's polynomial over up to
        four solved flows, held to 0 to 3 times the slope between the two next to it: so the level
        goes from the one to the other without turning [1]_, and more water is never shallower. A
        cell is wet where the level is above the bed, the higher neighbour is wet, and wet cells
        join it to the water of the lower one. East and north speed follow Lagrange's polynomial
        over those of the four, from the highest down, that are wet without a gap, if both
        neighbours are; where the higher alone is wet, its speed times the depth ratio to the power
        that it and the next higher flow show at the cell, else 2/3 (Manning's law at one slope and
        roughness).

        References
        ----------
        .. [1] Fritsch and Carlson (1980), Monotone piecewise cubic interpolation, SIAM J. Numer.
           Anal. 17:238: slopes of 0 to 3 times the secant's keep a cubic monotone (from memory).
        """
        place = place_of(flow, self.flows)
        if place.solved:
            msg = f"flow {flow:g} m3/s is solved: take it as it is"
            raise ValueError(msg)
        used, at = used_for(place, self.flows.size), math.log(flow)
        nodes = np.log(self.flows)
        depth = self._level(place, used, at) - self.bed
        deep = (depth > WET_M) & self.wet[place.high]
        here = self.river.joined_to(self.wet[place.low], deep)
        ratio = np.clip(depth / np.maximum(self.depth[place.high], WET_M), 0.0, 1.0)
        ratio = ratio ** self._power(place.high)
        east, north = (speed[place.high] * ratio for speed in (self.east, self.north))
        for first in range(used.index(place.low), -1, -1):  # the widest polynomial last
            over = used[first:]
            known = self.wet[over].all(axis=0)
            weights = value_weights(nodes[over], at)
            for speed, found in ((self.east, east), (self.north, north)):
                found[known] = weights @ speed[over][:, known]
        return Water(place, depth, east, north, here)

    def at(self, flow: float) -> xr.Dataset:
        """Return the flow field at a flow between two of these.

        Returns
        -------
        xr.Dataset
            As the flow stage's, with this one flow and a note of kind `INTERPOLATED` that holds the
            discharges next to it, beside the notes that hold at every flow. Outflow and imbalance
            are NaN: the field solves no balance. What is unknown at a neighbour and not wet is
            unknown.

        Raises
        ------
        ValueError
            As `water_at`.
        """
        water, fields = self.water_at(flow), self.fields
        place = water.place
        here = self.cells[water.wet]
        rasters = {
            "level": water.depth + self.bed,
            "depth": water.depth,
            "east_speed": water.east,
            "north_speed": water.north,
        }
        dry = np.array(np.nan)
        data = {
            name: packed_field([PackedRaster(self.shape, dry, here, values[water.wet])])
            for name, values in rasters.items()
        }
        data["wet"] = packed_field([PackedRaster.of(self._codes(place, here))])
        foot = fields["foot_level"].to_numpy()
        scalars = {
            "inflow": flow,
            "outflow": np.nan,
            "imbalance": np.nan,
            "foot_level": (1 - place.share) * foot[place.low] + place.share * foot[place.high],
        }
        made = xr.Dataset(
            {
                **data,
                **{name: (("flow",), np.array([value])) for name, value in scalars.items()},
            },
            coords={"flow": [flow], "x": fields["x"], "y": fields["y"]},
            attrs={name: fields.attrs[name] for name in ("crs", "cell", "method")},
        )
        neighbours = (float(self.flows[place.low]), float(self.flows[place.high]))
        notes = [note for note in notes_of(fields) if note.flow is None]
        notes.append(FlowNote(NoteKind.INTERPOLATED, flow, None, neighbours))
        return check_fields(with_notes(made, notes), "flow")

    def _power(self, k: int) -> FloatArray:
        """Return the power of depth that the speed goes with at each cell, above flow number `k`.

        From that flow and the next higher one, held to 0.3 to 1; Manning's 2/3 where there is none.
        """
        if k + 1 == self.flows.size:
            return np.full(self.bed.shape, 2 / 3)
        with np.errstate(divide="ignore", invalid="ignore"):
            speed = np.hypot(self.east[k : k + 2], self.north[k : k + 2])
            power = np.log(speed[1] / speed[0]) / np.log(self.depth[k + 1] / self.depth[k])
        return np.where(np.isfinite(power), np.clip(power, 0.3, 1.0), 2 / 3)

    def _level(self, place: Place, used: list[int], at: float) -> FloatArray:
        """Return the level at the cells [m]; see `water_at`."""
        nodes = np.log(self.flows)
        low, high = self.level[place.low], self.level[place.high]
        wide = nodes[place.high] - nodes[place.low]
        secant = (high - low) / wide
        # Slopes of 0 to 3 times the secant keep the cubic monotone (Fritsch and Carlson).
        steepest = np.sort([np.zeros(secant.size), 3.0 * secant], axis=0)
        slopes = [
            np.clip(slope_weights(nodes[used], used.index(k)) @ self.level[used], *steepest)
            for k in (place.low, place.high)
        ]
        # Hermite's cubic on t from 0 to 1; slopes are by ln Q, so each is multiplied by the width.
        t = (at - nodes[place.low]) / wide
        return np.asarray(
            low
            + (high - low) * t**2 * (3 - 2 * t)
            + wide * t * (1 - t) * ((1 - t) * slopes[0] - t * slopes[1])
        )

    def _codes(self, place: Place, wet: IntArray) -> CodeArray:
        """Return codes of `Wet`: yes at some cells, unknown where a neighbour's is, else no."""
        codes = np.full(self.shape, Wet.NO, dtype=np.uint8)
        for k in (place.low, place.high):
            codes[self.fields["wet"][k].to_numpy() == Wet.UNKNOWN] = Wet.UNKNOWN
        codes.ravel()[wet] = Wet.YES
        return codes

    @property
    def shape(self) -> tuple[int, int]:
        """Return rows and columns of the raster."""
        return self.fields.sizes["y"], self.fields.sizes["x"]


@dataclass(frozen=True, slots=True)
class Water:
    """Interpolated water on the cells of `SolvedFlows`, each of shape (m,).

    Parameters
    ----------
    place
        Where the flow lies among the solved ones.
    depth
        Level above the bed [m]; of meaning where wet.
    east, north
        Velocity [m/s]; of meaning where wet.
    wet
        Which cells are wet.
    """

    place: Place
    depth: FloatArray
    east: FloatArray
    north: FloatArray
    wet: BoolArray

    @property
    def speed(self) -> FloatArray:
        """Return the speed [m/s]."""
        return np.hypot(self.east, self.north)


def flow_between(ground: xr.Dataset, flows: xr.Dataset, flow: float) -> xr.Dataset:
    """Return the flow field at a discharge between two solved ones.

    Parameters
    ----------
    ground
        The ground stage's Dataset on the same raster.
    flows
        The flow stage's Dataset, flows rising.
    flow
        Discharge [m3/s], between the lowest and the highest of `flows` and none of them.

    Returns
    -------
    xr.Dataset
        As `SolvedFlows.at`, which serves many flows of one Dataset quicker.

    Raises
    ------
    ValueError
        If the discharge is outside the range of `flows` or one of them.
    """
    place_of(flow, flows["flow"].to_numpy())
    return SolvedFlows.of(ground, flows).at(flow)
