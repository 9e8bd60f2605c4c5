"""Register of the consistency checks between pieces of evidence that need the ground."""

from __future__ import annotations

from reachmap.ground.consistency_depths import depth_findings
from reachmap.ground.consistency_levels import level_findings
from reachmap.ground.consistency_scene import Scene
from reachmap.ground.consistency_sides import side_findings
from reachmap.ground.consistency_widths import width_findings
from reachmap.markup.evidence import Finding, Weight

CHECKS = (depth_findings, level_findings, width_findings, side_findings)
"""Every check; a new one takes a `Scene` and returns findings."""

ORDER = (Weight.STOP, Weight.WARNING, Weight.NOTE)


def findings_of(scene: Scene) -> list[Finding]:
    """Return every finding, those that stop a build first."""
    found = [finding for check in CHECKS for finding in check(scene)]
    return sorted(found, key=lambda one: ORDER.index(one.weight))
