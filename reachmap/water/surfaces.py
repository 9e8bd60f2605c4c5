"""Quadratic surfaces fitted to the ground about cells: height, slope and curvature at any scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.water._kernels_forms import fit_surfaces


@dataclass(frozen=True, slots=True)
class Surfaces:
    """Quadratic surfaces about some cells, in metres: z = c + p x + q y + r x2 + s y2 + t x y.

    x runs along columns, y along rows, from the middle of each cell. Shapes (n,); NaN where too few
    cells about it are known. `cell` is the side of a cell [m].
    """

    height: FloatArray
    p: FloatArray
    q: FloatArray
    r: FloatArray
    s: FloatArray
    t: FloatArray
    cell: float

    def slope(self, d_row: FloatArray, d_col: FloatArray) -> FloatArray:
        """Return the slope along a unit vector [m/m], positive where the bed rises."""
        return np.asarray(self.p * d_col + self.q * d_row)

    def curvature(self, d_row: FloatArray, d_col: FloatArray) -> FloatArray:
        """Return the second derivative along a unit vector [1/m], positive in a hollow."""
        return np.asarray(2 * (self.r * d_col**2 + self.s * d_row**2 + self.t * d_row * d_col))

    def at(self, y: FloatArray, x: FloatArray) -> FloatArray:
        """Return the heights at steps from the middles [m]."""
        return np.asarray(
            self.height + self.p * x + self.q * y + self.r * x**2 + self.s * y**2 + self.t * x * y
        )

    def of(self, number: IntArray) -> Surfaces:
        """Return the surfaces of some cells, by number."""
        height, p, q, r, s, t = (
            one[number] for one in (self.height, self.p, self.q, self.r, self.s, self.t)
        )
        return Surfaces(height, p, q, r, s, t, self.cell)


def fitted(
    height: FloatArray,
    known: BoolArray,
    cells: tuple[IntArray, IntArray],
    cell: float,
    half_m: float,
    ridge: float,
) -> Surfaces:
    """Return the quadratic surface that fits best about each of some cells.

    Parameters
    ----------
    height
        Of the ground [m], shape (y, x); a number at each of `cells`.
    known
        Cells that count, shape (y, x).
    cells
        Rows and columns, shape (n,).
    cell
        Side of a cell [m].
    half_m
        Half the side of the window [m]; at least the eight neighbours.
    ridge
        Of `BedFormSettings`.

    Notes
    -----
    Least squares over a square window of any size: Evans's surface (his window has 3 x 3 cells) as
    Wood (1996) widened it, here over the known cells of the window. Exact on a quadratic surface,
    but for the ridge where cells are wanting.

    References
    ----------
    Wood (1996), The geomorphological characterisation of digital elevation models, thesis,
    Leicester, chapter 4; Evans (2012), Geomorphometry and landform mapping, Geomorphology 137:94
    (both from memory).
    """
    radius = max(round(half_m / cell), 1)
    rows, cols = cells
    terms = fit_surfaces(height, known, rows, cols, radius, _whole(radius), ridge)
    scale = np.array([1.0, cell, cell, cell**2, cell**2, cell**2])
    height, p, q, r, s, t = np.ascontiguousarray((terms / scale).T)
    return Surfaces(height, p, q, r, s, t, cell)


def _whole(radius: int) -> FloatArray:
    """Return the pseudo-inverse of the quadratic surface's terms over a whole window."""
    y, x = (one.ravel() for one in np.mgrid[-radius : radius + 1, -radius : radius + 1])
    terms = np.column_stack([np.ones(x.size), x, y, x * x, y * y, x * y]).astype(np.float64)
    return np.asarray(np.linalg.pinv(terms))
