"""Level, depth and velocity at each flow, solved or between."""

from reachmap.flow.settings import VERSION, FlowSettings
from reachmap.flow.solve import foot_levels, solve

__all__ = ["VERSION", "FlowSettings", "foot_levels", "solve"]
