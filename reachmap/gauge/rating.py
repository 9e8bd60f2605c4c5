"""Rating: discharge by stage and back, by logarithms with an offset, and its shifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.model import Gauge, RatingSegment
from reachmap.gauge.stage_flow import flow_between


@dataclass(frozen=True, slots=True)
class Rating:
    """A rating as points with the offset of each gap between them.

    Parameters
    ----------
    stage
        Gauge heights [m], rising, shape (n,), n >= 2.
    flow
        Discharges [m3/s], >= 0, rising.
    offset
        Stage of zero flow that rules each gap [m], shape (n - 1,).

    Notes
    -----
    Between two points Q = a (h - e)^b through both, e the gap's offset [1]_. Where the lower point
    carries no flow, or lies at or below the offset, no power law goes through it: straight there.

    References
    ----------
    .. [1] U.S. Geological Survey, rating files with RATING EXPANSION "logarithmic"; the power law
       after the background article of package bdrc, citing Venetis (1970).
    """

    stage: FloatArray
    flow: FloatArray
    offset: FloatArray

    def __post_init__(self) -> None:
        """Refuse points that make no rating."""
        if self.stage.size < 2 or self.stage.shape != self.flow.shape:
            msg = "a rating needs two points or more, each with a stage and a flow"
            raise ValueError(msg)
        if (np.diff(self.stage) <= 0).any() or (np.diff(self.flow) <= 0).any():
            msg = "stages and flows of a rating must rise from point to point"
            raise ValueError(msg)
        if self.flow[0] < 0 or self.offset.shape != (self.stage.size - 1,):
            msg = "flows of a rating must be >= 0, with one offset a gap"
            raise ValueError(msg)


def rating_of(segments: Sequence[RatingSegment]) -> Rating:
    """Return the rating of a gauge's segments.

    Parameters
    ----------
    segments
        Rising; a breakpoint may stand in the lower, the upper or both. The gap above it follows the
        upper segment's offset.

    Raises
    ------
    ValueError
        If there are no two points, or they do not rise.
    """
    stage: list[float] = []
    flow: list[float] = []
    offset: list[float] = []
    for segment in segments:
        for height, discharge in zip(segment.stage_m, segment.flow, strict=True):
            if stage and height == stage[-1] and np.isclose(discharge, flow[-1], rtol=1e-9):
                continue
            stage.append(float(height))
            flow.append(float(discharge))
            offset.append(float(segment.offset_m))
    return Rating(np.array(stage), np.array(flow), np.array(offset[1:]))


def flow_at(rating: Rating, stage: ArrayLike) -> FloatArray:
    """Return the discharge at stages [m3/s]; NaN stays NaN.

    Parameters
    ----------
    rating
        The rating.
    stage
        Gauge heights [m], inside the rated range.

    Raises
    ------
    ValueError
        If a stage lies outside the rated range: nobody has measured there.
    """
    height = np.asarray(stage, dtype=np.float64)
    _refuse_outside(height, rating.stage, "stage", "m")
    gap = _gap(rating.stage, height)
    h1, h2, q1, q2, e = _ends(rating, gap)
    rated = flow_between(height, (h1, h2), (q1, q2), e)
    return np.asarray(np.clip(rated, rating.flow[0], rating.flow[-1]))


def stage_at(rating: Rating, flow: ArrayLike) -> FloatArray:
    """Return the stage at discharges [m]; NaN stays NaN. The inverse of `flow_at`.

    Parameters
    ----------
    rating
        The rating.
    flow
        Discharges [m3/s], inside the rated range.

    Raises
    ------
    ValueError
        If a flow lies outside the rated range.
    """
    discharge = np.asarray(flow, dtype=np.float64)
    _refuse_outside(discharge, rating.flow, "flow", "m3/s")
    gap = _gap(rating.flow, discharge)
    h1, h2, q1, q2, e = _ends(rating, gap)
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.log(q2 / q1) / np.log((h2 - e) / (h1 - e))
        curved = e + (h1 - e) * (discharge / q1) ** (1 / power)
    straight = h1 + (h2 - h1) * (discharge - q1) / (q2 - q1)
    rated = np.where((q1 > 0) & (h1 > e), curved, straight)
    return np.asarray(np.clip(rated, rating.stage[0], rating.stage[-1]))


def is_rated(rating: Rating, flow: ArrayLike) -> BoolArray:
    """Return which discharges [m3/s] lie inside the rated range; NaN does not."""
    discharge = np.asarray(flow, dtype=np.float64)
    return np.asarray((discharge >= rating.flow[0]) & (discharge <= rating.flow[-1]))


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift of a rating that varies with stage: pairs of stage and shift [m], stages rising.

    Straight between the pairs and constant past them (from memory).
    """

    stage: FloatArray
    shift: FloatArray

    def __post_init__(self) -> None:
        """Refuse a shift that folds the rating."""
        if self.stage.size < 1 or self.stage.shape != self.shift.shape:
            msg = "a shift needs one pair or more of stage and shift"
            raise ValueError(msg)
        if (np.diff(self.stage) <= 0).any() or (np.diff(self.stage + self.shift) <= 0).any():
            msg = "stages of a shift, and stages plus shifts, must rise"
            raise ValueError(msg)

    def at(self, stage: ArrayLike) -> FloatArray:
        """Return the shift at stages [m]."""
        return np.asarray(np.interp(np.asarray(stage, np.float64), self.stage, self.shift))


def shifted_flow_at(rating: Rating, stage: ArrayLike, shift: Shift) -> FloatArray:
    """Return the discharge Q = R(h + s(h)) at stages [m3/s]; else as `flow_at`."""
    height = np.asarray(stage, dtype=np.float64)
    return flow_at(rating, height + shift.at(height))


def shifted_stage_at(rating: Rating, flow: ArrayLike, shift: Shift) -> FloatArray:
    """Return the stage h with R(h + s(h)) = Q [m]; else as `stage_at`."""
    rated = stage_at(rating, flow)
    moved = shift.stage + shift.shift
    return np.asarray(rated - np.interp(rated, moved, shift.shift))


def shift_of(rating: Rating, stage: ArrayLike, flow: ArrayLike) -> FloatArray:
    """Return the shift a measurement of stage [m] and flow [m3/s] asks for: R^-1(Q) - h [m]."""
    return np.asarray(stage_at(rating, flow) - np.asarray(stage, dtype=np.float64))


def levels_from_gauge(gauge: Gauge, flows: Sequence[float]) -> tuple[tuple[float, float], ...]:
    """Return pairs of flow [m3/s] and water level at the gauge [m], for flows its rating holds.

    Of use as `FlowSettings.foot_levels` only where the gauge stands at the foot of the reach. Empty
    where the height of the gauge's zero or its rating is not known.
    """
    if not np.isfinite(gauge.zero_m) or not gauge.segments:
        return ()
    rating = rating_of(gauge.segments)
    rated = [flow for flow in flows if is_rated(rating, flow)]
    return tuple((flow, gauge.zero_m + float(stage_at(rating, flow))) for flow in rated)


def _gap(knots: FloatArray, values: FloatArray) -> np.ndarray:
    """Return the gap each value lies in."""
    return np.asarray(np.clip(np.searchsorted(knots, values, side="right") - 1, 0, knots.size - 2))


def _ends(
    rating: Rating, gap: np.ndarray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return lower and upper stage, lower and upper flow, and offset of gaps."""
    return (
        rating.stage[gap],
        rating.stage[gap + 1],
        rating.flow[gap],
        rating.flow[gap + 1],
        rating.offset[gap],
    )


def _refuse_outside(values: FloatArray, knots: FloatArray, what: str, unit: str) -> None:
    """Refuse values outside the rated range; NaN passes."""
    with np.errstate(invalid="ignore"):
        beyond = (values < knots[0]) | (values > knots[-1])
    if np.any(beyond):
        worst = float(np.atleast_1d(values)[np.atleast_1d(beyond)][0])
        msg = (
            f"{what} {worst:g} {unit} lies outside the rated range "
            f"{knots[0]:g} to {knots[-1]:g} {unit}: no one measured there"
        )
        raise ValueError(msg)
