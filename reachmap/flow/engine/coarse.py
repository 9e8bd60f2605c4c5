"""Correction of a grid's water from the next coarser grid, on which eddies and levels settle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.flow.engine import _kernels_coarse
from reachmap.flow.engine.grid_solver import GridSolver
from reachmap.flow.engine.mesh import CoarseProblem, Refinement

DEEP = 0.1
"""Fine water shallower than this is left to the fine grid [m]. Our choice, range 0.05-0.2."""
LEAST_PART = 2
"""Sweeps on a grid before and after the correction from the one above it, at least."""


@dataclass(slots=True)
class CoarseCorrection:
    """A coarse grid that corrects a fine one; it may be corrected itself.

    Parameters
    ----------
    fine, coarse
        The two grids; the coarse one's water, steps and sources are overwritten.
    sweeps
        Symmetric sweeps on the coarse grid a call.
    coarser
        The coarse grid's own correction.
    """

    fine: GridSolver
    coarse: GridSolver
    sweeps: int
    coarser: CoarseCorrection | None = None
    _problem: CoarseProblem = field(init=False)
    _refinement: Refinement = field(init=False)
    _no_sources: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        """Allocate the forcing and its answer."""
        coarse, count = self.coarse, self.coarse.cells.count
        coarse.sources = np.zeros((count, 3))
        self._problem = CoarseProblem(
            coarse.water, np.zeros((count, 3)), coarse.sources, np.zeros(count, np.bool_)
        )
        self._refinement = self.fine.cells.refinement_of(coarse.cells)
        self._no_sources = np.zeros((0, 3))

    def apply(self) -> None:
        """Bring the fine water closer to steady flow.

        The coarse head's faces are held meanwhile: were they to follow the coarse water, its
        forcing would no longer belong to it, and the head would oscillate.
        """
        fine, coarse, problem = self.fine, self.coarse, self._problem
        fine.refresh()
        trusted = fine.river & (fine.water[:, 0] > DEEP)
        _kernels_coarse.restrict(fine.mesh, fine.state, self._refinement.parent, trusted, problem)
        coarse.river = problem.active
        coarse.distribute_inflow()
        coarse.refresh()
        unforced = coarse.state._replace(sources=self._no_sources)
        most = coarse.settings.courant
        _kernels_coarse.set_forcing(coarse.mesh, unforced, problem, most, coarse.cfl)
        if self.coarser is None:
            coarse.sweep(self.sweeps, hold_inflow=True)
        else:
            part = max(self.sweeps // 4, LEAST_PART)
            coarse.sweep(part, hold_inflow=True)
            self.coarser.apply()
            coarse.sweep(part, hold_inflow=True)
        _kernels_coarse.add_coarse_change(
            self._refinement, problem, trusted, fine.cfl, fine.settings.courant, fine.water
        )


def correction_of(grids: Sequence[GridSolver], sweeps: int) -> CoarseCorrection | None:
    """Return the correction of the last of the grids by the others, coarsest first."""
    correction = None
    for coarse, fine in pairwise(grids):
        correction = CoarseCorrection(fine, coarse, sweeps, correction)
    return correction
