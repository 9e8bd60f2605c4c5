"""The water surface along the river at one flow: a 1-D standard-step profile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.flow import _kernels
from reachmap.flow.sections import SectionTables


@dataclass(frozen=True, slots=True)
class Profile:
    """Water surface along the river, one value a section, in the order of the tables.

    Parameters
    ----------
    flow
        Discharge [m3/s].
    station
        Metres downstream [m].
    level
        Height of the water [m].
    friction_slope
        Fall of energy over distance [m/m].
    froude
        Froude number with the energy coefficient; 1 where critical.
    critical
        Where no subcritical level balances the energy: there the level is the critical one.
    """

    flow: float
    station: FloatArray
    level: FloatArray
    friction_slope: FloatArray
    froude: FloatArray
    critical: BoolArray

    def level_at(self, station: FloatArray) -> FloatArray:
        """Return the level at stations [m], straight between sections and on past the ends."""
        line, level = self.station, self.level
        inner = np.interp(station, line, level)
        # Above the head the first slope goes on, though never rising downstream; below the foot the
        # friction slope does, since no level was solved there.
        up = np.minimum(station - line[0], 0) * min((level[1] - level[0]) / (line[1] - line[0]), 0)
        down = np.maximum(station - line[-1], 0) * -self.friction_slope[-1]
        return np.asarray(inner + up + down)


def water_profile(
    tables: SectionTables,
    flow: float,
    foot_level: float,
    *,
    narrowing_loss: float = 0.0,
    widening_loss: float = 0.0,
) -> Profile:
    """Return the subcritical profile upstream of a known level.

    Parameters
    ----------
    tables
        The sections by level.
    flow
        Discharge [m3/s], > 0.
    foot_level
        Water level at the last section [m]; raised to the critical level where below it.
    narrowing_loss, widening_loss
        Share of the change of velocity head lost, 0 to 1.

    Raises
    ------
    ValueError
        If the flow is not positive.
    BuildError
        If the water would stand above the tables.

    Notes
    -----
    Standard-step method: energy balance between neighbouring sections with the friction slope of
    the mean conveyance, (2 Q / (K1 + K2))^2 (Chow 1959, section 10-4, from memory). Converges to
    the exact integral of gradually varied flow as the sections move together.
    """
    if not flow > 0:
        msg = f"flow is {flow!r} m3/s, wants more than 0"
        raise ValueError(msg)
    losses = np.array([narrowing_loss, widening_loss])
    level, friction, froude, critical = _kernels.standard_step(
        float(flow), float(foot_level), losses, tables
    )
    top = tables.level[:, -1]
    if (level > top - 1e-3).any():
        first = tables.station[np.argmax(level > top - 1e-3)]
        raise BuildError([_too_high(flow, float(first))])
    return Profile(float(flow), tables.station, level, friction, froude, critical)


def _too_high(flow: float, station: float) -> Fault:
    """Return the fault of a flow the ground cannot hold."""
    return Fault(
        "flows",
        f"at {flow:.4g} m3/s the water would stand higher than the ground is known, "
        f"{station:.0f} m down the line",
        "Ask for a lower flow, or check the bed, the slope and the unit of the flow",
    )
