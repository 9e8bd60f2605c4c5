"""reach.toml: one schema, from which reading, docs, a new folder's file and units come."""

from reachmap.markup.config.plan import PlanRead, flow_text, read_plan
from reachmap.markup.config.render import template, write_units

__all__ = ["PlanRead", "flow_text", "read_plan", "template", "write_units"]
