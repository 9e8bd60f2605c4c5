"""reach.toml: one schema for reading, docs, the file of a new folder and the switch of units.

Code that writes it is in `render`, which reading does not import.
"""

from reachmap.markup.config.plan import PlanRead, flow_text, read_plan

__all__ = ["PlanRead", "flow_text", "read_plan"]
