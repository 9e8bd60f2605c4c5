"""Plans as columns of `stations`, and the ladder of tips as rows of `tip_ladder`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import Point

from reachmap.angler.choose import Aims
from reachmap.angler.plan_facts import (
    expected_takes,
    hang_down,
    head_out,
    is_short,
    mend_facts,
    pulls_to,
    second_passes,
    slack_at,
    steps_at,
    tip_wants,
    would_help,
)
from reachmap.angler.plans import Plans
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import SIDES, Stands
from reachmap.angler.tries import Scene
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip, TipWant, WouldHelp
from reachmap.markup.kit import Kit
from reachmap.markup.model import SeasonLimits

TIP_WANTS = {1: TipWant.HEAVIER.value, -1: TipWant.LIGHTER.value, 0: None}


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """Facts derived from the plans, one of each a place; arrays of shape (n,).

    `wants` +1 a heavier tip, -1 a lighter one, 0 neither, `out_wants` for the outside; `help` what
    would help where a plan does not serve; `take` where the take is expected; `step_m`, `gap_m` the
    step and the gap it leaves [m]; `slack_m` below a rod held high [m]; `head_out_m` of the head
    [m]; `short` casts; `pulls` of line; `second` whether a second pass is worth it; `inner_m`,
    `outer_m` widths of the strips [m].
    """

    wants: IntArray
    out_wants: IntArray
    help: list[WouldHelp | None]
    take: list[Strip]
    step_m: FloatArray
    gap_m: FloatArray
    slack_m: FloatArray
    head_out_m: FloatArray
    short: BoolArray
    pulls: IntArray
    second: BoolArray
    inner_m: FloatArray
    outer_m: FloatArray


def plan_facts(
    scene: Scene, plans: Plans, aims: dict[Strip, Aims], limits: SeasonLimits
) -> PlanFacts:
    """Return the facts derived from the plans of a flow."""
    settings, near, flow = scene.settings, plans.inside, scene.view.flow
    wants = tip_wants(near, scene.gear.usable, settings)
    limit = scene.kit.angler.cast_limit_m
    step, gap = steps_at(near, flow, settings)
    every = range(len(scene.stands))
    return PlanFacts(
        wants,
        tip_wants(plans.outside, scene.gear.usable, settings),
        would_help(near, wants, aims[Strip.INSIDE], scene.stands, settings, limit),
        expected_takes(aims, scene.strips, limits, flow, settings),
        step,
        gap,
        np.array([slack_at(scene, near, i) for i in every]),
        np.array([head_out(scene, near, i) for i in every]),
        np.array([is_short(scene, near, i) for i in every], dtype=bool),
        np.array([pulls_to(scene, near, i) for i in every], dtype=np.int32),
        second_passes(plans, settings),
        scene.strips.inner_m,
        scene.strips.outer_m,
    )


def plan_columns(
    plans: Plans, facts: PlanFacts, i: int, kit: Kit, settings: AnglerSettings
) -> dict[str, Any]:
    """Return the columns of the plan at one place."""
    near, far = plans.inside, plans.outside
    did, lot = near.judged, near.tries
    mends, hang, wanted = (
        mend_facts(int(lot.mends[i]), settings),
        hang_down(near, i, settings),
        facts.help[i],
    )
    return {
        "take": facts.take[i].value,
        "strip_m": float(facts.inner_m[i]),
        "share_in_bands": share(did.in_bands[i]),
        "depth_share": share(did.in_depth[i]),
        "pace_share": share(did.in_pace[i]),
        "drag_share": share(did.drag[i]),
        "tick_share": share(did.tick[i]),
        "above_bed_m": float(did.above[i]),
        "mends": mends.count,
        "mend_m": mends.bow_m,
        "mend_to": mends.to.value if mends.to else None,
        "mend_s": mends.first_s,
        "mend_last_s": mends.last_s,
        "fed_m": settings.plan.fed_m if lot.fed[i] else 0.0,
        "rod_high": bool(lot.high[i]),
        "slack_m": float(facts.slack_m[i]),
        "short_cast": bool(facts.short[i]),
        "head_out_m": float(facts.head_out_m[i]),
        "hang_down": hang.value if hang else None,
        "step_m": float(facts.step_m[i]),
        "arc_gap_m": float(facts.gap_m[i]),
        "pulls": int(facts.pulls[i]),
        "would_help": wanted.value if wanted else None,
        "second_pass": bool(facts.second[i]),
        "out_strip_m": float(facts.outer_m[i]),
        **_second(plans, i, kit, settings),
        "out_tip_wants": TIP_WANTS[int(facts.out_wants[i])],
        "out_share_in_bands": share(far.judged.in_bands[i]),
    }


def _second(plans: Plans, i: int, kit: Kit, settings: AnglerSettings) -> dict[str, Any]:
    """Return the columns of the second pass; empty where there is none."""
    far = plans.outside
    lot, did, angle = far.tries, far.judged, int(far.tries.angle[i])
    if angle < 0:
        return {}
    mends = mend_facts(int(lot.mends[i]), settings)
    return {
        "out_cast_m": float(lot.cast_m[i]),
        "out_angle_deg": settings.stations.angles_deg[angle],
        "out_tip": kit.tips[int(lot.tip[i])].name,
        "out_mends": mends.count,
        "out_mend_to": mends.to.value if mends.to else None,
        "out_fly_depth_m": float(did.depth[i]),
        "out_swing_s": float(did.seconds[i]),
        "out_wait_s": float(did.wait_s[i]),
    }


def ladder_rows(
    view: View, stands: Stands, plans: Plans, codes: list[str], kit: Kit, usable: IntArray
) -> list[dict[str, Any]]:
    """Return the rows of the layer `tip_ladder`: by piece, bank and tip, the lightest first."""
    ladder, rows = plans.ladder, []
    for group, first in enumerate(ladder.first):
        if first < 0:
            continue
        for order, tip in enumerate(usable, start=1):
            at = group, int(tip)
            rows.append(
                {
                    "flow": view.flow,
                    "flow_label": view.label,
                    "water": codes[int(stands.water[first])],
                    "side": SIDES[int(stands.side[first])].value,
                    "tip": kit.tips[int(tip)].name,
                    "order": order,
                    "chosen": bool(tip == ladder.tip[group]),
                    "fly_depth_m": float(ladder.depth[at]),
                    "above_bed_m": float(ladder.above[at]),
                    "share_in_bands": share(ladder.in_bands[at]),
                    "drag_share": share(ladder.drag[at]),
                    "tick_share": share(ladder.tick[at]),
                    "swing_s": float(ladder.swing_s[at]),
                    "wait_s": float(ladder.wait_s[at]),
                    "geometry": Point(*stands.point[first]),
                }
            )
    return rows


def share(value: float) -> float:
    """Return a share within 0 to 1, rounding errors taken off; NaN stays."""
    return float(value) if math.isnan(value) else min(max(float(value), 0.0), 1.0)
