"""One grid with its water: the working arrays and the kernels that change them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from reachmap.base.arrays import BoolArray, Float32Array, FloatArray, IntArray
from reachmap.flow.engine import (
    _kernels_correction,
    _kernels_flux,
    _kernels_friction,
    _kernels_implicit,
    _kernels_step,
)
from reachmap.flow.engine.bend import bend_force
from reachmap.flow.engine.cells import Cells
from reachmap.flow.engine.mesh import BoundaryConditions, Mesh, Sections, State
from reachmap.flow.engine.settings import EngineSettings

SECTION_CELLS, SECTION_METRES = 4.0, 8.0
"""A section of the 1-D correction is this many cells or metres long, whichever is more."""
SLOPES_KEPT = 0.5
"""Part of the slopes that a sweep keeps. Our choice by trial: without it steps above 3 cells
diverge."""
BEND_RELAXATION = 0.3
"""Share of the change of the force in bends that is taken a cycle."""
CORRECTED_DEPTH = 0.03
"""The 1-D correction leaves thinner water alone [m]."""
LEAST_WAVE = 0.1
"""Slowest wave that sets an explicit step [m/s]."""


@dataclass(frozen=True, slots=True)
class BoundaryValues:
    """What the boundaries hold at one flow.

    Parameters
    ----------
    inflow
        Discharge that enters at the head [m3/s].
    foot_level
        Level at the foot's station [m].
    slope
        Fall of the water there [m/m]: faces of the staircase upstream of the foot's station stand
        higher by it.
    tributaries
        (cells, discharge [m3/s]) of each tributary on this grid.
    """

    inflow: float
    foot_level: float
    slope: float = 0.0
    tributaries: Sequence[tuple[IntArray, float]] = ()


@dataclass(slots=True)
class GridSolver:
    """A grid with its water. Only `water` lasts; the other arrays are derived from it.

    Slopes and viscosity are single precision: half the memory, and they end in changes of 1e-8 m.

    Parameters
    ----------
    cells
        The grid.
    boundary_values
        What the boundaries hold.
    settings
        Numbers of the scheme.
    order
        2: slopes within cells. 1: flat cells.
    curvature
        Of the river line through each cell [1/m]; None: no secondary flow in bends.

    Attributes
    ----------
    water, half_slopes, eddy_viscosity, boundary, sources
        As in `State`.
    cfl, slope_factor
        Cells a wave may cross in a pseudo-time step, and part of the slope a cell may have, shape
        (cells,).
    river
        Cells joined by water to head and foot, shape (cells,).
    everywhere
        Numbers of all cells.
    """

    cells: Cells
    boundary_values: BoundaryValues
    settings: EngineSettings
    order: int = 2
    curvature: FloatArray | None = None
    water: FloatArray = field(init=False)
    sources: FloatArray = field(init=False)
    cfl: Float32Array = field(init=False)
    slope_factor: Float32Array = field(init=False)
    river: BoolArray = field(init=False)
    everywhere: IntArray = field(init=False)
    boundary: BoundaryConditions = field(init=False)
    half_slopes: Float32Array = field(init=False)
    eddy_viscosity: Float32Array = field(init=False)
    _sections: Sections = field(init=False)
    _sums: FloatArray = field(init=False)
    _inflow: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        """Allocate the arrays; no water yet."""
        n, tributaries = self.cells.count, self.boundary_values.tributaries
        self.water = np.zeros((n, 3))
        self.everywhere = np.arange(n, dtype=np.int32)
        self.half_slopes = np.zeros((n, 8), np.float32)
        self.eddy_viscosity = np.zeros(n, np.float32)
        self.cfl = np.full(n, self.settings.courant, np.float32)
        self.slope_factor, self.river = np.ones(n, np.float32), np.ones(n, np.bool_)
        bends = self.settings.bend_closure and self.curvature is not None
        self.sources = np.zeros((n if bends or tributaries else 0, 3))
        for members, flow in tributaries:
            self.sources[members, 0] += flow / (members.size * self.cells.cell**2)
        self._set_boundary()
        self._set_sections()

    def _set_boundary(self) -> None:
        """Write the boundary conditions as the kernels want them; no inflow yet."""
        faces, values = self.cells.faces, self.boundary_values
        kind = np.where(faces.head, _kernels_flux.INFLOW, _kernels_flux.LEVEL).astype(np.uint8)
        level = values.foot_level + values.slope * np.clip(faces.reach, 0, None)
        direction = np.stack([faces.east, faces.north], axis=1)
        self.boundary = BoundaryConditions(kind, np.where(faces.head, 0.0, level), direction)

    def _set_sections(self) -> None:
        """Cut the cells into sections of equal length."""
        cells = self.cells
        length = cells.foot - cells.head
        count = max(int(length / max(SECTION_CELLS * cells.cell, SECTION_METRES)), 3)
        step = length / count
        place = ((cells.station - cells.head) / step).astype(np.int32)
        section_of = np.clip(place, 0, count - 1)
        self._sections = Sections(section_of, cells.station, cells.head, step)
        self._sums = np.zeros((count, 5))
        self._inflow = np.full(count, self.boundary_values.inflow)
        for members, flow in self.boundary_values.tributaries:
            share = np.bincount(section_of[members], minlength=count) / members.size
            self._inflow += flow * np.cumsum(share)

    @property
    def mesh(self) -> Mesh:
        """Return the grid as the kernels take it."""
        return self.cells.mesh

    @property
    def state(self) -> State:
        """Return the water and what drives it as the kernels take it: the arrays themselves."""
        return State(self.water, self.half_slopes, self.eddy_viscosity, self.boundary, self.sources)

    @property
    def enters(self) -> BoolArray:
        """Return the cells where water comes in: at the head, or from a tributary."""
        mask = np.zeros(self.cells.count, np.bool_)
        mask[self.cells.faces.owner[self.cells.faces.head]] = True
        for members, _ in self.boundary_values.tributaries:
            mask[members] = True
        return mask

    def find_river(self) -> None:
        """Mark the cells joined by water to the head (or a tributary) and to the foot.

        All cells while no water joins the two.
        """
        wet = self.water[:, 0] > self.settings.wet_m
        faces = self.cells.faces
        enters, leaves = self.enters, np.zeros(wet.size, np.bool_)
        leaves[faces.owner[~faces.head]] = True
        component = self.cells.connected(wet)
        both = np.intersect1d(component[enters & wet], component[leaves & wet])
        self.river = np.isin(component, both) & wet if both.size else np.ones(wet.size, np.bool_)

    def distribute_inflow(self) -> None:
        """Share the head's flow out over its faces by the water that stands there now."""
        _kernels_correction.distribute_inflow(
            self.boundary_values.inflow,
            self.mesh,
            self.water,
            self.cells.faces,
            self.river,
            self.boundary.value,
        )

    def update_slopes(self, kept: float = 0.0, which: IntArray | None = None) -> None:
        """Refresh the slopes within cells (or those in `which`); `kept`: part of the old ones."""
        if self.order == 2:
            _kernels_flux.update_half_slopes(
                self.mesh,
                self.state,
                self.settings.thin_m,
                kept,
                self.slope_factor,
                self.everywhere if which is None else which,
            )

    def update_eddy_viscosity(self, which: IntArray | None = None) -> None:
        """Refresh the eddy viscosity, of the cells in `which` alone where given."""
        _kernels_friction.update_eddy_viscosity(
            self.mesh,
            self.state,
            self.settings.eddy_share,
            self.settings.thin_m,
            self.everywhere if which is None else which,
        )

    def refresh(self) -> None:
        """Make slopes and eddy viscosity anew from the water."""
        self.update_slopes()
        self.update_eddy_viscosity()

    def sweep(self, times: int, *, hold_inflow: bool = False) -> None:
        """Sweep down and up `times` times, each cell with its own pseudo-time step.

        With `hold_inflow` each head face keeps its share of the flow.
        """
        for _ in range(times):
            if not hold_inflow:
                self.distribute_inflow()
            self.update_eddy_viscosity()
            for down in (True, False):
                self.update_slopes(SLOPES_KEPT)
                _kernels_implicit.sweep(self.mesh, self.state, self.cfl, down, self.everywhere)

    def sweep_some(self, times: int, which: IntArray) -> None:
        """Sweep the cells in `which` (numbers, rising) down and up `times` times; others hold."""
        for _ in range(times):
            self.update_eddy_viscosity(which)
            for down in (True, False):
                self.update_slopes(SLOPES_KEPT, which)
                _kernels_implicit.sweep(self.mesh, self.state, self.cfl, down, which)

    def correct(self, share: float) -> None:
        """Apply the 1-D correction."""
        self.balance()
        stage, scale = np.zeros(self._inflow.size), np.zeros(self._inflow.size)
        _kernels_correction.stage_change(
            self._sums, self._inflow, self._sections.length, share, stage, scale
        )
        _kernels_correction.apply_correction(
            self.water, self.river, self._sections, stage, scale, CORRECTED_DEPTH
        )

    def update_bend_force(self) -> None:
        """Take part of the way to the force of secondary flow, where the closure is on."""
        if self.settings.bend_closure and self.curvature is not None:
            new = bend_force(self.cells, self.water, self.curvature, CORRECTED_DEPTH)
            self.sources[:, 1:] += BEND_RELAXATION * (new - self.sources[:, 1:])

    def balance(self) -> tuple[float, float]:
        """Return the worst section's error over its inflow, and the outflow at the foot [m3/s]."""
        self.update_slopes()
        out = _kernels_correction.section_sums(
            self.mesh, self.state, self._sections, self.river, self.settings.thin_m, self._sums
        )
        return float(np.abs(np.cumsum(self._sums[:, 0]) / self._inflow).max()), float(out)

    def explicit(self, steps: int, courant: float = 0.45, *, together: bool = False) -> float:
        """Take explicit steps; return the time that passed [s], 0 where each cell has its own.

        Parameters
        ----------
        steps
            How many.
        courant
            Cells a wave crosses in a step, below 0.5.
        together
            Whether all cells take the step of the fastest one, so that time means something; else
            each its own, for steady flow.
        """
        cells, passed = self.cells, 0.0
        total = np.zeros((cells.count, 4))
        start = np.empty_like(self.water)
        time_step = np.zeros(cells.count)
        for _ in range(steps):
            self.distribute_inflow()
            self.update_eddy_viscosity()
            start[:] = self.water
            for stage in range(self.order):
                self.update_slopes()
                _kernels_step.sum_fluxes(self.mesh, self.state, total)
                if not together:
                    time_step = courant * cells.cell / np.maximum(total[:, 3], LEAST_WAVE)
                elif stage == 0:
                    time_step[:] = courant * cells.cell / max(float(total[:, 3].max()), 1e-3)
                _kernels_step.take_step(
                    self.mesh,
                    self.state,
                    start,
                    total,
                    time_step,
                    self.settings.thin_m,
                    1.0 if stage == 0 else 0.5,
                )
            passed += float(time_step[0]) if together else 0.0
        return passed

    @property
    def speed(self) -> FloatArray:
        """Return the size of the velocity [m/s], shape (cells,)."""
        return np.hypot(self.water[:, 1], self.water[:, 2])
