"""Seams: lines along the flow where two currents of different speed meet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import networkx as nx
import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import EIGHT
from reachmap.base.words import Side
from reachmap.uncertainty.model_error import chance_between
from reachmap.water._kernels import both_sides, change_across, ridge
from reachmap.water.field import WaterField, packed_by_mask
from reachmap.water.settings import SeamSettings
from reachmap.water.thin_lines import order_cells


@dataclass(frozen=True, slots=True)
class Seam:
    """A seam, downstream: points [m], shape (n, 2); the cells it runs through; what it parts.

    `eddy` says that the slower water runs back upriver; `chance` is that of the two currents truly
    differing by as much as a seam must.
    """

    points: FloatArray
    rows: IntArray
    cols: IntArray
    strength: float
    length_m: float
    slow_side: Side
    fast_m_s: float
    slow_m_s: float
    thickness_m: float
    lasts_m: float
    from_junction: bool
    eddy: bool
    chance: float


def shear(field: WaterField, average_cells: int) -> FloatArray:
    """Return the change of the along-flow speed towards river left [1/s]; NaN where not known.

    Its ridge is the seam: for U(n) = Uc + dU/2 tanh(2 (n - n0)/d) the largest is dU/d, at n0.
    """
    rows, cols = (axis.astype(np.int32) for axis in np.nonzero(field.wet))
    out = np.full(field.wet.shape, np.nan)
    # Rows run south, so the kernel's (-b, a) points upstream where its (a, b) points to river left.
    # With both parts of the speed turned round, speed along the flow comes out positive.
    north, east = field.north, -field.east
    out[rows, cols] = (
        change_across(north, east, field.across_row, field.across_col, rows, cols, average_cells)
        / field.grid.cell
    )
    return out


def seam_lasts(depth: float, friction: float) -> float:
    """Return how far bed friction lets a seam last [m]: h/(2 cf).

    The difference of speed falls as exp(-2 cf x/h) (van Prooijen and Uijttewaal 2002, Phys. Fluids
    14:4105; Chu and Babarutsi 1988; both from memory).
    """
    return depth / (2 * friction)


def seam_chance(difference: float, spread: FloatArray, settings: SeamSettings) -> float:
    """Return the chance that two currents differ by the least that makes a seam, 0 to 1.

    Parameters
    ----------
    difference
        Of their speeds as mapped [m/s].
    spread
        Standard deviation of the speed along the seam [m/s], shape (n,); NaN where not known, and
        the chance is NaN where it is known nowhere.
    settings
        The least difference.

    Notes
    -----
    Errors of two speeds beside each other go half together (our choice: the same level, slope and
    roughness, each its own bed), so that their difference has the spread of one of them.
    """
    known = spread[np.isfinite(spread)]
    if not known.size:
        return float("nan")
    lowest = settings.difference_low_m_s
    return float(chance_between(np.array(difference), lowest, np.inf, np.median(known)))


def find_seams(field: WaterField, graph: nx.MultiDiGraph, settings: SeamSettings) -> list[Seam]:
    """Return the seams of one flow, one for each mixing layer; banks and noise weeded out."""
    change = shear(field, settings.average_cells)
    crests = _crests(field, change, settings)
    labels, count = ndimage.label(crests.mask, EIGHT)
    seams: list[Seam] = []
    for number, place in enumerate(ndimage.find_objects(labels, count), start=1):
        rows, cols = np.nonzero(labels[place] == number)
        rows, cols = rows + place[0].start, cols + place[1].start
        if rows.size * field.grid.cell < 0.7 * settings.junction_length_low_m:
            continue
        seam = _seam(field, change, crests, rows.astype(np.int32), cols.astype(np.int32), settings)
        if seam is not None:
            seams.append(_with_junction(seam, field, graph, settings))
    lasting = [s for s in seams if s.from_junction or _lasts(s, field.width, settings)]
    return _without_doubles(_within_ends(field, lasting, settings), settings.double_share)


def _lasts(seam: Seam, width: float, settings: SeamSettings) -> bool:
    """Return whether a seam that no junction explains is long enough, and a line and no slope."""
    thin = seam.thickness_m <= settings.thickness_high_widths * width
    return thin and seam.length_m >= settings.length_low_m


def _within_ends(field: WaterField, seams: list[Seam], settings: SeamSettings) -> list[Seam]:
    """Return the seams but those that lie where the mapped water begins or ends."""
    known = field.station[field.placed]
    if not known.size:
        return []
    spare = settings.end_widths * field.width
    low, high = float(known.min()) + spare, float(known.max()) - spare
    middle = [float(np.nanmedian(field.station[seam.rows, seam.cols])) for seam in seams]
    return [seam for seam, at in zip(seams, middle, strict=True) if low <= at <= high]


def _without_doubles(seams: list[Seam], share: float) -> list[Seam]:
    """Return the seams without those that lie along a greater one of the same slower side."""
    kept: list[Seam] = []
    for seam in sorted(seams, key=lambda s: -s.strength * s.length_m):
        inside = [
            cKDTree(one.points).query(seam.points, distance_upper_bound=one.thickness_m)[0]
            for one in kept
            if one.slow_side is seam.slow_side
        ]
        if not any(float(np.isfinite(far).mean()) > share for far in inside):
            kept.append(seam)
    return kept


@dataclass(frozen=True, slots=True)
class _Crests:
    """Cells on a ridge of the change of speed that parts two currents, and what it parts."""

    mask: BoolArray
    shift: PackedRaster
    fast: PackedRaster
    slow: PackedRaster


def _crests(field: WaterField, change: FloatArray, settings: SeamSettings) -> _Crests:
    """Return the ridge cells between two currents that each stand alone."""
    rows, cols = (axis.astype(np.int32) for axis in np.nonzero(field.wet))
    across = field.across_row, field.across_col
    least = settings.strength_low * settings.follow_share
    crest, shift = ridge(np.abs(change), *across, rows, cols, least)
    rows, cols, shift = rows[crest], cols[crest], shift[crest]
    north, east = field.north, -field.east
    steps = max(int(settings.side_look_m / field.grid.cell), 2)
    fast, slow, alone = both_sides(
        north, east, field.depth, change, *across, rows, cols, steps,
        settings.average_cells, settings.calm_share, settings.slow_depth_low_m,
    )  # fmt: skip
    with np.errstate(invalid="ignore", divide="ignore"):
        parts = (fast - slow) / np.maximum(np.abs(fast) + np.abs(slow), 1e-6)
        good = alone & (fast - slow >= settings.follow_share * settings.difference_low_m_s)
        good &= parts >= settings.follow_share * settings.ratio_low
        good &= field.depth[rows, cols] >= settings.slow_depth_low_m
    mask = np.zeros(field.wet.shape, dtype=bool)
    mask[rows[good], cols[good]] = True
    return _Crests(mask, *(packed_by_mask(mask, values[good]) for values in (shift, fast, slow)))


def _seam(
    field: WaterField,
    change: FloatArray,
    crests: _Crests,
    rows: IntArray,
    cols: IntArray,
    settings: SeamSettings,
) -> Seam | None:
    """Return one linked ridge as a seam, or None where it is too weak, too short or too mixed."""
    if np.quantile(np.abs(change[rows, cols]), 0.9) < settings.strength_low:
        return None  # spares the work below; the line's own strength is judged there
    order = order_cells(rows, cols)
    rows, cols = rows[order], cols[order]
    along_row = field.across_col[rows, cols]
    along_col = -field.across_row[rows, cols]
    # Cells come in order, but of either direction; (b, -a) points downstream.
    run = np.gradient(rows.astype(float)) * along_row + np.gradient(cols.astype(float)) * along_col
    if run.sum() < 0:
        rows, cols = rows[::-1], cols[::-1]
    here = change[rows, cols]
    strength = float(np.quantile(np.abs(here), settings.strength_quantile))
    fast, slow = crests.fast[rows, cols], crests.slow[rows, cols]
    difference = float(np.median(fast - slow))
    if strength < settings.strength_low or difference < settings.difference_low_m_s:
        return None
    if difference / max(float(np.median(fast + slow)), 1e-6) < settings.ratio_low:
        return None
    chance = seam_chance(difference, field.speed_spread.of_cells(rows, cols), settings)
    if not chance >= settings.chance_low:
        return None  # few of the rivers that the evidence allows have it
    slower = float(np.median(slow))
    if 0.0 <= slower < settings.living_low_m_s:
        return None  # the rim of dead water, no meeting of two currents
    shift = crests.shift[rows, cols]
    row = rows + shift * field.across_row[rows, cols]
    col = cols + shift * field.across_col[rows, cols]
    row, col = (ndimage.gaussian_filter1d(axis, 2.0, mode="nearest") for axis in (row, col))
    points = field.grid.points(row, col)
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    if length < settings.junction_length_low_m:
        return None
    # The change is towards river left: below 0 the slower water lies there.
    slow_left = float((here < 0).mean())
    if max(slow_left, 1.0 - slow_left) < settings.one_side_share:
        return None
    depth = float(np.nanmedian(field.depth[rows, cols]))
    # Vorticity thickness: the difference of speed over its steepest change.
    thick = np.median((fast - slow) / np.abs(here))
    return Seam(
        points=points,
        rows=rows,
        cols=cols,
        strength=strength,
        length_m=length,
        slow_side=Side.LEFT if slow_left > 0.5 else Side.RIGHT,
        fast_m_s=float(np.median(fast)),
        slow_m_s=slower,
        thickness_m=float(thick),
        lasts_m=seam_lasts(depth, settings.bed_friction),
        from_junction=False,
        eddy=slower < 0.0,
        chance=chance,
    )


def _with_junction(
    seam: Seam, field: WaterField, graph: nx.MultiDiGraph, settings: SeamSettings
) -> Seam:
    """Return the seam, marked where it starts at the meeting of two channels or a mouth."""
    first = slice(max(len(seam.points) // 3, 1))
    station = field.station[seam.rows[first], seam.cols[first]]
    away = [np.abs(station - mouth).min() for mouth in field.mouths]
    if any(far <= settings.junction_reach_widths * field.width for far in away):
        return replace(seam, from_junction=True)
    for node, spot in graph.nodes(data=True):
        if spot["kind"] not in ("junction", "crossing"):
            continue
        widths = [c["width_m"] for _, _, c in graph.in_edges(node, data=True)]
        wide = float(np.nansum(widths)) if widths else 0.0
        near = np.hypot(seam.points[:, 0] - spot["x"], seam.points[:, 1] - spot["y"])
        if near[first].min() <= settings.junction_reach_widths * wide:
            return replace(seam, from_junction=True)
    return seam
