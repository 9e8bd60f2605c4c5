"""Cache of the graded water of the last flows, so that each flow is graded once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import xarray as xr

from reachmap.angler.wading import Wading

MOST = 3
"""Flows held: a step of the ladder, the one below and the one above."""


@dataclass(slots=True)
class Gradings:
    """Graded water by flow, of one river, one person and one set of rules.

    Parameters
    ----------
    held
        The last graded flows, the latest last, by discharge [m3/s]; `MOST` at most.
    """

    held: dict[float, Wading] = field(default_factory=dict)

    def at(self, flow: xr.Dataset, grade: Callable[[], Wading]) -> Wading:
        """Return the graded water of a Dataset's one flow, graded if it is not held."""
        discharge = float(flow["flow"].to_numpy().item())
        mine = self.held.pop(discharge, None)
        if mine is None:
            mine = grade()
        self.held[discharge] = mine
        while len(self.held) > MOST:
            del self.held[next(iter(self.held))]
        return mine
