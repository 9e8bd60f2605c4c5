"""The two-dimensional flow engine: shallow-water equations on the cells that can get wet."""

from reachmap.flow.engine.pieces import CUT, is_long, on_cores, solve_by_tasks
from reachmap.flow.engine.settings import EngineSettings, Inflow
from reachmap.flow.engine.solve_engine import START, profiles, solve_engine

__all__ = [
    "CUT",
    "START",
    "EngineSettings",
    "Inflow",
    "is_long",
    "on_cores",
    "profiles",
    "solve_by_tasks",
    "solve_engine",
]
