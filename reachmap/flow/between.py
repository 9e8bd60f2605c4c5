"""Flow between solved flows: level and velocity interpolated over ln Q."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import xarray as xr
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.fields import STACK, check_fields
from reachmap.base.patches import FOUR, joined_to
from reachmap.base.words import Wet
from reachmap.flow.lagrange import slope_weights, value_weights
from reachmap.flow.notes import FlowNote, NoteKind, notes_of, with_notes

VERSION = 2
"""Raised when the numbers of this module change."""

NEIGHBOURS = 4
"""Solved flows that level and velocity are interpolated over: a cubic in ln Q. With two, depth was
14 mm rms and speed 2.1 cm/s from the engine's own answer on the sample, with four 1-7 mm and
0.8-2 cm/s (leaving one solved flow out; our measurement)."""

WET_M = 0.01
"""Shallowest depth counted as wet [m]; our choice, 0.003-0.03."""

SAME_FLOW = 1e-6
"""Two discharges this near, as a share, are one; our choice: rounding of units."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a discharge lies among solved ones.

    Parameters
    ----------
    low, high
        Indices of the solved flows next to it; the same where it is one of them.
    share
        How far from `low` to `high` it lies in ln Q, 0 to 1.
    """

    low: int
    high: int
    share: float

    @property
    def solved(self) -> bool:
        """Return whether the discharge is one of the solved ones."""
        return self.low == self.high


def place_of(flow: float, flows: Sequence[float] | FloatArray) -> Place:
    """Return where a discharge lies among solved ones.

    Parameters
    ----------
    flow
        Discharge [m3/s].
    flows
        Solved discharges [m3/s], rising.

    Raises
    ------
    ValueError
        If it lies outside their range; nothing is extrapolated.
    """
    solved = np.asarray(flows, dtype=np.float64)
    same = np.flatnonzero(np.isclose(solved, flow, rtol=SAME_FLOW, atol=0.0))
    if same.size:
        return Place(int(same[0]), int(same[0]), 0.0)
    if not solved[0] < flow < solved[-1]:
        msg = f"flow is {flow:g} m3/s, wants {solved[0]:g} to {solved[-1]:g} m3/s"
        raise ValueError(msg)
    high = int(np.searchsorted(solved, flow))
    low = high - 1
    share = math.log(flow / solved[low]) / math.log(solved[high] / solved[low])
    return Place(low, high, share)


@dataclass(frozen=True, slots=True)
class SolvedFlows:
    """Solved flows made ready to be read at any flow between: their water, cell by cell.

    Parameters
    ----------
    fields
        The flow stage's Dataset, flows rising.
    flows
        Its discharges [m3/s], shape (n,).
    cells
        The cells that any of them wets, as indices into the raveled raster, shape (m,).
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
        ever = np.zeros(ground["bed"].shape, dtype=bool)
        for k in range(count):
            ever |= flows["wet"][k].to_numpy() == Wet.YES
        cells = np.flatnonzero(ever).astype(np.int32)
        level = np.empty((count, cells.size))
        wet = np.empty((count, cells.size), dtype=bool)
        for k in range(count):
            here = flows["wet"][k].to_numpy() == Wet.YES
            wet[k] = here.ravel()[cells]
            level[k] = _carried(flows["level"][k].to_numpy(), here).ravel()[cells]
        depth, east, north = (
            np.nan_to_num(
                np.stack([flows[name][k].to_numpy().ravel()[cells] for k in range(count)])
            )
            for name in ("depth", "east_speed", "north_speed")
        )
        bed = ground["bed"].to_numpy().ravel()[cells]
        discharges = flows["flow"].to_numpy().astype(np.float64)
        return cls(flows, discharges, cells, bed, level, depth, east, north, wet)

    def without(self, index: int) -> SolvedFlows:
        """Return these flows but for one: what would be known had it not been solved."""
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
        The level of each solved flow is carried on to its dry cells from the nearest wet one, then
        interpolated by Hermite's cubic in ln Q with the slopes of Lagrange's polynomial over up to
        four solved flows, held to 0 to 3 times the slope between the two next to it: so the level
        goes from the one to the other without turning [1]_, and more water is never shallower. A
        cell is wet where the level is above the bed, the higher neighbour is wet, and wet cells
        join it to the water of the lower one. East and north speed follow Lagrange's polynomial
        over those of the four, from the highest down, that are wet without a gap, if both
        neighbours are; where the higher alone is wet, its speed times the depth ratio to the power
        2/3 (Manning's law at one slope and roughness).

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
        here = self._joined((depth > WET_M) & self.wet[place.high], self.wet[place.low])
        ratio = np.clip(depth / np.maximum(self.depth[place.high], WET_M), 0.0, 1.0) ** (2 / 3)
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
        place, codes = water.place, fields["wet"]
        low, high = (codes[k].to_numpy() for k in (place.low, place.high))
        unknown = (low == Wet.UNKNOWN) | (high == Wet.UNKNOWN)
        code = np.where(unknown, Wet.UNKNOWN, Wet.NO).astype(codes.dtype)
        code.ravel()[self.cells[water.wet]] = Wet.YES
        rasters = {
            "level": water.depth + self.bed,
            "depth": water.depth,
            "east_speed": water.east,
            "north_speed": water.north,
        }
        data = {name: (STACK, self._raster(name, v, water.wet)) for name, v in rasters.items()}
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
                "wet": (STACK, code[None]),
                **{name: (("flow",), np.array([value])) for name, value in scalars.items()},
            },
            coords={"flow": [flow], "x": fields["x"], "y": fields["y"]},
            attrs={name: fields.attrs[name] for name in ("crs", "cell", "method")},
        )
        beside = (float(self.flows[place.low]), float(self.flows[place.high]))
        notes = [note for note in notes_of(fields) if note.flow is None]
        notes.append(FlowNote(NoteKind.INTERPOLATED, flow, None, beside))
        return check_fields(with_notes(made, notes), "flow")

    def _level(self, place: Place, used: list[int], at: float) -> FloatArray:
        """Return the level at the cells [m]; see `water_at`."""
        nodes = np.log(self.flows)
        low, high = self.level[place.low], self.level[place.high]
        wide = nodes[place.high] - nodes[place.low]
        secant = (high - low) / wide
        steepest = np.sort([np.zeros(secant.size), 3.0 * secant], axis=0)
        slopes = [
            np.clip(slope_weights(nodes[used], used.index(k)) @ self.level[used], *steepest)
            for k in (place.low, place.high)
        ]
        t = (at - nodes[place.low]) / wide
        return np.asarray(
            low
            + (high - low) * t**2 * (3 - 2 * t)
            + wide * t * (1 - t) * ((1 - t) * slopes[0] - t * slopes[1])
        )

    def _joined(self, deep: BoolArray, seeds: BoolArray) -> BoolArray:
        """Return the cells of `deep` that cells of it join to those of `seeds`."""
        mask, start = (np.zeros(self.shape, dtype=bool) for _ in range(2))
        mask.ravel()[self.cells[deep]] = True
        start.ravel()[self.cells[deep & seeds]] = True
        return np.asarray(joined_to(start, mask, FOUR).ravel()[self.cells])

    def _raster(self, name: str, values: FloatArray, wet: BoolArray) -> FloatArray:
        """Return one flow's field over the raster, NaN where not wet."""
        raster = np.full((1, *self.shape), np.nan, dtype=self.fields[name].dtype)
        raster.ravel()[self.cells[wet]] = values[wet]
        return raster

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


def used_for(place: Place, count: int) -> list[int]:
    """Return which of `count` solved flows serve: up to four, shifted inward at the ends."""
    first = min(max(place.low - 1, 0), max(count - NEIGHBOURS, 0))
    return list(range(first, min(first + NEIGHBOURS, count)))


def _carried(level: FloatArray, wet: BoolArray) -> FloatArray:
    """Return the level with that of the nearest wet cell on dry ground."""
    near = distance_transform_edt(~wet, return_distances=False, return_indices=True)
    return np.asarray(level[tuple(near)], dtype=np.float64)
