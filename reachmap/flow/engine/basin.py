"""One grid with its water: the working arrays and what can be done with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from reachmap.base.arrays import BoolArray, Float32Array, FloatArray, IntArray
from reachmap.flow.engine import (
    _kernels_correction,
    _kernels_flux,
    _kernels_implicit,
    _kernels_step,
)
from reachmap.flow.engine.bend import bend_push
from reachmap.flow.engine.cells import Cells
from reachmap.flow.engine.settings import EngineSettings

BIN_CELLS, BIN_METRES = 4.0, 8.0
"""A station bin is this many cells or metres long, whichever is more."""
TILT_KEPT = 0.5
"""Part of the slopes that a sweep keeps. Our choice by trial: without it steps above 3 cells
diverge."""
BEND_EASE = 0.3
"""Share of the change of the push in bends that is taken a cycle."""
CORRECTED_DEPTH = 0.03
"""The 1-D correction leaves thinner water alone [m]."""


@dataclass(frozen=True, slots=True)
class Demand:
    """What the boundaries hold at one flow.

    Parameters
    ----------
    head
        Discharge that enters at the head [m3/s].
    level
        Level at the foot's station [m].
    slope
        Fall of the water there [m/m]: faces of the staircase upstream of the foot's station stand
        higher by it.
    sources
        (cells, discharge [m3/s]) of each tributary on this grid.
    """

    head: float
    level: float
    slope: float = 0.0
    sources: Sequence[tuple[IntArray, float]] = ()


@dataclass(slots=True)
class Basin:
    """A grid with its water. Only `water` lasts; the other arrays are worked out from it.

    Slopes and viscosity are single precision: half the memory, and they end in changes of 1e-8 m.

    Parameters
    ----------
    cells
        The grid.
    demand
        What the boundaries hold.
    settings
        Numbers of the scheme.
    order
        2: slopes within cells. 1: flat cells.
    curvature
        Of the river line through each cell [1/m]; None: bends are not looked at.
    """

    cells: Cells
    demand: Demand
    settings: EngineSettings
    order: int = 2
    curvature: FloatArray | None = None
    water: FloatArray = field(init=False)
    extra: FloatArray = field(init=False)
    pace: Float32Array = field(init=False)
    calm: Float32Array = field(init=False)
    river: BoolArray = field(init=False)
    gates: FloatArray = field(init=False)
    tilt: Float32Array = field(init=False)
    stir: Float32Array = field(init=False)
    _bin_of: IntArray = field(init=False)
    _sums: FloatArray = field(init=False)
    _line: FloatArray = field(init=False)
    _inflow: FloatArray = field(init=False)
    _step: float = field(init=False)

    def __post_init__(self) -> None:
        """Make the arrays; no water yet."""
        cells, n = self.cells, self.cells.count
        self.water = np.zeros((n, 3))
        self.tilt, self.stir = np.zeros((n, 8), np.float32), np.zeros(n, np.float32)
        self.pace = np.full(n, self.settings.courant, np.float32)
        self.calm, self.river = np.ones(n, np.float32), np.ones(n, np.bool_)
        bends = self.settings.bend_closure and self.curvature is not None
        self.extra = np.zeros((n if bends or self.demand.sources else 0, 3))
        for members, flow in self.demand.sources:
            self.extra[members, 0] += flow / (members.size * cells.cell**2)
        self._set_gates()
        self._set_bins()

    def _set_gates(self) -> None:
        """Write the open faces as the kernels want them."""
        gates = self.cells.gates
        self.gates = np.zeros((gates.owner.size, 4))
        self.gates[:, 0] = np.where(gates.head, _kernels_flux.INFLOW, _kernels_flux.LEVEL)
        level = self.demand.level + self.demand.slope * np.clip(gates.reach, 0, None)
        self.gates[:, 1] = np.where(gates.head, 0.0, level)
        self.gates[:, 2], self.gates[:, 3] = gates.along_x, gates.along_y

    def _set_bins(self) -> None:
        """Cut the cells into station bins of equal length."""
        cells = self.cells
        length = cells.foot - cells.head
        number = max(int(length / max(BIN_CELLS * cells.cell, BIN_METRES)), 3)
        self._step = length / number
        place = ((cells.station - cells.head) / self._step).astype(np.int32)
        self._bin_of = np.clip(place, 0, number - 1)
        self._sums, self._line = np.zeros((number, 4)), np.zeros((3, number))
        self._inflow = np.full(number, self.demand.head)
        for members, flow in self.demand.sources:
            share = np.bincount(self._bin_of[members], minlength=number) / members.size
            self._inflow += flow * np.cumsum(share)

    @property
    def enters(self) -> BoolArray:
        """Return the cells where water comes in: at the head, or from a tributary."""
        mask = np.zeros(self.cells.count, np.bool_)
        mask[self.cells.gates.owner[self.cells.gates.head]] = True
        for members, _ in self.demand.sources:
            mask[members] = True
        return mask

    def find_river(self) -> None:
        """Mark the cells whose water hangs together with the head (or a tributary) and the foot.

        Where none does, yet, all count.
        """
        wet = self.water[:, 0] > self.settings.wet_m
        gates = self.cells.gates
        enters, leaves = self.enters, np.zeros(wet.size, np.bool_)
        leaves[gates.owner[~gates.head]] = True
        pieces = self.cells.pieces(wet)
        both = np.intersect1d(pieces[enters & wet], pieces[leaves & wet])
        self.river = np.isin(pieces, both) & wet if both.size else np.ones(wet.size, np.bool_)

    def let_in(self) -> None:
        """Share the head's flow out over its faces by the water that stands there now."""
        gates = self.cells.gates
        _kernels_correction.spread_inflow(
            self.demand.head,
            self.water,
            self.cells.bed,
            self.cells.rough2,
            gates.owner,
            gates.into,
            gates.head,
            self.river,
            self.cells.cell,
            self.gates,
        )

    def tilt_now(self, keep: float = 0.0) -> None:
        """Refresh the slopes within cells; `keep` is the part of the old ones that stays."""
        if self.order == 2:
            _kernels_flux.tilt_cells(
                self.water,
                self.cells.bed,
                self.cells.beside,
                self.settings.thin_m,
                self.calm,
                keep,
                self.tilt,
            )

    def stir_now(self) -> None:
        """Refresh the eddy viscosity."""
        _kernels_flux.stir_cells(
            self.water,
            self.cells.rough2,
            self.settings.eddy_share,
            self.settings.thin_m,
            self.stir,
        )

    def refresh(self) -> None:
        """Make slopes and eddy viscosity anew from the water."""
        self.tilt_now()
        self.stir_now()

    def sweep(self, times: int, *, hold_inflow: bool = False) -> None:
        """Sweep down and up `times` times, each cell at its own pace.

        With `hold_inflow` each head face keeps its share of the flow.
        """
        cells = self.cells
        for _ in range(times):
            if not hold_inflow:
                self.let_in()
            self.stir_now()
            for down in (True, False):
                self.tilt_now(TILT_KEPT)
                _kernels_implicit.sweep(
                    self.water,
                    cells.bed,
                    cells.rough2,
                    self.tilt,
                    self.stir,
                    cells.beside,
                    self.gates,
                    self.extra,
                    cells.cell,
                    self.pace,
                    down,
                )

    def correct(self, share: float) -> None:
        """Apply the 1-D correction."""
        self.balance()
        stage, scale, carried = self._line
        _kernels_correction.march(
            self._sums, self._inflow, self._step, share, stage, scale, carried
        )
        _kernels_correction.apply_correction(
            self.water,
            self.river,
            self.cells.station,
            self.cells.head,
            self._step,
            stage,
            scale,
            CORRECTED_DEPTH,
        )

    def pull_in_bends(self) -> None:
        """Take part of the way to the push of secondary flow, where the closure is on."""
        if self.settings.bend_closure and self.curvature is not None:
            new = bend_push(self.cells, self.water, self.curvature, CORRECTED_DEPTH)
            self.extra[:, 1:] += BEND_EASE * (new - self.extra[:, 1:])

    def balance(self) -> tuple[float, float]:
        """Return the worst section's error over its inflow, and what leaves at the foot [m3/s]."""
        cells = self.cells
        self.tilt_now()
        out = _kernels_correction.section_sums(
            self.water,
            cells.bed,
            cells.rough2,
            self.tilt,
            cells.beside,
            self.gates,
            self.extra,
            self.river,
            self._bin_of,
            cells.cell,
            self._step,
            self.settings.thin_m,
            self._sums,
        )
        return float(np.abs(np.cumsum(self._sums[:, 0]) / self._inflow).max()), float(out)

    def explicit(self, steps: int, courant: float = 0.45, pace: float = 0.0) -> float:
        """Take explicit steps; return the time that passed [s], 0 where each cell has its own.

        Parameters
        ----------
        steps
            How many.
        courant
            Cells a wave crosses in a step, below 0.5.
        pace
            0: each cell at its own step, for steady flow. 1: all at the step of the fastest.
        """
        cells, passed = self.cells, 0.0
        total = np.zeros((cells.count, 4))
        start = np.empty_like(self.water)
        for _ in range(steps):
            self.let_in()
            self.stir_now()
            start[:] = self.water
            step = 0.0
            for stage in range(self.order):
                self.tilt_now()
                _kernels_step.sum_fluxes(
                    self.water,
                    cells.bed,
                    self.tilt,
                    self.stir,
                    cells.beside,
                    self.gates,
                    self.extra,
                    cells.cell,
                    total,
                )
                if stage == 0 and pace > 0:
                    step = courant * cells.cell / max(_kernels_step.fastest_wave(total), 1e-3)
                _kernels_step.take_step(
                    self.water,
                    start,
                    total,
                    cells.rough2,
                    self.extra,
                    cells.cell,
                    self.settings.thin_m,
                    step,
                    courant,
                    1.0 if stage == 0 else 0.5,
                )
            passed += step
        return passed

    @property
    def speed(self) -> FloatArray:
        """Return the size of the speed [m/s], shape (cells,)."""
        return np.hypot(self.water[:, 1], self.water[:, 2])
