"""The angler stage: wading, places to stand, casts and swings of one person at one flow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray

from reachmap.angler.barred import barred_cells, stricter
from reachmap.angler.bars import bars_layer
from reachmap.angler.choose import Aims, find_aims
from reachmap.angler.clearance import FITS, find_fits, find_room, longest_heads, room_length
from reachmap.angler.follow import way_in_cost
from reachmap.angler.gear import Gear
from reachmap.angler.gradings import Gradings
from reachmap.angler.interception.swept import Swept, no_swept
from reachmap.angler.interception.swings import covered_rows, swept_at
from reachmap.angler.more_water import closed_by_rise, raised_view
from reachmap.angler.near import look_of, near_stands
from reachmap.angler.near_water import StandsNearby, near_water
from reachmap.angler.place_gear import RoomBehind
from reachmap.angler.plan_rows import ladder_rows, plan_facts
from reachmap.angler.plans import StripPlan, make_plans
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.station_rows import (
    Chosen,
    Danger,
    can_be_reached,
    shown_places,
    station_rows,
)
from reachmap.angler.stations import (
    Stands,
    access_cells,
    find_footing,
    find_ground,
    find_pieces,
    find_stands,
)
from reachmap.angler.strips import Strips, find_strips
from reachmap.angler.sweeps import back_reach, swept_areas
from reachmap.angler.swing import current_of
from reachmap.angler.tries import Scene
from reachmap.angler.view import View, ground_view, marked_ends, with_flow
from reachmap.angler.wading import Wading, as_graded, grade_water, graded_water, stricter_of
from reachmap.angler.zones import wading_layer
from reachmap.base.arrays import BoolArray, IntArray
from reachmap.base.schema import layer_frame
from reachmap.base.words import CastFit, Season, Strip
from reachmap.markup.model import Markup

VERSION = 10
"""Raised whenever the numbers of this stage change."""


@dataclass(frozen=True, slots=True)
class Assessed:
    """Results of the angler stage at one flow.

    Parameters
    ----------
    layers
        As `base.schema` promises them.
    swept
        The cells that the casts from each place cover, places numbered like the rows of `stations`.
    """

    layers: dict[str, gpd.GeoDataFrame]
    swept: Swept


def assess(
    ground: xr.Dataset,
    flow: xr.Dataset,
    water: gpd.GeoDataFrame,
    markup: Markup,
    settings: AnglerSettings,
    **more: Any,
) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers of `assess_flow`, which takes the same arguments."""
    return assess_flow(ground, flow, water, markup, settings, **more).layers


def assess_flow(  # noqa: PLR0913 - the inputs of the stage
    ground: xr.Dataset,
    flow: xr.Dataset,
    water: gpd.GeoDataFrame,
    markup: Markup,
    settings: AnglerSettings,
    *,
    terrain_day: xr.Dataset | None = None,
    neighbours: Sequence[xr.Dataset] = (),
    gradings: Gradings | None = None,
) -> Assessed:
    """Return the layers of the angler stage at one flow, and the cells that the casts cover.

    Layers: `wading`, `bars`, `stations`, `swings`, `tip_ladder`, `covered`, `hazards_near`.

    Parameters
    ----------
    ground
        The ground stage's Dataset, with or without `marked_ends`.
    flow
        The flow stage's Dataset with one flow.
    water
        The `water` layer at that flow.
    markup
        The drawing: kit, season, hazards, access.
    settings
        Every coefficient.
    terrain_day
        The flow stage's Dataset at the flow of the day the terrain model was surveyed; None where
        not known. Cells wet then cannot have been surveyed dry.
    neighbours
        Datasets of the solved flows on either side of an interpolated one: no water grades better
        than at either of them.
    gradings
        Cache of graded flows over this ground with these settings, read and updated; None where no
        other flow follows.

    Raises
    ------
    ValueError
        If `flow` holds several flows or lies on another raster than `ground`.
    """
    kit = markup.plan.kit
    held = Gradings() if gradings is None else gradings
    view, wading = _graded(ground, flow, neighbours, terrain_day, markup, settings, held)
    layers = {
        "wading": wading_layer(view, wading, markup.hazards, settings.wading),
        "bars": bars_layer(view, wading.grade, settings.wading),
    }
    keep = stricter(settings.hazards, settings.wading)
    barred = barred_cells(view, markup.hazards, keep)
    footing = find_footing(view, wading, markup.access, settings.stations, barred=barred)
    far = kit.angler.cast_limit_m
    pieces = find_pieces(view, water, far)
    stands = find_stands(view, footing, pieces, far, settings.stations)
    reach = footing.reach
    del barred, footing, wading  # large rasters, not used below
    strips = find_strips(view, stands, pieces, settings.plan.band_m)
    aims = find_aims(view, stands, strips, Strip.INSIDE, kit, settings)
    served = np.isfinite(aims.cast_m).any(axis=1) & can_be_reached(stands, markup.access)
    left_out = stands.take(served & (stands.barred >= 0))
    which = np.flatnonzero(served & (stands.barred < 0)).astype(np.int32)
    stands, aims, strips = stands.take(which), aims.take(which), strips.take(which)
    if len(stands):
        behind = _behind(view, stands, aims, markup, settings)
        which = _eligible(stands, behind, markup)
        behind = behind.take(which)
        stands, aims, strips = stands.take(which), aims.take(which), strips.take(which)
    cost = way_in_cost(reach, access_cells(view, reach, markup.access), view.cell)
    look = look_of(view, markup.hazards, reach, cost, keep, settings.wading.below_m)
    rows: list[dict[str, Any]] = []
    swings: list[dict[str, Any]] = []
    ladder: list[dict[str, Any]] = []
    chosen = _choose(view, stands, strips, aims, behind, markup, settings) if len(stands) else None
    near = near_stands(look, stands, _swept(chosen, markup, settings))
    layers["hazards_near"], whole = near_water(
        look, StandsNearby(stands, near, left_out), pieces, water
    )
    if chosen is not None:
        danger = Danger(
            markup.hazards,
            replace(near, whole=near.whole & whole[stands.water]),
            _shut(view, stands, markup, settings),
            look.look_m,
            settings.hazards.more_water_m,
        )
        codes = [str(code) for code in water["code"]]
        rows, swings = station_rows(view, chosen, codes, markup, settings, danger)
        usable = Gear(kit, settings).usable
        ladder = ladder_rows(view, stands, chosen.plans, codes, kit, usable)
    made = {
        **layers,
        "stations": layer_frame("stations", rows, view.grid.crs),
        "swings": layer_frame("swings", swings, view.grid.crs),
        "tip_ladder": layer_frame("tip_ladder", ladder, view.grid.crs),
    }
    swept = _met(view, chosen, settings)
    return Assessed({**made, "covered": _covered(view, rows, swept, settings)}, swept)


def _met(view: View, chosen: Chosen | None, settings: AnglerSettings) -> Swept:
    """Return the cells that the casts for the near strip cover from the places that are shown."""
    if chosen is None:
        return no_swept()
    shown = shown_places(chosen, settings)
    pace = wanted_pace(settings.season, settings)
    return swept_at(view, chosen.near.track[shown], chosen.stands.down[shown], pace, settings)


def _covered(
    view: View, rows: Sequence[dict[str, Any]], swept: Swept, settings: AnglerSettings
) -> gpd.GeoDataFrame:
    """Return the layer of the water that the places with room for a cast cover."""
    able = [k for k, row in enumerate(rows) if row["cast"] is not None]
    mine = swept.of(np.array(able, dtype=np.int32))
    covered = covered_rows(view, mine, settings.interception)
    return layer_frame("covered", covered, view.grid.crs)


def _graded(
    ground: xr.Dataset,
    flow: xr.Dataset,
    neighbours: Sequence[xr.Dataset],
    terrain_day: xr.Dataset | None,
    markup: Markup,
    settings: AnglerSettings,
    gradings: Gradings,
) -> tuple[View, Wading]:
    """Return a flow over the ground, and its graded water; arguments as of `assess`."""
    ground, angler = marked_ends(ground), markup.plan.kit.angler
    bare = ground_view(ground, terrain_day)

    def graded(view: View) -> Wading:
        return grade_water(view, markup.hazards, angler, settings.wading)

    # One flow after the other over the same ground, so that only one is held in memory.
    others = [
        as_graded(gradings.at(one, lambda one=one: graded(with_flow(bare, ground, one))))  # type: ignore[misc]
        for one in neighbours
    ]
    view = with_flow(bare, ground, flow)
    wading = gradings.at(flow, lambda: graded(view))
    wading = stricter_of(view, wading, others, settings.wading) if others else wading
    return view, wading


def _shut(view: View, stands: Stands, markup: Markup, settings: AnglerSettings) -> BoolArray:
    """Return which places, or their ways in or back, a hand's breadth more water closes."""
    higher = raised_view(view, settings.hazards.more_water_m)
    # Of a drift only hazards close by matter here, so that it need not be followed farther.
    wading = settings.wading
    near = replace(wading, below_m=min(wading.below_m, wading.drift_high_m))
    graded = graded_water(higher, markup.hazards, markup.plan.kit.angler, near)
    more = find_ground(higher, graded.grade, markup.access)
    return closed_by_rise(higher, more, stands, settings.stations.land_m)


def _swept(chosen: Chosen | None, markup: Markup, settings: AnglerSettings) -> NDArray[np.object_]:
    """Return the area that each place's casts sweep, those of both passes."""
    if chosen is None:
        return np.zeros(0, dtype=object)
    kit, stands = markup.plan.kit, chosen.stands

    def swept(plan: StripPlan) -> NDArray[np.object_]:
        cast = np.where(plan.tries.angle >= 0, plan.tries.cast_m, np.nan)
        back = back_reach(plan.picks, stands.wade, kit, settings.room)
        sweep = settings.room.sweep_deg
        return swept_areas(stands, plan.target_rad, cast, plan.path, back, sweep_deg=sweep)

    both = shapely.union(swept(chosen.near), swept(chosen.plans.outside))
    return np.asarray(both)


def wanted_pace(season: Season, settings: AnglerSettings) -> tuple[float, float, float]:
    """Return the wanted speed of the fly across the current, its slowest and quickest [m/s]."""
    swing = settings.swing
    if season is Season.SUMMER:
        factor = swing.pace_summer_m_s / swing.pace_winter_m_s
        return swing.pace_summer_m_s, swing.pace_low_m_s * factor, swing.pace_high_m_s * factor
    return swing.pace_winter_m_s, swing.pace_low_m_s, swing.pace_high_m_s


def _behind(
    view: View, stands: Stands, aims: Aims, markup: Markup, settings: AnglerSettings
) -> RoomBehind:
    """Return the room behind every place at every angle."""
    kit = markup.plan.kit
    count, angles = aims.cast_m.shape
    wade = np.repeat(stands.wade, angles)
    points, level = np.repeat(stands.point, angles, axis=0), np.repeat(stands.level, angles)
    room = find_room(view, points, level, wade, aims.target_rad.ravel(), kit, settings.room)
    fit, _ = find_fits(room, wade, kit, settings.room)
    return RoomBehind(
        reach_m=room.reach_m.reshape(count, angles, *room.reach_m.shape[1:]),
        known_m=room.known_m.reshape(count, angles),
        fit=fit.reshape(count, angles, *fit.shape[1:]),
    )


def _eligible(stands: Stands, behind: RoomBehind, markup: Markup) -> IntArray:
    """Return the places worth planning: a bank reached only by boat needs room for some cast."""
    some = (behind.fit > FITS.index(CastFit.NO)).any(axis=(1, 2, 3, 4))
    keep = some | stands.entered | (not markup.access)
    return np.flatnonzero(keep).astype(np.int32)


def _choose(
    view: View,
    stands: Stands,
    strips: Strips,
    aims: Aims,
    behind: RoomBehind,
    markup: Markup,
    settings: AnglerSettings,
) -> Chosen:
    """Return the plans of every place and the facts derived from them."""
    kit = markup.plan.kit
    pace, low, high = wanted_pace(settings.season, settings)
    scene = Scene(
        view=view,
        stands=stands,
        strips=strips,
        gear=Gear(kit, settings),
        settings=settings,
        wanted=pace,
        pace=(low, high),
        current=current_of(view),
    )
    both = {
        Strip.INSIDE: aims,
        Strip.OUTSIDE: find_aims(view, stands, strips, Strip.OUTSIDE, kit, settings),
    }
    castable = np.asarray((behind.fit > FITS.index(CastFit.NO)).any(axis=(1, 2, 3, 4)))
    plans = make_plans(scene, both, behind, castable)
    there = behind.at(plans.inside.tries.angle)
    clear = room_length(there)
    return Chosen(
        stands=stands,
        plans=plans,
        facts=plan_facts(scene, plans, both, markup.plan.season),
        room_m=clear,
        head_m=np.where(
            np.isnan(clear), np.nan, longest_heads(there, stands.wade, kit, settings.room)
        ),
    )
