"""What each stage is told, from reach.toml and what was asked of the build."""

from __future__ import annotations

from dataclasses import dataclass

from reachmap.angler import AnglerSettings
from reachmap.angler.settings import LineSettings
from reachmap.angler.wind import Wind, WindWord
from reachmap.base.words import Season
from reachmap.flow import FlowSettings
from reachmap.ground import GroundSettings
from reachmap.markup.model import Markup, SeasonLimits
from reachmap.pipeline.stamp import Options
from reachmap.water import WaterSettings
from reachmap.water.settings import SUMMER, WINTER

CLEAR_M = WaterSettings().clarity_m
"""Clarity where nobody says: that of the water stage's own default [m]."""


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
    limits = season_limits(plan.season, options.season)
    clarity = CLEAR_M if options.clarity_m is None else options.clarity_m
    return Settings(
        flows=options.flows or plan.flows,
        ground=GroundSettings(cell=options.cell),
        flow=FlowSettings(method="profile" if options.quick else "engine", units=plan.units),
        water=WaterSettings(limits=limits, clarity_m=clarity),
        angler=AnglerSettings(
            season=limits.season,
            clarity_m=clarity,
            wind=Wind(word=WindWord(options.wind)),
            line=LineSettings(full=not options.quick),
        ),
    )


def season_limits(own: SeasonLimits, asked: str | None) -> SeasonLimits:
    """Return the limits of the season asked for.

    The folder's own where they are for that season or none is named; else the usual ones of that
    season, which are common practice.
    """
    if asked is None or own.season == asked:
        return own
    return {Season.WINTER: WINTER, Season.SUMMER: SUMMER}[Season(asked)]
