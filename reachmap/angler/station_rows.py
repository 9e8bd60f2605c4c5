"""Rows of the `stations` layer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import LineString, Point

from reachmap.angler.casts import CASTS
from reachmap.angler.near import TOWARD, WAYS, Near
from reachmap.angler.plan_rows import TIP_WANTS, PlanFacts, plan_columns
from reachmap.angler.plan_rows import share as _share
from reachmap.angler.plans import Plans, StripPlan
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import SIDES, Stands
from reachmap.angler.swing import ENDS
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.schema_angler import CASTS as CAST_COLUMNS
from reachmap.base.words import AccessKind, HazardWay, Strip, SwingEnd, Toward, WayIn
from reachmap.markup.model import Access, Hazard, Markup

PATH_TOLERANCE_M = 0.2
"""How far a drawn path may run from the swing; our choice."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The plan chosen at each place, and the room there; arrays of shape (n,).

    `plans` holds both strips' plans with the tracks of their flies; `facts` what follows from them.
    """

    stands: Stands
    plans: Plans
    facts: PlanFacts
    room_m: FloatArray
    head_m: FloatArray

    @property
    def near(self) -> StripPlan:
        """Return the plan for the near strip."""
        return self.plans.inside


@dataclass(frozen=True, slots=True)
class Danger:
    """Drawn hazards near each place, looked for within `look_m` [m], and what more water shuts.

    `hand_m` is how much more water that is [m].
    """

    hazards: Sequence[Hazard]
    near: Near
    shut: BoolArray
    look_m: float
    hand_m: float

    def columns(self) -> list[dict[str, Any]]:
        """Return the columns on hazards and more water, one mapping a place."""
        way, far = self.near.ways()
        rows = []
        for i, first in enumerate(self.near.first()):
            has_hazard = first >= 0
            hazard = self.hazards[int(first)] if has_hazard else None
            toward = TOWARD[int(self.near.toward[i, first])].value if has_hazard else None
            found = WAYS[int(way[i, first])] if has_hazard else None
            if found is HazardWay.CURRENT:
                toward = Toward.DOWN.value
            rows.append(
                {
                    "hazard_kind": hazard.kind.value if hazard else None,
                    "hazard_note": hazard.note if hazard else "",
                    "hazard_distance_m": float(far[i, first]) if has_hazard else float("nan"),
                    "hazard_way": found.value if found else None,
                    "hazard_toward": toward,
                    "looked_m": self.look_m if self.near.whole[i] else float("nan"),
                    "hand_m": self.hand_m,
                    "hand_shuts": bool(self.shut[i]),
                }
            )
        return rows


def shown_places(chosen: Chosen, settings: AnglerSettings) -> IntArray:
    """Return the numbers of the places that serve, in the order of the rows of `stations`."""
    stands = chosen.stands
    order = np.lexsort((stands.station, -stands.side, stands.water))
    shown = [int(i) for i in order if _worth_showing(chosen, int(i), settings)]
    return np.array(shown, dtype=np.int32)


def station_rows(
    view: View,
    chosen: Chosen,
    codes: list[str],
    markup: Markup,
    settings: AnglerSettings,
    danger: Danger,
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the rows of the layers `stations` and `swings`: by piece, by bank, downstream.

    Parameters
    ----------
    view
        The flow.
    chosen
        What was chosen at each place.
    codes
        Code of each row of the water layer.
    markup, settings
        Kit and access; the angles tried.
    danger
        Drawn hazards near each place.
    """
    stands, rows, swings = chosen.stands, [], []
    dangers = danger.columns()
    numbers = dict.fromkeys(codes, 0)
    for i in shown_places(chosen, settings):
        code = codes[int(stands.water[i])]
        numbers[code] += 1
        where = {
            "flow": view.flow,
            "flow_label": view.label,
            "code": f"{code}-{numbers[code]}",
            "water": code,
        }
        row = where | _row(chosen, int(i), markup, settings) | dangers[int(i)]
        rows.append(row)
        for strip, plan in ((Strip.INSIDE, chosen.near), (Strip.OUTSIDE, chosen.plans.outside)):
            path = plan.path[i]
            path = path[np.isfinite(path).all(axis=1)]
            if len(path) > 1:
                swings.append(where | _swing_row(plan, int(i), row, path, strip))
    return rows, swings


def _swing_row(
    plan: StripPlan, i: int, row: dict[str, Any], path: FloatArray, strip: Strip
) -> dict[str, Any]:
    """Return the columns of one swing that differ from its station's."""
    line, did = LineString(path), plan.judged
    return {
        "strip": strip.value,
        "share_in_bands": _share(did.in_bands[i]),
        "swing_s": float(did.seconds[i]),
        "wait_s": float(did.wait_s[i]),
        "swing_end": _end(plan, i),
        "tip_wants": row["tip_wants"] if strip is Strip.INSIDE else None,
        "slows_s": float(did.slows_s[i]),
        "length_m": float(line.length),
        "geometry": line.simplify(PATH_TOLERANCE_M),
    }


def _end(plan: StripPlan, i: int) -> str:
    """Return how a swing ends: dragging over the bottom before its last part outranks the rest."""
    did = plan.judged
    return (SwingEnd.TOUCHES if did.drag[i] > 0 else ENDS[int(did.end[i])]).value


def _worth_showing(chosen: Chosen, i: int, settings: AnglerSettings) -> bool:
    """Return whether a place serves: the fly swims its water for some time, as far as is known.

    A bank to which no drawn way leads on foot, and from which no cast has room, is of no use.
    """
    did, swing = chosen.near.judged, settings.swing
    swum, share = did.swim_s[i], did.swim_s[i] / did.seconds[i]
    pick = chosen.near.picks[i]
    if not chosen.stands.entered[i] and pick.cast < 0 and not pick.unknown:
        return False
    return bool(not swum < swing.swim_low_s and not share < swing.swim_share_low)


def _row(chosen: Chosen, i: int, markup: Markup, settings: AnglerSettings) -> dict[str, Any]:
    """Return the columns of one station."""
    kit, stands = markup.plan.kit, chosen.stands
    plan, pick, did = chosen.near, chosen.near.picks[i], chosen.near.judged
    angle, tip = int(plan.tries.angle[i]), int(plan.tries.tip[i])
    made = pick.cast >= 0
    return {
        "side": SIDES[int(stands.side[i])].value,
        "station_m": float(stands.station[i]),
        "depth_m": max(float(stands.wade[i]), 0.0),
        "speed_m_s": float(stands.speed[i]),
        "room_m": float(chosen.room_m[i]),
        **{CAST_COLUMNS[cast]: fit.value for cast, fit in pick.fit_of.items()},
        "cast": tuple(CASTS)[pick.cast].value if made else None,
        "rod": kit.rods[pick.rod].name if made else "",
        "head": kit.heads[pick.head].name if made else "",
        "loop_side": pick.loop.value,
        "natural_hand": pick.natural,
        "cast_m": float(plan.tries.cast_m[i]),
        "angle_deg": settings.stations.angles_deg[angle] if angle >= 0 else float("nan"),
        "target_deg": float(np.degrees(plan.target_rad[i])),
        "down_deg": float(np.degrees(np.arctan2(stands.down[i, 1], stands.down[i, 0]))),
        "head_max_m": float(chosen.head_m[i]),
        "tip": kit.tips[tip].name if tip >= 0 and angle >= 0 else "",
        "tip_wants": TIP_WANTS[int(chosen.facts.wants[i])],
        "swing_s": float(did.seconds[i]),
        "wait_s": float(did.wait_s[i]),
        "zone_s": float(did.zone_s[i]),
        "fly_speed_m_s": float(did.pace[i]),
        "fly_depth_m": float(did.depth[i]),
        "swing_end": _end(plan, i),
        **plan_columns(chosen.plans, chosen.facts, i, kit, settings),
        "access": _access(markup, entered=bool(stands.entered[i])).value,
        "geometry": Point(*stands.point[i]),
    }


def can_be_reached(stands: Stands, access: tuple[Access, ...]) -> BoolArray:
    """Return which places can be reached: on foot from a drawn access, by boat if a landing is.

    Where no access was drawn at all it is not known, and every place stays.
    """
    if not access or any(one.kind is AccessKind.LANDING for one in access):
        return np.ones(len(stands), dtype=bool)
    return stands.entered


def _access(markup: Markup, *, entered: bool) -> WayIn:
    """Return the way in to a place."""
    if not markup.access:
        return WayIn.UNKNOWN
    return WayIn.FOOT if entered else WayIn.BOAT
