"""From the angler's own numbers in reach.toml to the settings of the stages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from reachmap.angler import AnglerSettings
from reachmap.angler.casts import CastShape
from reachmap.angler.fly import FLIES, FlyRow
from reachmap.angler.rules import WadeLimit
from reachmap.base.units import FOOT_M
from reachmap.markup.own import Own
from reachmap.water import WaterSettings
from reachmap.water.clarity import clarity_law

WATER: Mapping[str, tuple[str, str]] = {
    "clarity.see": ("", "clarity_m"),
    "clarity.good": ("", "clear_m"),
    "clarity.coloured_depth": ("", "coloured_depth_m"),
    "runs.longest": ("score", "length_high_m"),
    "runs.shortest": ("score", "run_length_m"),
    "runs.prime_length": ("score", "prime_length_m"),
    "runs.prime_score": ("score", "prime_score"),
    "runs.in_shape": ("score", "shape_score"),
    "runs.reach": ("score", "cast_high_m"),
    "lane.effort": ("lanes", "effort_per_m_s"),
    "lane.least_depth": ("lanes", "depth_low_m"),
    "lane.most_speed": ("lanes", "speed_high_m_s"),
    "lane.cover_depth": ("lanes", "cover_depth_m"),
    "lane.exposure": ("lanes", "exposure"),
    "lane.lead_share": ("lanes", "lead_share"),
    "lane.band": ("lanes", "band_extra_m"),
}
"""Own numbers of the water stage: group and name of the setting."""

ANGLER: Mapping[str, tuple[str, str]] = {
    "clarity.see": ("", "clarity_m"),
    "clarity.good": ("pace", "clear_m"),
    "wading.mass": ("wading", "mass_kg"),
    "wading.depth_share": ("wading", "depth_share_high"),
    "wading.easy_chance": ("wading", "easy_chance"),
    "wading.careful_chance": ("wading", "careful_chance"),
    "wading.easy_share": ("wading", "easy_share"),
    "wading.gauge_error": ("wading", "gauge_error"),
    "wading.doubt": ("wading", "doubt"),
    "wading.speed_doubt": ("wading", "speed_doubt"),
    "wading.place_error": ("wading", "place_error_m"),
    "wading.brush_depth": ("wading", "brush_depth_high_m"),
    "wading.hazard_reach": ("wading", "hazard_reach_m"),
    "wading.drift": ("wading", "drift_high_m"),
    "wading.below": ("wading", "below_m"),
    "casting.hand": ("room", "hand_m"),
    "casting.butt": ("room", "butt_m"),
    "casting.back": ("room", "back_m"),
    "casting.anchor": ("room", "anchor_m"),
    "casting.overhang_short": ("room", "overhang_short_m"),
    "casting.overhang_long": ("room", "overhang_long_m"),
    "casting.long_head": ("room", "long_head_m"),
    "casting.margin": ("room", "margin_m"),
    "casting.clearance": ("room", "clearance_m"),
    "casting.grass": ("room", "cover_low_m"),
    "casting.doubt": ("room", "doubt"),
    "casting.sweep": ("room", "sweep_deg"),
    "casting.sag": ("room", "sag_s"),
    "casting.skagit_rods": ("room", "skagit_rods"),
    "casting.scandi_rods": ("room", "scandi_rods"),
    "casting.belly_rods": ("room", "belly_rods"),
    "swing.winter_pace": ("swing", "pace_winter_m_s"),
    "swing.summer_pace": ("swing", "pace_summer_m_s"),
    "swing.slowest": ("swing", "pace_low_m_s"),
    "swing.quickest": ("swing", "pace_high_m_s"),
    "swing.stall": ("swing", "stall_m_s"),
    "swing.depth_low": ("swing", "depth_share_low"),
    "swing.depth_high": ("swing", "depth_share_high"),
    "swing.mend": ("line", "mend_m"),
    "swing.fly_mass": ("line", "fly_mass_kg"),
    "swing.fly_weight": ("line", "fly_heavy_kg"),
    "pace.winter_step": ("pace", "step_winter_m"),
    "pace.summer_step": ("pace", "step_summer_m"),
    "pace.hang": ("pace", "hang_s"),
    "pace.cast": ("pace", "cast_s"),
    "pace.strip": ("pace", "strip_s_per_m"),
    "pace.between": ("pace", "between_min"),
}
"""The same for the angler's stage; two wading limits are not settings by themselves."""

PER_FOOT = frozenset({"pace.strip"})
"""Numbers given for each foot, whatever the folder's units."""


def own_water(settings: WaterSettings, own: Own) -> WaterSettings:
    """Return the water's settings with the angler's own numbers in them."""
    changed: WaterSettings = _with_numbers(settings, own, WATER)
    if own.sightings:
        low, high = ((one.flow, one.clarity_m) for one in own.sightings)
        changed = replace(changed, clarity_law=clarity_law(low, high))
    return changed


def own_angler(settings: AnglerSettings, own: Own) -> AnglerSettings:
    """Return the angler's settings with their own numbers, rules, casts and flies in them."""
    changed: AnglerSettings = _with_numbers(settings, own, ANGLER)
    limit = WadeLimit(
        product_m2_s=own.numbers.get("wading.product", WadeLimit().product_m2_s),
        speed_m_s=own.numbers.get("wading.speed", WadeLimit().speed_m_s),
    )
    casts = dict(changed.room.casts)
    for one in own.casts:
        told = {
            "anchored": one.anchored,
            "tilt_deg": one.tilt_deg,
            "apex_share": one.apex_share,
        }
        given = {name: value for name, value in told.items() if value == value}
        casts[one.cast] = CastShape(**{**asdict(casts[one.cast]), **given})
    rows = tuple(
        FlyRow(fly.clarity_m, fly.short_m, fly.long_m, fly.colour, fly.shape, fly.note)
        for fly in own.flies
    )
    return replace(
        changed,
        wading=replace(changed.wading, own=limit, rules=own.rules or changed.wading.rules),
        room=replace(changed.room, casts=casts),
        flies=rows or FLIES,
    )


def _with_numbers(settings: Any, own: Own, places: Mapping[str, tuple[str, str]]) -> Any:
    """Return a stage's settings with the own numbers that have a place in them."""
    changed = settings
    for name, (group, key) in places.items():
        if name not in own.numbers:
            continue
        value = own.numbers[name] / (FOOT_M if name in PER_FOOT else 1.0)
        if group:
            changed = replace(changed, **{group: replace(getattr(changed, group), **{key: value})})
        else:
            changed = replace(changed, **{key: value})
    return changed
