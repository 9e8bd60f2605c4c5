"""Settings of each stage, from reach.toml and the options of the build."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from reachmap.angler import AnglerSettings
from reachmap.angler.settings import LineSettings
from reachmap.angler.short_list import ListSettings
from reachmap.angler.wind import Wind, read_wind
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.units import flow_label
from reachmap.base.words import Season
from reachmap.flow import FlowSettings
from reachmap.flow.nodes import NodeSettings, ladder
from reachmap.flow.tributaries import Tributary
from reachmap.ground import GroundSettings
from reachmap.ground.cell_size import CellChoice, drawn_cell
from reachmap.markup.defaults import LIE_LIMITS, LIMITS
from reachmap.markup.model import LieLimits, Markup, Plan, SeasonLimits
from reachmap.pipeline.foot import rating_at_foot
from reachmap.pipeline.noted_clarity import noted_clarity
from reachmap.pipeline.noted_warmth import warmth_for
from reachmap.pipeline.own import own_angler, own_water
from reachmap.pipeline.stamp import Options
from reachmap.uncertainty.settings import UncertaintySettings
from reachmap.water import WaterSettings
from reachmap.water.lie_warmth import Warmth, lies_at
from reachmap.water.structure_settings import LieSettings


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of every stage and its flows [m3/s], rising.

    Parameters
    ----------
    flows
        Flows to show.
    rungs
        Flows to read, those to show among them.
    solvable
        Rungs that may be solved; all of `flows` are solved where there are no others.
    ground, flow, water, angler
        Of the stages.
    nodes
        How closely the solved flows lie; None: every flow is solved by itself.
    uncertainty
        None where no ensemble is wanted.
    cell_choice
        None where the cells' size was asked for.
    short_list
        How the day's short list is cut.
    warmth
        The water's temperature by which the limits of lies were set; None where it is not known.
    """

    flows: tuple[float, ...]
    rungs: tuple[float, ...]
    solvable: tuple[float, ...]
    ground: GroundSettings
    flow: FlowSettings
    water: WaterSettings
    angler: AnglerSettings
    nodes: NodeSettings | None = None
    uncertainty: UncertaintySettings | None = None
    cell_choice: CellChoice | None = None
    short_list: ListSettings = field(default_factory=ListSettings)
    warmth: Warmth | None = None


def settings_for(reach: Markup, options: Options) -> Settings:
    """Return the settings of a build.

    Raises
    ------
    BuildError
        If the size of the cells is to be chosen and no bank was drawn along the main line.
    MarkupError
        Listing every note of clarity, or every reading of the water's temperature, that makes no
        sense.
    """
    plan = reach.plan
    cell, choice = _cell(reach, options.cell)
    limits = season_limits(plan.season, options.season, plan.other_seasons)
    warmth = warmth_for(reach, options.water_c)
    usual_lies = lie_limits(limits.season, plan.lies)
    celsius = math.nan if warmth is None else warmth.celsius
    lies = LieSettings(limits=lies_at(usual_lies, celsius))
    usual_water = WaterSettings(limits=limits, lies=lies)
    water = own_water(usual_water, plan.own, noted_clarity(reach))
    if options.clarity_m is not None:  # today's clarity, at every flow
        water = replace(water, clarity_m=options.clarity_m, clarity_law=None)
    usual = AnglerSettings(
        season=limits.season,
        wind=_wind(options.wind),
        line=LineSettings(full=not options.quick),
    )
    person = _reckoned(own_angler(usual, plan.own), reach, options)
    flows = options.flows or plan.flows
    solvable, rungs = ladder_of(flows, plan)
    return Settings(
        flows=flows,
        rungs=rungs,
        solvable=solvable,
        nodes=NodeSettings() if plan.ladder else None,
        ground=GroundSettings(cell=cell),
        flow=FlowSettings(
            method="profile" if options.quick else "engine",
            tributaries=tributaries(reach),
            foot_rating=None if reach.gauge is None else rating_at_foot(reach.gauge),
        ),
        water=water,
        angler=replace(
            person,
            pace=replace(person.pace, clear_m=water.clear_m),
            clarity_m=water.clarity_m,
            clarity_law=water.clarity_law,
            clarity_given=options.clarity_m is not None or "clarity.see" in plan.own.numbers,
        ),
        uncertainty=UncertaintySettings() if options.ensemble else None,
        cell_choice=choice,
        warmth=warmth,
    )


def ladder_of(flows: tuple[float, ...], plan: Plan) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the flows that may be solved and those to read [m3/s], both rising.

    The ladder spans the flows of reach.toml, and further where a flow beyond them is asked for:
    what is solved for a flow between does not depend on which one was asked for. A step of the
    ladder gives way to a flow asked for that would have the same name.
    """
    if not plan.ladder:
        return flows, flows
    beyond = [one for one in flows if not plan.flows[0] <= one <= plan.flows[-1]]
    steps = ladder(sorted({*plan.flows, *beyond}), plan.ladder)
    named: dict[str, float] = {}
    for one in (*flows, *plan.flows, *steps):
        named.setdefault(flow_label(one, plan.units), one)
    # an end that gave way is solved at the flow in its place: nothing is read beyond what is solved
    ends = {named[flow_label(one, plan.units)] for one in (steps[0], steps[-1])}
    solvable = sorted(ends.union(one for one in steps if one in named.values()))
    return tuple(solvable), tuple(sorted(named.values()))


def _cell(reach: Markup, asked: float | None) -> tuple[float, CellChoice | None]:
    """Return the side of the cells [m], and how it was chosen where it was not asked for."""
    if asked is not None:
        return asked, None
    choice = drawn_cell(reach)
    return choice.cell_m, choice


def _reckoned(angler: AnglerSettings, reach: Markup, options: Options) -> AnglerSettings:
    """Return the settings with the wider margins of a guessed flow and of a preview."""
    wading, own = angler.wading, reach.plan.own.numbers
    if reach.gauge is None and "wading.gauge_error" not in own:
        wading = replace(wading, gauge_error=wading.guessed_error)
    if options.quick:
        wading = replace(wading, doubt=wading.preview_uncertainty * wading.doubt)
    return replace(angler, wading=wading)


def tributaries(reach: Markup) -> tuple[Tributary, ...]:
    """Return the side lines that bring a share of the flow."""
    joining = [river for river in reach.rivers if river.share > 0]
    lines = [np.asarray(river.line.coords)[:, :2].T for river in joining]
    return tuple(
        Tributary(river.name, river.share, tuple(map(float, x)), tuple(map(float, y)))
        for river, (x, y) in zip(joining, lines, strict=True)
    )


def _wind(text: str) -> Wind:
    """Return the wind that was asked for."""
    try:
        return read_wind(text)
    except ValueError as error:
        fix = "Name where it blows to or comes from, like --wind upstream or --wind 'SW 12 mph'"
        raise MarkupError([Fault("--wind", str(error), fix)]) from None


def season_limits(
    own: SeasonLimits, asked: str | None, others: tuple[SeasonLimits, ...] = ()
) -> SeasonLimits:
    """Return the limits of the season asked for.

    The folder's own where it has any for that season, or none is named; else the usual ones, which
    are common practice.
    """
    if asked is None or own.season == asked:
        return own
    return next((one for one in others if one.season == asked), LIMITS[Season(asked)])


def lie_limits(season: Season, own: tuple[LieLimits, ...]) -> LieLimits:
    """Return the limits of a season's lies: the folder's own, else the usual ones."""
    return next((one for one in own if one.season == season), LIE_LIMITS[season])
