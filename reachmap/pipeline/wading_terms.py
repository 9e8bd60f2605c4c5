"""Terms of the wading grades: person, limits and margins, as facts for every output."""

from __future__ import annotations

import math
from typing import Any

import xarray as xr

from reachmap.angler.braided import is_braided
from reachmap.angler.odds import COARSE_M
from reachmap.angler.rules import strictest_rule
from reachmap.angler.steps import step_stretches
from reachmap.angler.view import level_line
from reachmap.angler.wading import body_mass, limit_for
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.centreline import Centreline
from reachmap.base.words import HazardKind, WadeRule, Wet
from reachmap.markup.config.own_numbers import own_in
from reachmap.markup.model import Markup
from reachmap.pipeline.settings import Settings

MOMENT_HIGH = 173.0
"""Largest height times mass of a person in the flume tests behind the rules [m kg]: Abt and others
1989, read in Cox 2011, slides. Beyond it the rules promise more than anybody tested."""

BRAIDED = "it runs in several threads, and no drawing has all of them"
"""Why nothing is graded in a braided river."""

COARSE = "cells this large hide drops; build with cells of 2 m or 1 m"
"""Why nothing is graded on large cells."""

NEEDS_TERRAIN = "a terrain model (DEM) flown at low water"


def wading_terms(
    reach: Markup, terrain: xr.Dataset, flowing: xr.Dataset, settings: Settings
) -> dict[str, Any]:
    """Return the terms of the grading in SI as plain JSON values.

    `margins_off` lists what the angler's own settings switched off, in words; `easy_allowed`
    whether anything may be graded easy with this evidence, `easy_needs` what it would take;
    `not_graded` why nothing is graded at all, or ""; `steps` and `ledges` about how many steps
    of the level line and drawn ledges nothing is, `steps_below_m` how far below; `gauge` is "read"
    or "guessed".
    """
    wading, angler = settings.angler.wading, reach.plan.kit.angler
    limit, mass = limit_for(angler, wading), body_mass(angler, wading)
    modelled = terrain.attrs["vertical"] == "dem"
    return {
        "height_m": angler.height_m,
        "mass_kg": mass,
        "mass_given": not math.isnan(wading.mass_kg),
        "limit_depth_m": limit.depth_m,
        "limit_speed_m_s": limit.speed_m_s if math.isfinite(limit.speed_m_s) else None,
        "limit_product_m2_s": limit.product_m2_s if math.isfinite(limit.product_m2_s) else None,
        "rule": strictest_rule(wading.rules, angler.height_m, mass).value,
        "rules": [rule.value for rule in wading.rules],
        "easy_chance": min(wading.easy_chance, wading.careful_chance),
        "careful_chance": wading.careful_chance,
        "margins_off": margins_off(wading, angler.height_m, mass),
        "evidence": _evidence(reach, terrain, modelled=modelled),
        "easy_allowed": modelled,
        "not_graded": _not_graded(terrain, flowing),
        "easy_needs": "" if modelled else NEEDS_TERRAIN,
        **_steps(reach, terrain, wading),
        "gauge": "guessed" if wading.gauge_error >= 0.1 else "read",
    }


def _steps(reach: Markup, terrain: xr.Dataset, wading: WadingSettings) -> dict[str, Any]:
    """Return about how many steps and drawn ledges nothing is graded, and how far below [m]."""
    width = Centreline.of(terrain).median_width
    known = bool(terrain.attrs.get("bed_seen", 0))
    ledges = sum(hazard.kind is HazardKind.LEDGE for hazard in reach.hazards)
    return {
        "steps": 0 if known else len(step_stretches(level_line(terrain), width, wading)),
        "ledges": 0 if known else ledges,
        "steps_below_m": wading.step_widths_below * width,
    }


def _not_graded(terrain: xr.Dataset, flowing: xr.Dataset) -> str:
    """Return why nothing is graded at all, or nothing."""
    if float(terrain.attrs["cell"]) > COARSE_M:
        return COARSE
    place = terrain["station"].to_numpy(), terrain["offset"].to_numpy()
    cell = float(terrain.attrs["cell"])
    wets = (flowing["wet"].isel(flow=k).to_numpy() == Wet.YES for k in range(flowing.sizes["flow"]))
    return BRAIDED if any(is_braided(wet, *place, cell) for wet in wets) else ""


def margins_off(wading: WadingSettings, height_m: float, mass_kg: float) -> list[str]:
    """Return which margins the settings switch off, one short phrase each."""
    off = []
    for name, one in own_in(wading):
        value = float(getattr(wading, name))
        if value < one.off_below - 1e-9:
            off.append(f"{one.key} {value:g} is below {one.off_below:g}")
        if value > one.off_above + 1e-9:
            off.append(f"{one.key} {value:g} is above {one.off_above:g}")
    if height_m * mass_kg > MOMENT_HIGH:
        off.append(f"mass {mass_kg:.0f} kg is beyond the people the rules were tested with")
    usual = WadingSettings().rules
    missing = [rule.value for rule in usual if rule not in wading.rules]
    if missing:
        off.append(f"rules left out: {', '.join(missing)}")
    if WadeRule.POOR not in wading.rules and WadeRule.NORMAL not in wading.rules:
        off.append("no rule for footing and cold is in force")
    return off


def _evidence(reach: Markup, terrain: xr.Dataset, *, modelled: bool) -> str:
    """Return what the bed was made from, in words."""
    parts = ["a terrain model" if modelled else "drawn edges"]
    if terrain.attrs.get("bed_seen", 0):
        parts = ["a terrain model that knows the bed under water"]
    if reach.soundings:
        parts.append(f"{len(reach.soundings)} soundings")
    if reach.tracks:
        drives = len(reach.tracks)
        parts.append(f"{drives} drive{'' if drives == 1 else 's'} with an echo sounder")
    return " and ".join(parts)
