"""The rule at the foot of the reach: a gauge's rating, the low water measured, or normal depth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import BuildError
from reachmap.flow.foot import normal_foot_level
from reachmap.flow.sections import CutGround
from reachmap.flow.settings import FlowSettings, FootRating

TRIED = 3
"""Flows in the lower half of a rating at which its level is held against normal depth."""


class FootHow(StrEnum):
    """What the level at the foot follows from."""

    RATING = "rating"
    """The rating of a gauge that stands there."""
    LOW_WATER = "low_water"
    """Normal depth, raised to the low water measured there."""
    NORMAL = "normal"
    """Normal depth at the river's slope."""


class Refused(StrEnum):
    """Why a rating given for the foot was not used."""

    LOCAL = "local"
    """No DEM gave heights in the datum of the gauge's zero."""
    FAR = "far"
    """The gauge stands farther from the foot than normal depth is averaged over."""
    APART = "apart"
    """Its levels lie too far from normal depth: zero or datum is probably another."""


@dataclass(frozen=True, slots=True)
class FootRule:
    """What the level at the foot follows from.

    Parameters
    ----------
    how
        The rule.
    refused
        Why a rating was not used; None where it was or none was given.
    apart_m
        How far the rating's level lies above normal depth, in the middle of the flows tried [m];
        NaN where that was not looked at.
    low, high
        Flows that the rating covers [m3/s]; beyond them normal depth is moved to meet its end.
    """

    how: FootHow
    refused: Refused | None = None
    apart_m: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")


def unrated_rule(ground: xr.Dataset) -> FootHow:
    """Return what the level at the foot follows from without a rating."""
    low_flow, level = (
        float(ground.attrs.get(name, np.nan)) for name in ("low_flow", "low_foot_level")
    )
    return FootHow.LOW_WATER if low_flow > 0 and np.isfinite(level) else FootHow.NORMAL


def foot_rule(ground: xr.Dataset, sections: CutGround, settings: FlowSettings) -> FootRule:
    """Return what the level at the foot follows from.

    A rating sets it where the gauge stands within the stretch over which normal depth is averaged,
    the ground's heights are a DEM's and the rating's level lies within `foot_rating_gap_m` of
    normal depth. It does not depend on the flows to map.
    """
    otherwise, rating = unrated_rule(ground), settings.foot_rating
    if rating is None:
        return FootRule(otherwise)
    span = rating.flow[0], rating.flow[-1]
    if str(ground.attrs.get("vertical", "")) != "dem":
        return FootRule(otherwise, Refused.LOCAL, float("nan"), *span)
    if abs(rating.above_m) > settings.foot_stretch * sections.river_width:
        return FootRule(otherwise, Refused.FAR, float("nan"), *span)
    apart = _apart(ground, sections, rating, settings)
    if not abs(apart) <= settings.foot_rating_gap_m:
        return FootRule(otherwise, Refused.APART, apart, *span)
    return FootRule(FootHow.RATING, None, apart, *span)


def reach_foot_levels(
    ground: xr.Dataset, sections: CutGround, flows: Sequence[float], settings: FlowSettings
) -> FloatArray:
    """Return the levels at the foot by `foot_rule` [m], shape (flows,).

    Where the ground stage measured low water at the foot, what it stands above normal depth at its
    flow is added at every flow, so that higher water keeps the section's own curve. So it is with a
    rating beyond its ends.

    Raises
    ------
    BuildError
        If the slope is not known or the sections cannot carry a flow.
    """

    def normal(flow: float) -> float:
        return _normal(ground, sections, flow, settings)

    rule, rating = foot_rule(ground, sections, settings), settings.foot_rating
    if rule.how is FootHow.RATING and rating is not None:
        levels = []
        for flow in flows:
            end = float(np.clip(flow, rule.low, rule.high))
            level = _rated(rating, end, float(ground.attrs["slope"]))
            levels.append(level if end == flow else level + normal(flow) - normal(end))
        return np.array(levels, dtype=np.float64)
    found = np.array([normal(flow) for flow in flows], dtype=np.float64)
    if rule.how is FootHow.LOW_WATER:
        found += float(ground.attrs["low_foot_level"]) - normal(float(ground.attrs["low_flow"]))
    return found


def _normal(ground: xr.Dataset, sections: CutGround, flow: float, settings: FlowSettings) -> float:
    """Return the level of uniform flow at the foot [m]."""
    return normal_foot_level(
        sections.tables,
        flow,
        slope=float(ground.attrs["slope"]),
        foot=sections.foot,
        stretch_m=settings.foot_stretch * sections.river_width,
    )


def _rated(rating: FootRating, flow: float, slope: float) -> float:
    """Return the rating's level at the foot [m]: the gauge's, carried along the slope."""
    level = float(np.interp(np.log(flow), np.log(rating.flow), rating.level))
    return level - rating.above_m * slope


def _apart(
    ground: xr.Dataset, sections: CutGround, rating: FootRating, settings: FlowSettings
) -> float:
    """Return the median height of the rating above normal depth in its lower half [m]."""
    middle = np.sqrt(rating.flow[0] * rating.flow[-1])
    gaps = []
    for flow in np.geomspace(rating.flow[0], middle, TRIED):
        try:
            normal = _normal(ground, sections, float(flow), settings)
        except BuildError:
            continue
        gaps.append(_rated(rating, float(flow), float(ground.attrs["slope"])) - normal)
    return float(np.median(gaps)) if gaps else float("nan")
