"""Secondary flow in bends, which a depth-averaged model does not resolve."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.ndimage import binary_erosion, gaussian_filter1d

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.physics import GRAVITY, KARMAN
from reachmap.base.resistance import shallow_excess
from reachmap.flow.engine.cells import Cells
from reachmap.flow.engine.mesh import Mesh

WARN_ABOVE = 0.1
"""Bend number above which the speeds across a bend are less sure than drawn. Our choice: at 0.1 the
closure moves the inner bank's speed by some hundredths of the mean (found by trial)."""
TIGHTEST = 0.6
"""Largest offset times curvature: past it a cell lies beyond the centre of the bend's circle."""


def line_curvature(ground: xr.Dataset, smooth_m: float) -> tuple[FloatArray, FloatArray]:
    """Return station [m] and curvature [1/m] of the river line, positive where it turns left.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    smooth_m
        Standard length of the Gaussian the line's direction is smoothed with [m].
    """
    line = Centreline.of(ground)
    smooth = gaussian_filter1d(line.directions, smooth_m / line.step, mode="nearest")
    return line.station, np.gradient(smooth, line.station)


def cell_curvature(cells: Cells, station: FloatArray, curvature: FloatArray) -> FloatArray:
    """Return the curvature of the line through each cell, parallel to the river line [1/m]."""
    line = np.interp(cells.station, station, curvature)
    return np.asarray(line / (1 - np.clip(cells.offset * line, -TIGHTEST, TIGHTEST)))


def roughness2_at(mesh: Mesh, depth: FloatArray) -> FloatArray:
    """Return the square of Manning's n at a depth [m], eq. (3a), shape (cells,)."""
    return np.asarray(mesh.roughness2 * (1 + shallow_excess(mesh.stone_term, depth)))


def helix_factor(depth: FloatArray, rough2: FloatArray) -> FloatArray:
    """Return k of the momentum that secondary flow carries outwards, eq. (27).

    k = 5 a - 15.6 a^2 + 37.5 a^3 with a = sqrt(g) / (karman C) and Chezy's C = h^(1/6) / n.
    Kalkwijk and de Vriend (1980), Computation of the flow in shallow river bends, J. Hydraul. Res.
    18(4); from memory. Held at a <= 0.5.
    """
    chezy = np.maximum(depth, 0.01) ** (1 / 6) / np.sqrt(rough2)
    a = np.minimum(np.sqrt(GRAVITY) / (KARMAN * chezy), 0.5)
    return np.asarray(5 * a - 15.6 * a**2 + 37.5 * a**3)


def bend_number(
    depth: FloatArray, rough2: FloatArray, curvature: FloatArray, width: FloatArray
) -> FloatArray:
    """Return the bend number (k h / (Cf R)) (2 h / W), eq. (28), shape as given.

    The force across the flow over bed friction along it: k h^2 U^2 / R across half a width against
    Cf U^2. `curvature` 1/R and `width` W of the river; Cf = g n^2 / h^(1/3).
    """
    friction = GRAVITY * rough2 / np.cbrt(np.maximum(depth, 0.01))
    return np.asarray(
        helix_factor(depth, rough2) * depth**2 * np.abs(curvature) * 2 / (friction * width)
    )


def bend_force(cells: Cells, water: FloatArray, curvature: FloatArray, deep: float) -> FloatArray:
    """Return the force over density of secondary flow, eq. (29), shape (cells, 2) [m2/s2].

    Parameters
    ----------
    cells, water
        The grid and its water.
    curvature
        Of the line through each cell [1/m].
    deep
        The force acts only in water deeper than this, with such water all round [m].

    Notes
    -----
    In coordinates along (s) and across (n) the flow the depth-integrated product of the departures
    from the mean is D_sn = -k h^2 U^2 / R (Kalkwijk and de Vriend 1980, from memory); turned into
    east and north, and its divergence taken, it moves the fast thread outwards along a bend.
    """
    depth = cells.spread(water[:, 0], 0.0)
    east, north = cells.spread(water[:, 1], 0.0), cells.spread(water[:, 2], 0.0)
    inner: BoolArray = binary_erosion(depth > deep)
    rough2 = roughness2_at(cells.mesh, water[:, 0])
    factor = cells.spread(helix_factor(water[:, 0], rough2) * curvature, 0.0)
    square = east**2 + north**2
    stress = -factor * depth**2 * square * inner
    size = np.maximum(square, 1e-6)
    along = -2 * stress * east * north / size
    across = stress * (east**2 - north**2) / size
    force_east = -(_by(along, 1, cells.cell) + _by(across, 0, cells.cell))
    force_north = -(_by(across, 1, cells.cell) - _by(along, 0, cells.cell))
    wet = depth > deep
    return np.stack(
        [(force * wet)[cells.row, cells.col] for force in (force_east, force_north)], axis=1
    )


def _by(raster: FloatArray, axis: int, cell: float) -> FloatArray:
    """Return the derivative of a raster along an axis."""
    return np.asarray(np.gradient(raster, cell, axis=axis))
