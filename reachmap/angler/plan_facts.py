"""Facts derived from a swing plan: tip wanted, help, hang-down, slack, step and pulls of line."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels_swing import AGROUND, STALLS
from reachmap.angler.choose import Aims
from reachmap.angler.line import head_wide
from reachmap.angler.pace import step_length
from reachmap.angler.plans import Plans, StripPlan
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import Stands
from reachmap.angler.strips import Strips
from reachmap.angler.tries import Scene, mends_of
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.physics import GRAVITY, WATER_DENSITY
from reachmap.base.words import HangDown, MendTo, Strip, WouldHelp
from reachmap.markup.model import SeasonLimits
from reachmap.water.clarity import clarity_by

HEAVIER, LIGHTER = 1, -1


@dataclass(frozen=True, slots=True)
class Mends:
    """Mends of one swing: how many, the bow of each [m], to which side, when the first is made.

    `to` is None and the others are 0 and NaN where there is none; `last_s` the moment of the last.
    """

    count: int
    bow_m: float
    to: MendTo | None
    first_s: float
    last_s: float


def mend_facts(pattern: int, settings: AnglerSettings) -> Mends:
    """Return the mends of a pattern: count, bow, side and times."""
    made = mends_of(pattern, settings)
    if not made:
        return Mends(0, math.nan, None, math.nan, math.nan)
    bow = float(np.mean([one for _, one in made]))
    to = MendTo.UP if bow > 0 else MendTo.DOWN
    return Mends(len(made), abs(bow), to, made[0][0], made[-1][0])


def tip_wants(plan: StripPlan, usable: IntArray, settings: AnglerSettings) -> IntArray:
    """Return +1 where a heavier tip than any usable one is called for, -1 a lighter one, else 0.

    Heavier: the fly swims above the wanted depth with the heaviest; lighter: it drags, or swims
    below it, with the lightest.
    """
    did, swing = plan.judged, settings.swing
    with np.errstate(invalid="ignore"):
        high = (did.share < swing.depth_share_low) & (plan.tries.tip == usable[-1])
        deep = ((did.drag > 0) | (did.share > swing.depth_share_high)) & (
            plan.tries.tip == usable[0]
        )
    made = plan.tries.angle >= 0
    return np.where(made & high, HEAVIER, np.where(made & deep, LIGHTER, 0)).astype(np.int32)


def would_help(
    plan: StripPlan,
    wants: IntArray,
    aims: Aims,
    stands: Stands,
    settings: AnglerSettings,
    cast_limit_m: float,
) -> list[WouldHelp | None]:
    """Return what would help at each place whose plan does not serve, None where it does.

    A plan serves whose swim is worth `serves_low` of the strip. Else, in this order: a lighter
    or heavier tip where that is what it wants; a longer cast where the longest does not land beyond
    the strip; the other bank where there is a place to stand; a boat.
    """
    banks = {(int(w), int(s)) for w, s in zip(stands.water, stands.side, strict=True)}
    found: list[WouldHelp | None] = []
    for i, angle in enumerate(plan.tries.angle):
        quality = plan.judged.quality[i]
        if angle >= 0 and not quality < settings.plan.serves_low:
            found.append(None)
            continue
        beyond = np.nanmin(aims.cast_m[i]) if np.isfinite(aims.cast_m[i]).any() else math.inf
        others = any(water == stands.water[i] and side != stands.side[i] for water, side in banks)
        if wants[i] == HEAVIER:
            found.append(WouldHelp.HEAVIER_TIP)
        elif wants[i] == LIGHTER:
            found.append(WouldHelp.LIGHTER_TIP)
        elif beyond >= cast_limit_m - settings.stations.beyond_m:
            found.append(WouldHelp.LONGER_CAST)
        else:
            found.append(WouldHelp.OTHER_BANK if others else WouldHelp.BOAT)
    return found


def hang_down(plan: StripPlan, i: int, settings: AnglerSettings) -> HangDown | None:
    """Return what to do when the line hangs at a place; None where no swing was worked out.

    Lift where the last part of the swim drags or ends aground; pull where slack water holds the
    fly; else step while it hangs. Common practice, no published source.
    """
    did = plan.judged
    if plan.tries.angle[i] < 0 or not math.isfinite(float(did.swim_s[i])):
        return None
    if did.end[i] == AGROUND or did.tick[i] > 0.5 * settings.plan.last_share:
        return HangDown.LIFT
    return HangDown.PULL if did.end[i] == STALLS else HangDown.STEP


def slack_below(pull_n: float, height_m: float, mass_kg_m: float) -> float:
    """Return how much line hangs below a rod tip beyond the straight way to the water [m].

    Parameters
    ----------
    pull_n
        Level pull of the line on the water [N], > 0.
    height_m
        Height of the rod tip above the water [m], > 0.
    mass_kg_m
        Mass of the line there [kg/m], > 0.

    Notes
    -----
    A catenary that meets the water level: with a = pull / weight, height = a (cosh(x/a) - 1) and
    arc = a sinh(x/a), so arc^2 = height^2 + 2 a height; exact. Slack is the arc less its chord.
    """
    a = pull_n / (mass_kg_m * GRAVITY)
    arc = math.sqrt(height_m**2 + 2 * a * height_m)
    level = a * math.asinh(arc / a)
    return arc - math.hypot(level, height_m)


def slack_at(scene: Scene, plan: StripPlan, i: int) -> float:
    """Return the slack that hangs below a rod held high at a place [m]; NaN where it is not known.

    The line there is running line where the whole head is out, else the head; the pull is that of
    the plan's swing.
    """
    pull = float(plan.judged.pull[i])
    if plan.picks[i].cast < 0 or not pull > 0:
        return math.nan
    line, kit = scene.settings.line, scene.kit
    rod, head = kit.rods[plan.picks[i].rod].length_m, kit.heads[plan.picks[i].head]
    tip = kit.tips[int(plan.tries.tip[i])]
    running = float(plan.tries.cast_m[i]) - rod - head.length_m - tip.length_m - kit.angler.leader_m
    wide = line.running_wide_m if running > 0 else head_wide(head, line)
    mass = line.floating_density * WATER_DENSITY * math.pi / 4 * wide**2
    wade = float(scene.stands.wade[i])
    height = max(line.tip_height_m - wade, line.tip_low_m) + scene.settings.plan.high_m
    return slack_below(pull, height, mass)


def steps_at(
    plan: StripPlan, flow: float, settings: AnglerSettings
) -> tuple[FloatArray, FloatArray]:
    """Return the step between casts and the widest gap between two arcs then [m], shape (n,).

    The season's step, shorter in coloured water, and no longer than leaves `sees_share` of how far
    one sees between two arcs; half the season's at least. NaN gap where no swing is known.
    """
    clarity = clarity_by(flow, settings.clarity_m, settings.clarity_law)
    usual = step_length(settings.season, settings.pace, clarity_m=clarity)
    least = 0.5 * step_length(settings.season, settings.pace)
    widest = plan.judged.widest
    most = np.full(widest.shape, usual)
    if math.isfinite(clarity):
        with np.errstate(divide="ignore", invalid="ignore"):
            seen = settings.plan.sees_share * clarity / widest
        most = np.where(np.isfinite(seen), np.clip(seen, least, usual), usual)
    return most, most * widest


def head_out(scene: Scene, plan: StripPlan, i: int) -> float:
    """Return how much of the head is outside the rod tip at a place [m]; NaN where all of it is."""
    pick, cast = plan.picks[i], float(plan.tries.cast_m[i])
    if pick.cast < 0 or not math.isfinite(cast):
        return math.nan
    tip = plan.tries.tip[i : i + 1]
    out = float(scene.gear.outside(np.array([cast]), tip)[0, pick.rod, pick.head])
    return out if out < scene.kit.heads[pick.head].length_m - 1e-6 else math.nan


def is_short(scene: Scene, plan: StripPlan, i: int) -> bool:
    """Return whether a cast is short: no longer than `short_rods` times its rod."""
    rod, cast = plan.picks[i].rod, float(plan.tries.cast_m[i])
    return bool(rod >= 0 and cast <= scene.settings.plan.short_rods * scene.kit.rods[rod].length_m)


def pulls_to(scene: Scene, plan: StripPlan, i: int) -> int:
    """Return how many pulls of line lie between a run's first cast and the plan's at a place."""
    cast, rod = float(plan.tries.cast_m[i]), plan.picks[i].rod
    if rod < 0 or not math.isfinite(cast):
        return 0
    length, numbers = scene.kit.rods[rod].length_m, scene.settings.plan
    first = length * (1.0 + numbers.start_rods)
    return max(math.ceil((cast - first) / numbers.pull_m - 1e-9), 0)


def second_passes(plans: Plans, settings: AnglerSettings) -> BoolArray:
    """Return where a second pass through the water outside is worth it, shape (n,)."""
    did = plans.outside.judged
    with np.errstate(invalid="ignore"):
        return np.asarray(did.in_bands >= settings.plan.second_low)


def expected_takes(
    aims: dict[Strip, Aims],
    strips: Strips,
    limits: SeasonLimits,
    flow: float,
    settings: AnglerSettings,
) -> list[Strip]:
    """Return in which water the take is expected at each place.

    Outside where the water there suits the season no worse than the near strip, by the share of its
    casts whose depth and speed lie within the season's limits; always the near strip in coloured
    water, below `clear_m`, and where there is no water outside. Common practice, no published
    source.
    """
    clarity = clarity_by(flow, settings.clarity_m, settings.clarity_law)
    coloured = math.isfinite(clarity) and clarity < settings.pace.clear_m
    suits = {}
    for strip, one in aims.items():
        with np.errstate(invalid="ignore"):
            good = (one.depth >= limits.depth_low_m) & (one.depth <= limits.depth_high_m)
            good &= (one.speed >= limits.speed_low_m_s) & (one.speed <= limits.speed_high_m_s)
        known = np.isfinite(one.depth)
        suits[strip] = (good & known).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    there = np.isfinite(strips.outer_m) & np.isfinite(aims[Strip.OUTSIDE].cast_m).any(axis=1)
    out = there & (suits[Strip.OUTSIDE] >= np.maximum(suits[Strip.INSIDE], 1e-9)) & (not coloured)
    return [Strip.OUTSIDE if one else Strip.INSIDE for one in out]
