"""Travel lanes: what a way upstream costs a fish, and the line along which most fish pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from scipy import ndimage
from scipy.sparse import csr_matrix

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.near_bed import near_bed_share
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import EIGHT, cells_of
from reachmap.base.words import COVER_CODES, Cover
from reachmap.water.field import WaterField, packed_by_mask
from reachmap.water.mesh import Mesh, cheapest_route, mesh_of
from reachmap.water.settings import LaneSettings

OVERGROWN = [COVER_CODES[Cover.BRUSH], COVER_CODES[Cover.TREES]]
"""Codes of cover that stands in the way of a fish once it is flooded."""


def effort_per_metre(against: FloatArray, across: FloatArray, effort_per_m_s: float) -> FloatArray:
    """Return the effort of a fish per metre over ground, relative to still water.

    Parameters
    ----------
    against
        Speed of the current against the fish [m/s]; negative where it helps.
    across
        Speed of the current across its way [m/s], either sign: it must be swum against too.
    effort_per_m_s
        k in P ~ exp(k Us) [s/m], > 0.

    Notes
    -----
    Power P ~ exp(k Us). Straight against the current Us = Ug + Uw; the cost per metre P(Us)/Ug is
    least at the ground speed Ug = 1/k whatever Uw [1]_: over still water, exp(k Uw). Here the same
    ground speed is held on every course: Us = |Ug - U| with U as a vector, cost exp(k Us - 1).

    References
    ----------
    .. [1] Castro-Santos (2005), Optimal swim speeds for traversing velocity barriers, J. Exp. Biol.
       208:421-432; the abstract was read.
    """
    return np.exp(effort_per_m_s * swimming_speed(against, across, effort_per_m_s) - 1.0)


def swimming_speed(against: FloatArray, across: FloatArray, effort_per_m_s: float) -> FloatArray:
    """Return the swimming speed at the ground speed 1/k [m/s]."""
    return np.hypot(np.asarray(against, dtype=np.float64) + 1.0 / effort_per_m_s, across)


def exposure_factor(
    depth: FloatArray, cover_depth: float, passing_depth: float, exposure: float
) -> FloatArray:
    """Return the factor on the cost of a metre for lack of depth over the fish, >= 1.

    1 from `cover_depth` [m] on, 1 + `exposure` at `passing_depth` [m] and below, with the square of
    the missing depth between. Common practice (fish keep to covered water), no published source.
    """
    deep = np.asarray(depth, dtype=np.float64)
    lack = np.clip((cover_depth - deep) / max(cover_depth - passing_depth, 1e-6), 0.0, 1.0)
    return np.asarray(1.0 + exposure * lack**2)


def cover_depth_in(clarity_m: float, clear_m: float, settings: LaneSettings) -> float:
    """Return the depth at which fish feel covered [m] in water of a clarity [m].

    Less in coloured water: in proportion to clarity, down to `coloured_share`. Common
    practice, no published source.
    """
    share = min(max(clarity_m / clear_m, settings.coloured_share), 1.0)
    return settings.cover_depth_m * share


@dataclass(frozen=True, slots=True)
class Lane:
    """A lane through one piece of water, upstream: cells in order, points [m], what lies along it.

    `effort` is the cost over that of still, covered water of the same length; `blocked` marks cells
    that are too shallow or too quick, where the lane breaks.
    """

    rows: IntArray
    cols: IntArray
    points: FloatArray
    effort: float
    blocked: BoolArray


class Current(NamedTuple):
    """Velocity, depth and cover on cells of a size [m], rasters (y, x), rows to the south.

    `east, north` are the velocity where it swims [m/s], `depth` that of the water [m], `overgrown`
    the share of a cell with flooded brush or trees, 0 to 1.
    """

    east: FloatArray | PackedRaster
    north: FloatArray | PackedRaster
    depth: FloatArray | PackedRaster
    overgrown: FloatArray | PackedRaster
    cell: float

    @classmethod
    def of(cls, field: WaterField, height_m: float) -> Current:
        """Return a flow's current at a height over the bed [m]."""
        at = cells_of(field.wet)
        depth = field.depth[at]
        share = near_bed_share(depth, field.roughness.values, height_m)
        overgrown = np.isin(field.cover.at(field.roughness.cells), OVERGROWN).astype(np.float64)
        east, north, deep = (
            packed_by_mask(field.wet, values)
            for values in (field.east[at] * share, field.north[at] * share, depth)
        )
        return cls(east, north, deep, packed_by_mask(field.wet, overgrown, 0.0), field.grid.cell)


def step_costs(
    water: Current, mesh: Mesh, settings: LaneSettings, cover_depth: float
) -> tuple[FloatArray, FloatArray]:
    """Return what each step of the mesh costs a fish, from a to b and from b to a [still metres].

    Speed, depth and growth are the mean of both cells. A step too quick, or with either cell too
    shallow, costs `barrier_cost` a metre; one through flooded brush is passable at a cost.
    """
    east, north, depth, overgrown = (
        a[mesh.rows, mesh.cols] for a in (water.east, water.north, water.depth, water.overgrown)
    )
    right = 0.5 * (east[mesh.a] + east[mesh.b])
    # rows run south
    down = -0.5 * (north[mesh.a] + north[mesh.b])
    d_row, d_col = mesh.d_row, mesh.d_col
    along = right * d_col + down * d_row
    across = right * d_row - down * d_col
    deep = 0.5 * (depth[mesh.a] + depth[mesh.b])
    thin = np.minimum(depth[mesh.a], depth[mesh.b])
    shelter = exposure_factor(deep, cover_depth, settings.depth_low_m, settings.exposure)
    shelter *= 1.0 + settings.brush_pull * 0.5 * (overgrown[mesh.a] + overgrown[mesh.b])
    length = mesh.length * water.cell
    costs = []
    # Along is with the step from a to b: a help that way, and as much against on the way back.
    for against in (-along, along):
        cost = length * shelter * effort_per_metre(against, across, settings.effort_per_m_s)
        swim = swimming_speed(against, across, settings.effort_per_m_s)
        shut = (thin < settings.depth_low_m) | (swim > settings.speed_high_m_s)
        costs.append(np.where(shut, length * settings.barrier_cost, cost))
    return costs[0], costs[1]


def find_lanes(
    field: WaterField,
    travelled: BoolArray,
    settings: LaneSettings,
    cover_depth: float,
    passes: FloatArray | PackedRaster | None = None,
) -> list[Lane]:
    """Return the lane through each piece of water at least two widths long.

    Parameters
    ----------
    field
        The flow.
    travelled
        Cells of channels that carry enough water to lead a fish, shape (y, x).
    settings
        Costs and limits of a fish on its way upstream.
    cover_depth
        Depth at which fish feel covered [m].
    passes
        Odds that a fish passes each cell (`corridor.Corridor`), > 0 where the lane may run: it
        follows the most of it. None: the way of least effort.
    """
    open_ = field.placed & travelled
    labels, count = ndimage.label(open_, EIGHT)
    cells = cells_of(open_)
    low, high = np.full(count + 1, np.inf), np.full(count + 1, -np.inf)
    np.minimum.at(low, labels[cells], field.station[cells])
    np.maximum.at(high, labels[cells], field.station[cells])
    lanes = []
    for number in range(1, count + 1):
        if high[number] - low[number] >= 2 * field.width:
            lane = _lane(field, labels == number, settings, cover_depth, passes)
            if lane is not None:
                lanes.append(lane)
    return lanes


def _lane(
    field: WaterField,
    piece: BoolArray,
    settings: LaneSettings,
    cover_depth: float,
    passes: FloatArray | PackedRaster | None,
) -> Lane | None:
    """Return the lane through one piece of water."""
    mesh = mesh_of(piece)
    forth, back = step_costs(Current.of(field, settings.swim_height_m), mesh, settings, cover_depth)
    station = field.station[mesh.rows, mesh.cols]
    foot = np.flatnonzero(station >= station.max() - settings.end_m).astype(np.int32)
    top = np.flatnonzero(station <= station.min() + settings.end_m).astype(np.int32)
    dear = np.ones(mesh.a.size)
    if passes is not None:
        here = passes[mesh.rows, mesh.cols]
        dear = 2.0 / (here[mesh.a] + here[mesh.b])
    _, way, _ = cheapest_route(mesh, dear * forth, dear * back, foot, top)
    if way.size < 5:
        return None
    rows, cols = mesh.rows[way], mesh.cols[way]
    points = field.grid.points(rows.astype(float), cols.astype(float))
    points = ndimage.gaussian_filter1d(points, 2.0, axis=0, mode="nearest")
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    taken = _taken(mesh, forth, back, way)
    a_metre = taken / (np.hypot(np.diff(rows), np.diff(cols)) * field.grid.cell)
    shut = a_metre > 0.99 * settings.barrier_cost
    blocked = np.r_[shut, False] | np.r_[False, shut]
    return Lane(rows, cols, points, float(taken.sum()) / max(length, 1e-6), blocked)


def _taken(mesh: Mesh, forth: FloatArray, back: FloatArray, way: IntArray) -> FloatArray:
    """Return what each step along a way costs."""
    table: Any = csr_matrix(
        (
            np.concatenate((forth, back)),
            (np.concatenate((mesh.a, mesh.b)), np.concatenate((mesh.b, mesh.a))),
        ),
        shape=(mesh.size, mesh.size),
    )
    return np.asarray(table[way[:-1], way[1:]]).ravel()
