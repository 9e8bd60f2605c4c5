"""reach.toml: one schema, from which reading, docs, a new folder's file and units come.

What writes it is in `render`, which a reader does without.
"""

from reachmap.markup.config.plan import PlanRead, flow_text, read_plan

__all__ = ["PlanRead", "flow_text", "read_plan"]
