"""The next coarser grid as a helper of the steady solve: eddies and levels settle on it cheaply."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.flow.engine import _kernels_coarse
from reachmap.flow.engine.basin import Basin

DEEP = 0.1
"""Fine water shallower than this is left to the fine grid [m]. Our choice, range 0.05-0.2."""
LEAST_PART = 2
"""Sweeps on a grid before and after it asks the one above it, at least."""


@dataclass(slots=True)
class CoarseHelp:
    """A coarse basin at the service of a fine one; it may have a helper itself.

    Parameters
    ----------
    fine, coarse
        The two basins; the coarse one's water, pace and extra terms are overwritten.
    sweeps
        Symmetric sweeps on the coarse grid a call.
    beyond
        The coarse basin's own helper.
    """

    fine: Basin
    coarse: Basin
    sweeps: int
    beyond: CoarseHelp | None = None
    _before: FloatArray = field(init=False)
    _active: BoolArray = field(init=False)
    _nothing: FloatArray = field(init=False)
    _parent: IntArray = field(init=False)

    def __post_init__(self) -> None:
        """Make room for the question and the answer."""
        count = self.coarse.cells.count
        self.coarse.extra = np.zeros((count, 3))
        self._before, self._active = np.zeros((count, 3)), np.zeros(count, np.bool_)
        self._nothing = np.zeros((0, 3))
        self._parent = self.fine.cells.held_by(self.coarse.cells)

    def apply(self) -> None:
        """Bring the fine water closer to steady flow.

        The coarse head's faces are held while the coarse grid answers: were they to follow its
        water, it would answer another question than it was asked, and the head would swing.
        """
        fine, coarse = self.fine, self.coarse
        grid, wide = fine.cells, coarse.cells
        fine.refresh()
        _kernels_coarse.gather(
            fine.water,
            grid.bed,
            grid.rough2,
            fine.tilt,
            fine.stir,
            grid.beside,
            fine.gates,
            fine.extra,
            grid.cell,
            self._parent,
            fine.river,
            DEEP,
            coarse.water,
            coarse.extra,
            self._active,
        )
        self._before[:] = coarse.water
        coarse.river = self._active
        coarse.let_in()
        coarse.refresh()
        _kernels_coarse.set_question(
            coarse.water,
            wide.bed,
            wide.rough2,
            coarse.tilt,
            coarse.stir,
            wide.beside,
            coarse.gates,
            self._nothing,
            wide.cell,
            self._active,
            coarse.settings.courant,
            coarse.extra,
            coarse.pace,
        )
        if self.beyond is None:
            coarse.sweep(self.sweeps, hold_inflow=True)
        else:
            part = max(self.sweeps // 4, LEAST_PART)
            coarse.sweep(part, hold_inflow=True)
            self.beyond.apply()
            coarse.sweep(part, hold_inflow=True)
        _kernels_coarse.give_back(
            coarse.water,
            self._before,
            self._active,
            wide.beside,
            self._parent,
            grid.row,
            grid.col,
            fine.river,
            DEEP,
            fine.pace,
            fine.settings.courant,
            fine.water,
        )


def helper_of(basins: Sequence[Basin], sweeps: int) -> CoarseHelp | None:
    """Return the helper of the last of the basins, the others being coarser, coarsest first."""
    helper = None
    for coarse, fine in pairwise(basins):
        helper = CoarseHelp(fine, coarse, sweeps, helper)
    return helper
