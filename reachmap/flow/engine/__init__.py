"""The two-dimensional flow engine: shallow-water equations on the cells that can get wet."""

from reachmap.flow.engine.door import ENGINE_VERSION, solve_engine
from reachmap.flow.engine.settings import EngineSettings, Inflow

__all__ = ["ENGINE_VERSION", "EngineSettings", "Inflow", "solve_engine"]
