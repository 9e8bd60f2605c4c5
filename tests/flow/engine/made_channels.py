"""Straight channels and solvers for the engine's checks: frames, cells, and solvers on them."""

from __future__ import annotations

import numpy as np

from reachmap.flow.engine.cells import Cells, Frame, cells_of
from reachmap.flow.engine.grid_solver import BoundaryValues, GridSolver
from reachmap.flow.engine.settings import EngineSettings

EAST = (1.0, 0.0)


def padded(array, fill):
    return np.pad(np.asarray(array, dtype=float), 1, constant_values=fill)


def channel_frame(bed, roughness, cell, *, closed: bool = False, stone_term=None) -> Frame:
    """Return a channel whose columns run down the river from west to east.

    `bed` (y, x) [m], rows north. Closed: all sides are walls (the ends lie far off).
    `stone_term` [m^(5/3)], with `roughness` then that of deep water.
    """
    bed = np.asarray(bed, dtype=float)
    rows, cols = bed.shape
    station = np.broadcast_to((np.arange(cols) + 0.5) * cell, bed.shape)
    offset = np.broadcast_to(((np.arange(rows) - rows / 2 + 0.5) * cell)[:, None], bed.shape)
    full = (
        np.pad(station, 1, mode="reflect", reflect_type="odd") if cols > 1 else padded(station, 0)
    )
    inside = np.zeros((rows + 2, cols + 2), bool)
    inside[1:-1, 1:-1] = np.isfinite(bed)
    far = 1e9 if closed else 0.0
    return Frame(
        bed=padded(bed, np.nan),
        rough=padded(np.broadcast_to(roughness, bed.shape), np.nan),
        station=full,
        offset=padded(offset, np.nan),
        inside=inside,
        head=-far,
        foot=cols * cell + far,
        cell=cell,
        stone_term=None
        if stone_term is None
        else padded(np.broadcast_to(stone_term, bed.shape), 0.0),
    )


def channel_cells(bed, roughness, cell, *, closed: bool = False, stone_term=None) -> Cells:
    frame = channel_frame(bed, roughness, cell, closed=closed, stone_term=stone_term)
    return cells_of(frame, EAST, EAST)


def channel(
    bed, roughness, cell, flow=0.0, level=-1e3, *,
    closed=False, order=2, slope=0.0, stone_term=None, **numbers,
):  # fmt: skip
    """Return a solver in a straight channel with `flow` [m3/s] in at the west and `level` [m] at
    the east."""
    settings = EngineSettings(**{"eddy_share": 0.0, "thin_m": 1e-4, **numbers})
    cells = channel_cells(bed, roughness, cell, closed=closed, stone_term=stone_term)
    return GridSolver(cells, BoundaryValues(flow, level, slope), settings, order)


def strip(values, width=3):
    """Return values along the river as a channel of `width` equal rows."""
    return np.broadcast_to(np.asarray(values, dtype=float), (width, len(values)))


def settle(solver, cycles, *, correction=0.0, still=1e-10):
    """Sweep until nothing moves by more than `still`; return the last cycle's largest change."""
    change = np.inf
    for _ in range(cycles):
        before = solver.water.copy()
        solver.sweep(4)
        if correction:
            solver.correct(correction)
            solver.sweep(1)
        change = float(np.abs(solver.water - before).max())
        if change < still:
            break
    return change


def order_of(errors) -> float:
    """Return the mean order of convergence of errors on grids each twice as fine."""
    return float(np.log2(errors[0] / errors[-1]) / (len(errors) - 1))
