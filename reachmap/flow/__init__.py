"""How the river runs at each flow: level, depth and speed on the raster."""

from reachmap.flow.settings import VERSION, FlowSettings
from reachmap.flow.solve import foot_levels, solve

__all__ = ["VERSION", "FlowSettings", "foot_levels", "solve"]
