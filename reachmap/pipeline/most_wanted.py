"""The one number that would change a preview most: each unknown tried low and high."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from reachmap.base.errors import BuildError
from reachmap.base.grid import Grid
from reachmap.base.words import Side
from reachmap.ground import GroundSettings
from reachmap.ground.scaling import scaled
from reachmap.markup.model import Bank, Markup
from reachmap.pipeline.drawn_preview import SOFT, DrawnGround, DrawnWater, drawn_ground, water_at

RISES_M = (0.3, 3.0)
"""Rises tried for a bank without one [m]: a low bar, a cut bank. Our choice, 0.2-0.5 and 2-5."""

MOST_BANKS = 3
"""Banks tried, the largest first (our choice: each costs two previews)."""

LEAST_CHANGE_M2 = 1.0
"""Changes smaller than this are none worth asking for [m2] (our choice)."""


class Asked(StrEnum):
    """Numbers that may be asked for."""

    RISE = "rise"
    """How high a bank's outer edge stands over the traced water."""
    LEVEL = "level"
    """How far the water falls: two levels, or the fall over the line."""
    SOUNDING = "sounding"
    """A depth with its flow."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A number that nobody gave yet, and how much the preview depends on it.

    Parameters
    ----------
    asked
        Which.
    change_m2
        Area that is drawn otherwise between its low and its high value at the preview's flow [m2].
    bank
        Number of the bank in the drawing's list; -1 for none.
    x, y
        Where a sounding would tell most [m, project CRS]; NaN for others.
    """

    asked: Asked
    change_m2: float
    bank: int = -1
    x: float = float("nan")
    y: float = float("nan")


def most_wanted(drawn: DrawnGround, flow: float) -> Wanted | None:
    """Return the number whose low and high values change the preview most; None for none.

    Parameters
    ----------
    drawn
        A drawing without a DEM and its ground.
    flow
        At which the preview is looked at [m3/s].
    """
    found = [one for one in (_rises(drawn, flow), _fall(drawn, flow), _depth(drawn, flow)) if one]
    best = max(found, key=lambda one: one.change_m2, default=None)
    return best if best is not None and best.change_m2 >= LEAST_CHANGE_M2 else None


def _rises(drawn: DrawnGround, flow: float) -> Wanted | None:
    """Return the bank without a rise that matters most."""
    banks = drawn.reach.banks
    open_ = [k for k, one in enumerate(banks) if np.isnan(one.rise_m) and one.side != Side.ISLAND]
    open_ = sorted(open_, key=lambda k: -banks[k].outline.area)[:MOST_BANKS]
    made = [
        Wanted(Asked.RISE, _change(drawn, flow, (_risen(drawn.reach, k, m) for m in RISES_M)), k)
        for k in open_
    ]
    return max(made, key=lambda one: one.change_m2, default=None)


def _risen(reach: Markup, number: int, rise: float) -> DrawnGround:
    """Return the ground with one bank's rise given [m]."""
    banks: list[Bank] = list(reach.banks)
    banks[number] = replace(banks[number], rise_m=rise)
    return drawn_ground(replace(reach, banks=tuple(banks)))


def _fall(drawn: DrawnGround, flow: float) -> Wanted | None:
    """Return what the fall's doubt changes; None where levels were noted."""
    reach = drawn.reach
    if len(reach.levels) > 1 or np.isnan(reach.plan.slope):
        return None
    doubt = GroundSettings().noted.mean_doubt

    def sloped(factor: float) -> DrawnGround:
        plan = replace(reach.plan, slope=reach.plan.slope * factor)
        return drawn_ground(replace(reach, plan=plan))

    return Wanted(Asked.LEVEL, _change(drawn, flow, map(sloped, (1 - doubt, 1 + doubt))))


def _depth(drawn: DrawnGround, flow: float) -> Wanted | None:
    """Return what the doubt of the bed's depth changes, and where a sounding tells most."""
    settings = GroundSettings(cell=float(drawn.ground.attrs["cell"]))
    doubt = settings.reach_doubt

    def deepened(factor: float) -> DrawnGround:
        return replace(drawn, ground=scaled(drawn.ground, 1.0, factor, settings))

    tried = [deepened(factor) for factor in (1 - doubt, 1 + doubt)]
    change = _change(drawn, flow, tried)
    low, high = (one.ground["bed"].to_numpy() for one in tried)
    state = water_at(drawn, flow).state
    spread = np.where(state == SOFT, np.nan_to_num(low - high), 0.0)
    if not spread.any():
        spread = np.where(state > 0, np.nan_to_num(low - high), 0.0)
    if not spread.any():
        return None
    row, col = np.unravel_index(int(spread.argmax()), spread.shape)
    grid = Grid.of(drawn.ground)
    return Wanted(Asked.SOUNDING, change, x=float(grid.x[col]), y=float(grid.y[row]))


def _change(drawn: DrawnGround, flow: float, tried: Iterable[DrawnGround]) -> float:
    """Return the area that is not the same over grounds on one raster [m2]; 0 where one fails."""
    waters: list[DrawnWater] = []
    try:
        waters += [water_at(one, flow) for one in tried]
    except BuildError:
        return 0.0
    states = [one.state for one in waters]
    if states[0].shape != states[1].shape:
        return 0.0
    return float((states[0] != states[1]).sum()) * float(drawn.ground.attrs["cell"]) ** 2
