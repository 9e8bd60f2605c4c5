"""What the checks of agreement look at: the drawing laid out, its water, bed and levels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.units import FLOW, from_si
from reachmap.base.words import UnitSystem
from reachmap.ground.bed import Bed
from reachmap.ground.layout import Layout
from reachmap.ground.levels import Levels
from reachmap.ground.low_water import LowWater
from reachmap.markup.config import flow_text
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.model import Markup
from reachmap.markup.places import length_words


@dataclass(frozen=True, slots=True)
class Scene:
    """The evidence of a reach, put together.

    Parameters
    ----------
    layout, markup
        The drawing.
    seen
        The DEM at the cells [m], NaN where it does not know; None without a DEM.
    low, bed
        The lowest water and the bed before soundings.
    levels
        Of the water by flow.
    dem_flow
        Flow of the day the DEM was flown [m3/s]; NaN where unknown.
    settings
        Thresholds.
    """

    layout: Layout
    markup: Markup
    seen: FloatArray | None
    low: LowWater
    bed: Bed
    levels: Levels
    dem_flow: float
    settings: EvidenceSettings

    @property
    def units(self) -> UnitSystem:
        """Return the folder's units."""
        return self.markup.plan.units

    @property
    def slope(self) -> float:
        """Return the mean slope of the low water [m/m]."""
        level = self.bed.levels[0]
        return float(level[0] - level[-1]) / self.layout.main.line.length

    def length(self, metres: float) -> str:
        """Return a length in the folder's units."""
        return length_words(metres, self.units)

    def flow(self, flow: float) -> str:
        """Return a flow [m3/s] in the folder's units."""
        return flow_text(flow, self.units)

    def about(self, flow: float) -> str:
        """Return an estimated flow [m3/s] in the folder's units, to two digits."""
        unit = FLOW[self.units]
        return f"{float(f'{from_si(flow, unit):.2g}'):,g} {unit}"

    def stretch(self, low: float, high: float) -> str:
        """Return a stretch between two stations [m] in words."""
        return f"{self.length(low)} to {self.length(high)} down the river line"


def longest_run(mask: np.ndarray) -> slice:
    """Return the longest unbroken run of True in a 1-D mask; an empty slice where there is none."""
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    if not starts.size:
        return slice(0, 0)
    best = int(np.argmax(ends - starts))
    return slice(int(starts[best]), int(ends[best]))
