"""reach.toml: one schema, from which reading, docs, a new folder's file and units come."""

from reachmap.markup.config.plan import PlanRead, flow_text, read_plan
from reachmap.markup.config.shown import say_units, template

__all__ = ["PlanRead", "flow_text", "read_plan", "say_units", "template"]
