"""Uniform and critical flow on a section, exact: the judge of profiles, itself judged by tables."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY


def manning_speed(
    hydraulic_radius: ArrayLike, slope: ArrayLike, roughness: ArrayLike
) -> FloatArray:
    """Return the mean speed of uniform flow by Manning's formula.

    The arguments broadcast together; NaN stays NaN.

    Parameters
    ----------
    hydraulic_radius
        Flow area over wetted perimeter [m], >= 0. Where wide and shallow, the depth will do.
    slope
        Fall of the water surface over distance [m/m], >= 0.
    roughness
        Manning's n [s/m^(1/3)], > 0. The tables' figure: never convert it to feet.

    Returns
    -------
    FloatArray
        Speed averaged over the section [m/s], in the broadcast shape.

    Raises
    ------
    ValueError
        If a radius or slope is negative or a roughness is not positive.

    Notes
    -----
    V = R^(2/3) S^(1/2) / n [1]_. Holds for steady, uniform, fully rough flow; knows nothing of
    bends, eddies or seams.

    References
    ----------
    .. [1] Koohafkan and Younis (2015), R Journal 7(2):249-262, quickstart of package rivr.
    """
    radius, fall, n = (
        np.asarray(a, dtype=np.float64) for a in (hydraulic_radius, slope, roughness)
    )
    if (radius < 0).any() or (fall < 0).any() or (n <= 0).any():
        msg = "hydraulic_radius and slope must be >= 0 and roughness > 0"
        raise ValueError(msg)
    return np.asarray(radius ** (2 / 3) * np.sqrt(fall) / n)


def conveyance(area: ArrayLike, hydraulic_radius: ArrayLike, roughness: ArrayLike) -> FloatArray:
    """Return the conveyance K = A R^(2/3) / n, so that Q = K sqrt(S) [m3/s].

    Parameters
    ----------
    area
        Flow area [m2], >= 0.
    hydraulic_radius
        Flow area over wetted perimeter [m], >= 0.
    roughness
        Manning's n [s/m^(1/3)], > 0.

    Raises
    ------
    ValueError
        As `manning_speed`.
    """
    return np.asarray(np.asarray(area, np.float64) * manning_speed(hydraulic_radius, 1, roughness))


def wetted_section(offset: FloatArray, bed: FloatArray, level: float) -> tuple[float, float, float]:
    """Return area [m2], wetted perimeter [m] and surface width [m] of a surveyed section.

    Parameters
    ----------
    offset, bed
        The section as a line of points, shape (n,): distance across [m], rising (equal where a wall
        stands), and height [m]. Its ends are walls without friction where the water is higher.
    level
        Height of the water [m].

    Notes
    -----
    Exact for straight pieces: each is cut where the water's edge crosses it.
    """
    run, drop = np.diff(offset), np.diff(bed)
    deep = np.maximum(level - bed[:-1], level - bed[1:])
    thin = np.minimum(level - bed[:-1], level - bed[1:])
    rise = np.abs(drop)
    with np.errstate(divide="ignore", invalid="ignore"):
        cut = np.where(rise > 0, np.clip(deep / rise, 0, 1), 1.0)
    share = np.where(deep <= 0, 0.0, np.where(thin >= 0, 1.0, cut))
    width = share * run
    area = width * 0.5 * (np.maximum(deep, 0) + np.maximum(thin, 0))
    return float(area.sum()), float((share * np.hypot(run, drop)).sum()), float(width.sum())


def normal_depth(
    offset: FloatArray, bed: FloatArray, *, roughness: float, slope: float, flow: float
) -> float:
    """Return the depth of uniform flow above the section's lowest point [m].

    Parameters
    ----------
    offset, bed
        The section, as in `wetted_section` [m].
    roughness
        Manning's n [s/m^(1/3)], > 0.
    slope
        Fall over length [m/m], > 0.
    flow
        Discharge [m3/s], > 0.

    Raises
    ------
    ValueError
        If flow or slope is not positive, or the section cannot carry the flow within its walls
        raised by 100 m.

    Notes
    -----
    Root of Q = A R^(2/3) S^(1/2) / n.
    """
    _positive(flow=flow, slope=slope, roughness=roughness)

    def excess(depth: float) -> float:
        area, perimeter, _ = wetted_section(offset, bed, float(bed.min()) + depth)
        if area <= 0:
            return -flow
        return float(conveyance(area, area / perimeter, roughness)) * math.sqrt(slope) - flow

    return _root(excess, float(np.ptp(bed)))


def critical_depth(
    offset: FloatArray, bed: FloatArray, *, flow: float, energy_coefficient: float = 1.0
) -> float:
    """Return the critical depth above the section's lowest point [m].

    Parameters
    ----------
    offset, bed
        The section, as in `wetted_section` [m].
    flow
        Discharge [m3/s], > 0.
    energy_coefficient
        Alpha, true over mean velocity head, >= 1.

    Raises
    ------
    ValueError
        If the flow is not positive or no critical depth is found within 100 m.

    Notes
    -----
    Root of alpha Q^2 T / (g A^3) = 1 [1]_.

    References
    ----------
    .. [1] Koohafkan and Younis (2015), R Journal 7(2):249-262, quickstart of package rivr.
    """
    _positive(flow=flow, energy_coefficient=energy_coefficient)

    def excess(depth: float) -> float:
        area, _, width = wetted_section(offset, bed, float(bed.min()) + depth)
        return float(area**3 * GRAVITY - energy_coefficient * flow**2 * width)

    return _root(excess, float(np.ptp(bed)))


def _root(excess: Callable[[float], float], height: float) -> float:
    """Return where `excess` crosses zero between 1e-6 m and the section's height plus 100 m."""
    top = height + 100.0
    if excess(top) < 0:
        msg = f"the section cannot carry this flow below {top:.0f} m of depth"
        raise ValueError(msg)
    return float(brentq(excess, 1e-6, top, xtol=1e-10, rtol=1e-12))


def _positive(**values: float) -> None:
    """Refuse what is not above zero."""
    wrong = [f"{name} is {value!r}" for name, value in values.items() if not value > 0]
    if wrong:
        msg = "; ".join(wrong) + ": wants more than 0"
        raise ValueError(msg)
