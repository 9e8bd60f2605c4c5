"""Rating fitted to discharge measurements: power laws by segment, with their uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import OptimizeResult, least_squares
from scipy.special import stdtrit

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.model import RatingSegment
from reachmap.gauge.rating_limits import WORST_SCATTER, AtLimit, limits_met

FEWEST = 5
"""Fewest readings in a segment. Our choice, range 4-8: three parameters and some over."""
POWER_LOW, POWER_HIGH = 1.0, 4.0
"""Limits of the exponent. Our choice around the theory for one control, 1.5 (wide weir) to 2.67
(triangular channel) (Rantz and others 1982; ISO 18320, from memory)."""
OFFSET_REACH = 5.0
"""Greatest distance of the offset below the lowest reading, over the readings' range. Our
choice, range 3-10: lower, a power law is a straight exponential."""
OFFSET_GAP = 1e-3
"""Least distance of the offset below the lowest reading, over the readings' range."""
FREED_POWERS, FREED_REACH = (0.5, 8.0), 20.0
"""Limits of exponents and offsets of the second fit, made where the first ends at a limit. Our
choice: half and twice, four times as far."""
STARTS = 40
"""Initial offsets tried for the first segment."""


@dataclass(frozen=True, slots=True)
class RatingFit:
    """A fitted rating: in each segment Q = a (h - e)^b, meeting at the breaks.

    Parameters
    ----------
    ends
        Lowest reading, breaks, highest reading [m], shape (segments + 1,): the gauged range.
    factor, power, offset
        a [m3/s at 1 m], b [1] and e [m] of each segment, shape (segments,).
    scatter
        Standard deviation of ln Q about the fit (readings less parameters as the divisor).
    covariance
        Of ln a of the first segment, then b and e of each, shape (2 segments + 1, same).
    freedom
        Degrees of freedom: readings less fitted parameters.
    limits
        Exponents and offsets that ended at a limit.
    freed
        Parameters of the fit with wider limits, in the order of `covariance`: the difference of
        its curve is added to the uncertainty. The fit's own where none is at a limit.
    """

    ends: FloatArray
    factor: FloatArray
    power: FloatArray
    offset: FloatArray
    scatter: float
    covariance: FloatArray
    freedom: int
    limits: tuple[AtLimit, ...]
    freed: FloatArray

    @property
    def usable(self) -> bool:
        """Return whether the scatter about the curve is small enough for use."""
        return bool(self.scatter <= WORST_SCATTER) or (self.freedom < 1 and not self.limits)

    @property
    def segments(self) -> tuple[RatingSegment, ...]:
        """Return the fit as rating segments: two points and the offset define a power law."""
        return tuple(
            RatingSegment(
                stage_m=self.ends[i : i + 2],
                flow=self.factor[i] * (self.ends[i : i + 2] - self.offset[i]) ** self.power[i],
                offset_m=float(self.offset[i]),
            )
            for i in range(self.power.size)
        )


def fit_rating(stage: ArrayLike, flow: ArrayLike, *, breaks: Sequence[float] = ()) -> RatingFit:
    """Return power laws with offset fitted by least squares in the logarithm of flow.

    Parameters
    ----------
    stage
        Gauge heights [m], shape (n,).
    flow
        Discharges [m3/s], > 0, shape (n,).
    breaks
        Stages at which the control changes [m], ascending; at least five readings a segment.

    Raises
    ------
    ValueError
        If readings do not match, are not finite or not positive, or are too few a segment.

    Notes
    -----
    Least squares of ln Q [1]_ over ln a and, for each segment, b and e; the other factors follow
    from continuity at the breaks. Relative errors weigh alike: a per cent at low water counts as
    much as one in flood.

    References
    ----------
    .. [1] Q = a (h - e)^b: background article of package bdrc, citing Venetis (1970) and Clarke
       (1999).
    """
    height, discharge = _readings(stage, flow)
    inner = np.asarray(breaks, dtype=np.float64)
    ends = np.r_[height.min(), inner, height.max()]
    if (np.diff(ends) <= 0).any():
        msg = f"breaks {list(breaks)!r} must rise within the readings"
        raise ValueError(msg)
    counts = np.bincount(_segment(ends, height), minlength=inner.size + 1)
    if counts.min() < FEWEST:
        msg = f"{counts.min()} readings in a segment, wants {FEWEST} or more"
        raise ValueError(msg)
    wanted = np.log(discharge)

    def miss(figures: FloatArray) -> FloatArray:
        return _log_flow(figures, ends, height) - wanted

    def nearest(low: FloatArray, high: FloatArray) -> OptimizeResult:
        begin = np.clip(_start(height, wanted, inner.size + 1), low + 1e-9, high - 1e-9)
        return least_squares(miss, begin, bounds=(low, high), x_scale="jac", xtol=1e-14, ftol=1e-14)

    low, high = _limits(ends, (POWER_LOW, POWER_HIGH), OFFSET_REACH)
    found = nearest(low, high)
    figures = np.asarray(found.x, dtype=np.float64)
    limits = limits_met(figures, low, high)
    freed = figures
    if limits:
        freed = np.asarray(nearest(*_limits(ends, FREED_POWERS, FREED_REACH)).x, dtype=np.float64)
    freedom = height.size - figures.size
    scatter = float(np.sqrt(2 * found.cost / freedom)) if freedom > 0 else float("nan")
    slopes = np.asarray(found.jac, dtype=np.float64)
    # Gauss-Newton covariance. pinv: power and offset can be so
    # correlated that the matrix is nearly singular.
    covariance = np.asarray(np.linalg.pinv(slopes.T @ slopes) * scatter**2, dtype=np.float64)
    factor, power, offset = _laws(figures, ends)
    return RatingFit(ends, factor, power, offset, scatter, covariance, freedom, limits, freed)


def choose_rating(stage: ArrayLike, flow: ArrayLike, *, most: int = 2) -> RatingFit:
    """Return the fit whose number of segments and breaks suit the readings best.

    Parameters
    ----------
    stage, flow
        As for `fit_rating`.
    most
        Largest number of segments, 1 to 3.

    Notes
    -----
    Breaks are tried halfway between neighbouring readings. More segments are taken only where the
    Bayesian information criterion, n ln(sum of squares / n) + figures ln n (Schwarz 1978, from
    memory), falls by more than 6 (our choice, range 2-10: strong evidence).
    """
    height, discharge = _readings(stage, flow)
    if not 1 <= most <= 3:
        msg = f"most is {most}, wants 1 to 3"
        raise ValueError(msg)
    best = fit_rating(height, discharge)
    between = np.unique(height)
    between = 0.5 * (between[1:] + between[:-1])
    if between.size > 24:
        between = np.quantile(between, np.linspace(0.02, 0.98, 24))
    for number in range(2, most + 1):
        fits = []
        for breaks in combinations(between, number - 1):
            ends = np.r_[height.min(), breaks, height.max()]
            if np.bincount(_segment(ends, height), minlength=number).min() >= FEWEST:
                fits.append(fit_rating(height, discharge, breaks=breaks))
        if not fits:
            break
        nearest = min(fits, key=lambda fit: fit.scatter)
        if _criterion(nearest, height.size) + 6 < _criterion(best, height.size):
            best = nearest
    return best


def is_gauged(fit: RatingFit, stage: ArrayLike) -> BoolArray:
    """Return whether stages [m] lie within the readings; False for NaN."""
    height = np.asarray(stage, dtype=np.float64)
    return np.asarray((height >= fit.ends[0]) & (height <= fit.ends[-1]))


def fitted_flow(fit: RatingFit, stage: ArrayLike) -> FloatArray:
    """Return the discharge at stages [m3/s]; NaN stays NaN.

    Raises
    ------
    ValueError
        If a stage lies beyond the readings: extrapolated ratings are off by half and more.
    """
    height = _within(fit, stage)
    return np.asarray(np.exp(_log_flow(_figures(fit), fit.ends, height)))


def fitted_band(
    fit: RatingFit, stage: ArrayLike, *, share: float = 0.9, reading: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Return the lower and upper bound of the rating's discharge [m3/s].

    Parameters
    ----------
    fit
        The rating.
    stage
        Gauge heights within the readings [m].
    share
        Coverage probability of the band, 0 to 1.
    reading
        Whether it is the prediction band of one more reading (uncertainty of the fit and scatter),
        not the confidence band of the curve.

    Raises
    ------
    ValueError
        If a stage lies beyond the readings, share is not between 0 and 1, or there is no degree of
        freedom.

    Notes
    -----
    To first order: variance of ln Q = J C J^T, J by differences, Student's t with the fit's
    freedom. Where a parameter is at a limit, the squared difference to the curve with wider limits
    is added. It assumes that the power law holds and that the bed does not move.
    """
    if not 0 < share < 1 or fit.freedom < 1:
        msg = f"share is {share!r}, wants 0 to 1, and readings more than figures fitted"
        raise ValueError(msg)
    height = _within(fit, stage)
    figures = _figures(fit)
    step = 1e-6 * np.maximum(np.abs(figures), 1e-3)
    middle = _log_flow(figures, fit.ends, height)
    # Backward differences: an offset moved up could exceed
    # the lowest reading, where ln is not defined.
    rates = [
        (_log_flow(figures - step * unit, fit.ends, height) - middle) / -size
        for unit, size in zip(np.eye(figures.size), step, strict=True)
    ]
    change = np.stack(rates, axis=-1)
    variance = np.einsum("...i,ij,...j->...", change, fit.covariance, change)
    variance = np.maximum(variance, 0) + (fit.scatter**2 if reading else 0.0)
    variance = variance + (_log_flow(fit.freed, fit.ends, height) - middle) ** 2
    apart = float(stdtrit(fit.freedom, 0.5 + share / 2)) * np.sqrt(variance)
    return np.asarray(np.exp(middle - apart)), np.asarray(np.exp(middle + apart))


def _readings(stage: ArrayLike, flow: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return readings as arrays; raise ValueError for those no rating can be fitted to."""
    height, discharge = np.asarray(stage, np.float64), np.asarray(flow, np.float64)
    if height.ndim != 1 or height.shape != discharge.shape or height.size < FEWEST:
        msg = f"a rating wants {FEWEST} readings or more, each a stage and a flow"
        raise ValueError(msg)
    if not (np.isfinite(height).all() and np.isfinite(discharge).all() and (discharge > 0).all()):
        msg = "stages and flows must be numbers, and flows above 0"
        raise ValueError(msg)
    if not np.ptp(height) > 0:
        msg = "all readings are at one stage"
        raise ValueError(msg)
    return height, discharge


def _segment(ends: FloatArray, height: FloatArray) -> np.ndarray:
    """Return the segment of each stage; a break belongs to the upper one."""
    return np.asarray(np.clip(np.searchsorted(ends, height, side="right") - 1, 0, ends.size - 2))


def _limits(
    ends: FloatArray, powers: tuple[float, float], reach: float
) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper limits of the parameters: of exponents, and of offsets by `reach`."""
    span = ends[-1] - ends[0]
    low, high = [-50.0], [50.0]
    for start in ends[:-1]:
        low += [powers[0], start - reach * span]
        high += [powers[1], start - OFFSET_GAP * span]
    return np.array(low), np.array(high)


def _start(height: FloatArray, wanted: FloatArray, number: int) -> FloatArray:
    """Return initial parameters: one law over all readings, the best of several offsets."""
    span, lowest = float(np.ptp(height)), float(height.min())
    best = (np.inf, 0.0, 0.0, 0.0)
    # With a given offset the law is a straight line in logarithms: try several, keep the best.
    for below in np.geomspace(OFFSET_GAP, OFFSET_REACH, STARTS)[1:-1] * span:
        run = np.log(height - (lowest - below))
        power, log_factor = np.polyfit(run, wanted, 1)
        cost = float(((log_factor + power * run - wanted) ** 2).sum())
        if POWER_LOW <= power <= POWER_HIGH and cost < best[0]:
            best = (cost, float(log_factor), float(power), lowest - below)
    _, log_factor, power, offset = best if np.isfinite(best[0]) else (0.0, 0.0, 2.0, lowest - span)
    return np.array([log_factor, *[power, offset] * number])


def _laws(figures: FloatArray, ends: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return factor, power and offset of each segment from the parameters."""
    power, offset = figures[1::2], figures[2::2]
    log_factor = np.full(power.size, figures[0])
    for i in range(1, power.size):
        # Continuity at the break fixes the factor of the upper segment.
        at = log_factor[i - 1] + power[i - 1] * np.log(ends[i] - offset[i - 1])
        log_factor[i] = at - power[i] * np.log(ends[i] - offset[i])
    return np.exp(log_factor), power, offset


def _log_flow(figures: FloatArray, ends: FloatArray, height: FloatArray) -> FloatArray:
    """Return ln Q at stages by the parameters."""
    factor, power, offset = _laws(figures, ends)
    at = _segment(ends, height)
    return np.asarray(np.log(factor[at]) + power[at] * np.log(height - offset[at]))


def _figures(fit: RatingFit) -> FloatArray:
    """Return the parameters of a fit: ln a of the first segment, then b and e of each."""
    pairs = np.column_stack([fit.power, fit.offset]).ravel()
    return np.asarray(np.r_[np.log(fit.factor[0]), pairs], dtype=np.float64)


def _within(fit: RatingFit, stage: ArrayLike) -> FloatArray:
    """Return stages as an array; raise ValueError for those beyond the readings."""
    height = np.asarray(stage, dtype=np.float64)
    beyond = np.isfinite(height) & ~is_gauged(fit, height)
    if beyond.any():
        worst = float(height[beyond][0]) if height.ndim else float(height)
        msg = (
            f"stage {worst:g} m lies beyond the readings, "
            f"{fit.ends[0]:g} to {fit.ends[-1]:g} m: no one measured there"
        )
        raise ValueError(msg)
    return height


def _criterion(fit: RatingFit, readings: int) -> float:
    """Return the Bayesian information criterion of a fit; a break counts as a parameter."""
    figures = readings - fit.freedom + fit.power.size - 1
    squares = fit.scatter**2 * fit.freedom / readings
    return readings * float(np.log(squares)) + figures * float(np.log(readings))
