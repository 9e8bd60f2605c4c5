"""What each stage is told, from reach.toml and what was asked of the build."""

from __future__ import annotations

from dataclasses import dataclass

from reachmap.angler import AnglerSettings
from reachmap.flow import FlowSettings
from reachmap.ground import GroundSettings
from reachmap.markup.model import Markup
from reachmap.pipeline.stamp import Options
from reachmap.water import WaterSettings


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of every stage and the flows to work out [m3/s], rising."""

    flows: tuple[float, ...]
    ground: GroundSettings
    flow: FlowSettings
    water: WaterSettings
    angler: AnglerSettings


def settings_for(reach: Markup, options: Options) -> Settings:
    """Return the settings of a build."""
    plan = reach.plan
    return Settings(
        flows=options.flows or plan.flows,
        ground=GroundSettings(cell=options.cell),
        flow=FlowSettings(method="profile" if options.quick else "engine", units=plan.units),
        water=WaterSettings(limits=plan.season),
        angler=AnglerSettings(),
    )
