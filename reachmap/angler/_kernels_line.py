"""Forces on a fly line in moving water, node by node and link by link; plain arrays in and out.

Nodes run from the rod tip (0) to the fly. Positions are metres: x east, y north, z up from the
water. Drag is taken as linear about the last speed; the links' tensions follow from one tridiagonal
system: no link gets longer, none pushes. Water, drag and the rest are worked out in loops of their
own over the nodes: a processor overlaps the roots and powers of several nodes then.

Products and sums may be joined and quotients turned into products (`QUICK`): that moves the last
digits and takes a seventh less time. NaN and infinity are kept: unknown water is told by them.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY, WATER_DENSITY

QUICK = {"contract", "arcp", "nsz"}
STIFF = 400.0  # N a unit of stretch: a fly line's core, makes links soft by less than 1 in 1000
RIM = 0.015  # m over which a line at the surface goes from afloat to under
SLOWEST_COLUMN = 0.02  # share of the depth below which the profile's speed is not taken smaller
BED_SPRING, BED_GAP = 5.0, 0.01  # N/m and m: how the bed holds a line up
STRING_DAMP = 1.5  # numerical inertia that keeps the sideways string mode stable; none when steady
VISCOUS_DRAG, DRAG_POWER = 10.0, -2.0 / 3.0  # a cylinder's drag; source in `line.cylinder_drag`
ROUNDS, SWEEPS = 6, 30  # tries of the set of tight links, then sweeps of a slower sure method


@njit(cache=True, error_model="numpy", fastmath=QUICK, forceinline=True)
def water_at(
    east: FloatArray,
    north: FloatArray,
    depth: FloatArray,
    x0: float,
    y0: float,
    cell: float,
    x: float,
    y: float,
) -> tuple[float, float, float]:
    """Return east and north speed and depth at a place, linear between cells; NaN off the map."""
    fx, fy = (x - x0) / cell, (y - y0) / cell
    n_row, n_col = depth.shape
    if not (fx >= 0.0 and fy >= 0.0 and fx <= n_col - 1.0 and fy <= n_row - 1.0):
        return np.nan, np.nan, np.nan
    # The last pair of cells serves the far rim too: a
    # place right on it has four corners all the same.
    c, r = min(int(fx), n_col - 2), min(int(fy), n_row - 2)
    a, b = fx - c, fy - r
    w00, w10, w01, w11 = (1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b
    return (
        w00 * east[r, c] + w10 * east[r, c + 1] + w01 * east[r + 1, c] + w11 * east[r + 1, c + 1],
        w00 * north[r, c]
        + w10 * north[r, c + 1]
        + w01 * north[r + 1, c]
        + w11 * north[r + 1, c + 1],
        w00 * depth[r, c]
        + w10 * depth[r, c + 1]
        + w01 * depth[r + 1, c]
        + w11 * depth[r + 1, c + 1],
    )


@njit(cache=True, error_model="numpy", fastmath=QUICK, forceinline=True)
def column_factor(z: float, depth: float, power: float) -> float:
    """Return the speed at height `z` (<= 0) over the mean: (1 + p) (height over bed / depth)^p."""
    if power <= 0.0:
        return 1.0
    # (1 + p) s^p has mean 1 over s from 0 to 1: the
    # profile keeps the discharge of the mapped speed.
    share = (depth + min(z, 0.0)) / depth if depth > 1e-3 else 0.0
    factor: float = (1.0 + power) * max(share, SLOWEST_COLUMN) ** power
    return factor


@njit(cache=True, error_model="numpy", fastmath=QUICK, forceinline=True)
def normal_drag(reynolds: float) -> float:
    """Return the drag of a cylinder across the flow: 1 + 10 Re^(-2/3), Re not below 1."""
    drag: float = 1.0 + VISCOUS_DRAG * max(reynolds, 1.0) ** DRAG_POWER
    return drag


@njit(cache=True, error_model="numpy", fastmath=QUICK)
def water_along(
    x: FloatArray,
    east: FloatArray,
    north: FloatArray,
    depth: FloatArray,
    x0: float,
    y0: float,
    cell: float,
    power: float,
    water: FloatArray,
) -> bool:
    """Fill in the water at each node but the first; return whether all of it is known.

    `water[i]` is its east and north speed at the node's own height [m/s], and its depth [m].
    """
    for i in range(1, x.shape[0]):
        ue, un, h = water_at(east, north, depth, x0, y0, cell, x[i, 0], x[i, 1])
        if not (np.isfinite(ue) and np.isfinite(un) and np.isfinite(h)):
            return False
        water[i, 0], water[i, 1], water[i, 2] = ue, un, h
    for i in range(1, x.shape[0]):
        factor = column_factor(x[i, 2], water[i, 2], power)
        water[i, 0] *= factor
        water[i, 1] *= factor
    return True


@njit(cache=True, error_model="numpy", fastmath=QUICK)
def across_line(
    x: FloatArray,
    v: FloatArray,
    water: FloatArray,
    wide: FloatArray,
    viscosity: float,
    way: FloatArray,
    past: FloatArray,
    across: FloatArray,
    drag: FloatArray,
) -> None:
    """Fill in the direction of the line at each node but the first, and how water moves past it.

    `way` is the unit vector along the line, `past` the water's velocity past the node [m/s],
    `across` the size of its part across the line, `drag` the drag coefficient there.
    """
    last = x.shape[0] - 1
    for i in range(1, last + 1):
        ahead = i + 1 if i < last else i
        tx, ty, tz = x[ahead, 0] - x[i - 1, 0], x[ahead, 1] - x[i - 1, 1], x[ahead, 2] - x[i - 1, 2]
        size = math.sqrt(tx * tx + ty * ty + tz * tz) + 1e-12
        tx, ty, tz = tx / size, ty / size, tz / size
        wx, wy, wz = water[i, 0] - v[i, 0], water[i, 1] - v[i, 1], -v[i, 2]
        along = wx * tx + wy * ty + wz * tz
        ax, ay, az = wx - along * tx, wy - along * ty, wz - along * tz
        across[i] = math.sqrt(ax * ax + ay * ay + az * az)
        way[i, 0], way[i, 1], way[i, 2] = tx, ty, tz
        past[i, 0], past[i, 1], past[i, 2] = wx, wy, wz
    for i in range(1, last + 1):
        drag[i] = normal_drag(across[i] * wide[i] / viscosity + 1.0)


@njit(cache=True, error_model="numpy", fastmath=QUICK, forceinline=True)
def free_node(
    i: int,
    x: FloatArray,
    v: FloatArray,
    wet_length: float,
    wide: float,
    mass: float,
    heavy: float,
    floats: bool,
    held: float,
    h: float,
    way: FloatArray,
    past: FloatArray,
    across: float,
    drag: float,
    fly_area: float,
    skin: float,
    dt: float,
    give: FloatArray,
    free: FloatArray,
) -> None:
    """Fill in how node i would move without tension, and how it gives way to a force.

    `free[i]` is its speed after the step; `give[i]` the symmetric 3 x 3 of speed a force brings
    (xx, xy, xz, yy, yz, zz). `held` is the tension over length of the links beside it, `h` the
    water's depth; `way`, `past`, `across` and `drag` are from `across_line`.
    """
    last = x.shape[0] - 1
    z = x[i, 2]
    # Share under water: 0 at RIM above the surface, 1 at RIM below. Without this ramp a floating
    # line would jump between two laws of drag from step to step.
    under = min(max(0.5 - 0.5 * z / RIM, 0.0), 1.0)
    # Water relative to the node, split into its part along the line and the rest across it.
    tx, ty, tz = way[i, 0], way[i, 1], way[i, 2]
    wx, wy, wz = past[i, 0], past[i, 1], past[i, 2]
    along = wx * tx + wy * ty + wz * tz
    ax, ay, az = wx - along * tx, wy - along * ty, wz - along * tz
    # Force over relative speed [N s/m]: across, on the diameter; along, skin on the wetted surface,
    # hence pi. docs/swing.md, "The model".
    cn = 0.5 * WATER_DENSITY * drag * wide * wet_length * across * under
    ct = 0.5 * WATER_DENSITY * math.pi * skin * wide * wet_length * abs(along) * under
    fx = cn * ax + ct * along * tx
    fy = cn * ay + ct * along * ty
    fz = cn * az + ct * along * tz
    # Drag goes with the square of speed, so its slope is twice the coefficient: one Newton step
    # about the last speed. 1e-5 keeps the matrix regular for a node in the air.
    jn, jt, every, spring = 2.0 * cn + 1e-5, 2.0 * ct + 1e-5, 0.0, 0.0
    if i == last:
        pull = 0.5 * WATER_DENSITY * fly_area * math.sqrt(wx * wx + wy * wy + wz * wz) * under
        fx, fy, fz = fx + pull * wx, fy + pull * wy, fz + pull * wz
        every = 2.0 * pull
    weight = mass * GRAVITY
    if floats:
        # Buoyancy wholly under water: weight in air less weight under water. Within the rim it
        # grows with depth, as a spring does, with the slope taken from the ramp above.
        lift = weight - heavy
        fz += lift * under - weight
        if 0.0 < under < 1.0:
            spring = lift * 0.5 / RIM
    else:
        fz -= weight * (1.0 - under) + heavy * under
    if under < 1.0:  # in the air: light damping, far above air drag and far below tension
        calm = 5.0 * mass * (1.0 - under)
        fx, fy, fz = fx - calm * v[i, 0], fy - calm * v[i, 1], fz - calm * v[i, 2]
        every += calm
    if z < BED_GAP - h:
        fz += BED_SPRING * (BED_GAP - h - z)
        spring += BED_SPRING
        # Friction on the bed as damping across the line
        # only: a line drags sideways, it slides lengthwise.
        jn += 0.5 * abs(heavy)
    # Added mass of a cylinder moved across itself: that of the water it displaces.
    inert = (mass + WATER_DENSITY * 0.25 * math.pi * wide * wide * wet_length * under) / dt
    # Implicit step A dv = F with A = d I + e t t^T + k z z^T: isotropic part, what differs along
    # the line (unit vector t), and vertical springs. A is symmetric: inverted below by cofactors.
    d, e, k = inert + STRING_DAMP * dt * held + jn + every, jt - jn, spring * dt
    # Springs act at the height after the step; what the
    # old speed alone changes goes to the right side.
    fz -= k * v[i, 2]
    a11, a12, a13 = d + e * tx * tx, e * tx * ty, e * tx * tz
    a22, a23, a33 = d + e * ty * ty, e * ty * tz, d + e * tz * tz + k
    c11, c12, c13 = a22 * a33 - a23 * a23, a13 * a23 - a12 * a33, a12 * a23 - a13 * a22
    whole = 1.0 / (a11 * c11 + a12 * c12 + a13 * c13)
    give[i, 0], give[i, 1], give[i, 2] = c11 * whole, c12 * whole, c13 * whole
    give[i, 3] = (a11 * a33 - a13 * a13) * whole
    give[i, 4] = (a12 * a13 - a11 * a23) * whole
    give[i, 5] = (a11 * a22 - a12 * a12) * whole
    free[i, 0] = v[i, 0] + give[i, 0] * fx + give[i, 1] * fy + give[i, 2] * fz
    free[i, 1] = v[i, 1] + give[i, 1] * fx + give[i, 3] * fy + give[i, 4] * fz
    free[i, 2] = v[i, 2] + give[i, 2] * fx + give[i, 4] * fy + give[i, 5] * fz


@njit(cache=True, error_model="numpy", fastmath=QUICK, forceinline=True)
def moved(give: FloatArray, i: int, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Return the speed that a force (x, y, z) brings to node i."""
    return (
        give[i, 0] * x + give[i, 1] * y + give[i, 2] * z,
        give[i, 1] * x + give[i, 3] * y + give[i, 4] * z,
        give[i, 2] * x + give[i, 4] * y + give[i, 5] * z,
    )


@njit(cache=True, error_model="numpy", fastmath=QUICK)
def tensions(
    main: FloatArray,
    off: FloatArray,
    right: FloatArray,
    tight: FloatArray,
    tension: FloatArray,
    row: FloatArray,
    side: FloatArray,
) -> None:
    """Solve for tensions >= 0.

    main[j] T[j] + off[j] T[j+1] + off[j-1] T[j-1] = right[j] where a link is tight. `tight` is what
    to begin with, 1 for a tight link, and becomes what is found: few links change from one step to
    the next.

    Links whose tension comes out negative are let go, slack ones that would stretch taken back; if
    that does not settle, Gauss-Seidel sweeps with T >= 0 do.
    """
    m = main.shape[0]
    for _ in range(ROUNDS):
        for j in range(m):
            on = tight[j] > 0.0
            # Thomas algorithm over the tight links; a slack link is left in as the row T = 0. What
            # `row` keeps is one over the pivot: each row waits for the one before it, and a product
            # is ready sooner than a quotient.
            below = off[j - 1] if j > 0 and on and tight[j - 1] > 0.0 else 0.0
            row[j], tension[j] = (main[j], right[j]) if on else (1.0, 0.0)
            side[j] = off[j] if j + 1 < m and on and tight[j + 1] > 0.0 else 0.0
            if j > 0:
                w = below * row[j - 1]
                row[j] -= w * side[j - 1]
                tension[j] -= w * tension[j - 1]
            row[j] = 1.0 / row[j]
        tension[m - 1] *= row[m - 1]
        for j in range(m - 2, -1, -1):
            tension[j] = (tension[j] - side[j] * tension[j + 1]) * row[j]
        changed = False
        for j in range(m):
            if tight[j] > 0.0:
                # From here `row` holds the next set of tight links, its first use being over.
                row[j] = 0.0 if tension[j] < 0.0 else 1.0
            else:
                stretch = right[j]
                if j > 0:
                    stretch -= off[j - 1] * max(tension[j - 1], 0.0)
                if j + 1 < m:
                    stretch -= off[j] * max(tension[j + 1], 0.0)
                row[j] = 1.0 if stretch > 0.0 else 0.0
            changed = changed or row[j] != tight[j]
        for j in range(m):
            tight[j] = row[j]
            tension[j] = max(tension[j], 0.0)
        if not changed:
            return
    # The set did not settle. Projected Gauss-Seidel is slower, but the matrix is symmetric and
    # positive, so each sweep comes nearer.
    for _ in range(SWEEPS):
        for j in range(m):
            rest = right[j]
            if j > 0:
                rest -= off[j - 1] * tension[j - 1]
            if j + 1 < m:
                rest -= off[j] * tension[j + 1]
            tension[j] = max(rest / main[j], 0.0)
