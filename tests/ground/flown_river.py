"""One drawn and flown river, and how far a ground made of it is off."""

import numpy as np

from reachmap.ground import GroundSettings, build_ground
from tests.ground.scenes import drawing, flown, pool_riffle

SETTINGS = GroundSettings()
RIVER = pool_riffle(length=900)
DRAWN = drawing(RIVER, 20.0, jitter=2.0)
FLOWN = flown(RIVER, DRAWN, 15.0)
GROUND = build_ground(DRAWN, FLOWN, SETTINGS)


def grid(ground):
    return np.meshgrid(ground["x"].to_numpy(), ground["y"].to_numpy())


def error(ground, river, flow=60.0):
    """Bed minus truth where the truth is wet at a flow and the ground is known."""
    x, y = grid(ground)
    true = river.at(x, y)
    level = river.level_at(river.section_level(flow), x, y)
    wet = (true < level) & np.isfinite(ground["bed"].to_numpy())
    return (ground["bed"].to_numpy() - true)[wet]


def rms(values):
    return float(np.sqrt(np.mean(values**2)))
