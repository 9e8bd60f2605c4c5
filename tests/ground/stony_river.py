"""A made river whose water follows the law of stones, its drawing, and what a map of it is off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from reachmap.base.resistance import Stones
from reachmap.base.words import Wet
from reachmap.ground import Dem, GroundSettings, build_ground
from reachmap.markup.model import Markup
from tests.ground.scenes import drawing, flown, pool_riffle

STONES, ROUGHNESS = Stones(0.09, 0.8), 0.035
"""Cobbles; n where the water is 0.8 m deep, what a map takes where nobody fits it."""
FLOWS = [15.0, 60.0, 140.0]
EDGE_M = 0.6
"""Water no deeper than this counts as an edge [m]."""


def stony_river() -> tuple[xr.Dataset, Markup, Dem]:
    """Return the true ground, what an angler drew, and a DEM flown at the lowest flow.

    Levels, edges and the DEM's water come from the river's own standard step with the law.
    """
    river = pool_riffle(length=900, roughness=STONES.deep(ROUGHNESS))
    river = replace(river, stones=STONES.size_m)
    drawn = drawing(river, 20.0)
    dem = flown(river, drawn, FLOWS[0])
    plain = build_ground(drawn, dem, GroundSettings())
    x, y = np.meshgrid(plain["x"].to_numpy(), plain["y"].to_numpy())
    bed, true = plain["bed"].to_numpy(), river.at(x, y)
    bed = np.where(np.isfinite(bed) & np.isfinite(true), true, bed)
    truth = plain.assign(bed=(("y", "x"), bed))
    return truth.assign_attrs(stone_size=STONES.size_m, stone_depth=STONES.depth_m), drawn, dem


def gaps(got: xr.Dataset, true: xr.Dataset) -> tuple[float, float, float, float]:
    """Return what a map is off where both are wet: rms of speed, its bias at edges [m/s], bias and
    rms of depth [m]."""
    both = (got["wet"].to_numpy() == Wet.YES) & (true["wet"].to_numpy() == Wet.YES)
    maps = (got, true)
    east, north, depths = (
        [one[name].to_numpy()[both] for one in maps]
        for name in ("east_speed", "north_speed", "depth")
    )
    speed = np.hypot(east[0], north[0]) - np.hypot(east[1], north[1])
    depth, edge = depths[0] - depths[1], depths[1] < EDGE_M
    return (
        float(np.sqrt((speed**2).mean())),
        float(speed[edge].mean()),
        float(depth.mean()),
        float(np.sqrt((depth**2).mean())),
    )
