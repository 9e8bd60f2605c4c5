"""Bed, cover, roughness and surface model, wet or dry."""

from reachmap.ground.build_ground import VERSION, build_ground, low_line
from reachmap.ground.corridor import grid_of
from reachmap.ground.dem import Dem, read_dem
from reachmap.ground.settings import GroundSettings

__all__ = ["VERSION", "Dem", "GroundSettings", "build_ground", "grid_of", "low_line", "read_dem"]
