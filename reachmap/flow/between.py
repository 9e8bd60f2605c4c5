"""Flow between solved flows: level and velocity interpolated over ln Q."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.ndimage import binary_propagation, distance_transform_edt

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.fields import STACK, check_fields
from reachmap.base.words import Wet
from reachmap.flow.notes import FlowNote, NoteKind, with_notes

VERSION = 1
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
        As the flow stage's, with this one flow and a note of kind `INTERPOLATED` that holds the
        discharges next to it. Outflow and imbalance are NaN: the field solves no balance.

    Raises
    ------
    ValueError
        If the discharge is outside the range of `flows` or one of them.

    Notes
    -----
    The level of each solved flow is carried on to its dry cells from the nearest wet one, then
    interpolated by Lagrange's polynomial over up to four solved flows in ln Q and held between the
    levels of the two next to it, so that more water is never shallower. A cell is wet where the
    level is above the bed, the higher neighbour is wet, and wet cells join it to the water of the
    lower one. East and north speed follow the same polynomial where all the solved flows used are
    wet, a straight line where the two neighbours are; where the higher alone is wet, its speed
    times the depth ratio to the power 2/3 (Manning's law at one slope and roughness).
    What is unknown at a neighbour and not wet is unknown.
    """
    solved = flows["flow"].to_numpy().astype(np.float64)
    place = place_of(flow, solved)
    if place.solved:
        msg = f"flow {flow:g} m3/s is solved: take it as it is"
        raise ValueError(msg)
    used = _used(place, solved.size)
    weights = _weights(np.log(solved[used]), math.log(flow))
    codes = flows["wet"].to_numpy()
    wet = {k: np.asarray(codes[k] == Wet.YES) for k in used}
    levels = {k: _carried(flows["level"].to_numpy()[k], wet[k]) for k in used}
    level = _blend([levels[k] for k in used], weights)
    ends = np.sort([levels[place.low], levels[place.high]], axis=0)
    depth = np.clip(level, ends[0], ends[1]) - ground["bed"].to_numpy()
    here = _wet_cells(depth, wet[place.low], wet[place.high])
    unknown = (codes[place.low] == Wet.UNKNOWN) | (codes[place.high] == Wet.UNKNOWN)
    east, north = (
        _speed(flows[name].to_numpy(), wet, weights, place, _ratio(depth, flows, place.high))
        for name in ("east_speed", "north_speed")
    )
    foot = flows["foot_level"].to_numpy()
    rasters = {
        "level": depth + ground["bed"].to_numpy(),
        "depth": depth,
        "east_speed": east,
        "north_speed": north,
    }
    stored = {name: flows[name].dtype for name in rasters}
    data = {
        name: (STACK, np.where(here, values, np.nan)[None].astype(stored[name]))
        for name, values in rasters.items()
    }
    code = np.where(here, Wet.YES, np.where(unknown, Wet.UNKNOWN, Wet.NO)).astype(codes.dtype)
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
        coords={"flow": [flow], "x": flows["x"], "y": flows["y"]},
        attrs={name: flows.attrs[name] for name in ("crs", "cell", "method")},
    )
    beside = (float(solved[place.low]), float(solved[place.high]))
    note = FlowNote(NoteKind.INTERPOLATED, flow, None, beside)
    return check_fields(with_notes(made, [note]), "flow")


def _used(place: Place, count: int) -> list[int]:
    """Return the solved flows interpolated over: up to four, shifted inward at the ends."""
    first = min(max(place.low - 1, 0), max(count - NEIGHBOURS, 0))
    return list(range(first, min(first + NEIGHBOURS, count)))


def _weights(nodes: FloatArray, at: float) -> FloatArray:
    """Return the weights of Lagrange's polynomial through `nodes` at a point."""
    apart = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(apart, 1.0)
    towards = np.broadcast_to(at - nodes, apart.shape).copy()
    np.fill_diagonal(towards, 1.0)
    return np.asarray((towards / apart).prod(axis=1))


def _blend(fields: Sequence[FloatArray], weights: FloatArray) -> FloatArray:
    """Return the weighted sum of fields."""
    return np.asarray(np.tensordot(weights, np.stack(fields), axes=1))


def _carried(level: FloatArray, wet: BoolArray) -> FloatArray:
    """Return the level with that of the nearest wet cell on dry ground."""
    near = distance_transform_edt(~wet, return_distances=False, return_indices=True)
    return np.asarray(level[tuple(near)], dtype=np.float64)


def _wet_cells(depth: FloatArray, low: BoolArray, high: BoolArray) -> BoolArray:
    """Return the wet cells: deep enough, wet at the higher flow, joined to water of the lower."""
    with np.errstate(invalid="ignore"):
        deep = (depth > WET_M) & high
    return np.asarray(binary_propagation(deep & low, mask=deep))


def _ratio(depth: FloatArray, flows: xr.Dataset, high: int) -> FloatArray:
    """Return depth over that of the higher neighbour, to the power 2/3, 0 to 1."""
    above = np.nan_to_num(flows["depth"].to_numpy()[high])
    return np.asarray(np.clip(np.nan_to_num(depth) / np.maximum(above, WET_M), 0.0, 1.0) ** (2 / 3))


def _speed(
    speeds: FloatArray,
    wet: dict[int, BoolArray],
    weights: FloatArray,
    place: Place,
    ratio: FloatArray,
) -> FloatArray:
    """Return one component of the velocity [m/s]; see `flow_between`."""
    known = {k: np.nan_to_num(speeds[k]).astype(np.float64) for k in wet}
    cubic = _blend(list(known.values()), weights)
    straight = (1 - place.share) * known[place.low] + place.share * known[place.high]
    every = np.logical_and.reduce(list(wet.values()))
    both = wet[place.low] & wet[place.high]
    return np.where(every, cubic, np.where(both, straight, known[place.high] * ratio))
