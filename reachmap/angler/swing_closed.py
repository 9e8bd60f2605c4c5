"""Closed forms of the swing in uniform water, also used to preselect the casts to simulate."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from reachmap.angler.settings import SwingSettings
from reachmap.base.arrays import FloatArray


def closed_time(
    line_m: ArrayLike, speed_m_s: ArrayLike, angle_deg: ArrayLike, settings: SwingSettings
) -> FloatArray:
    """Return the seconds from landing to hang-down in uniform water.

    Parameters
    ----------
    line_m
        From the angler to the fly [m], rod included: the rod follows the line. > 0.
    speed_m_s
        Depth-averaged speed [m/s], > 0; NaN or none gives NaN.
    angle_deg
        Cast angle down from straight across [degrees], 0 to 90.
    settings
        Factors and the angle of the hang-down.

    Notes
    -----
    t = L / (k Us) ln[tan(a0/2) / tan(a1/2)], a measured from straight down the current, Us the
    surface speed: a straight line that turns about the angler with the normal part of the current
    (da/dt = -k Us sin(a) / L, integrated). k from our own line model; a cast that already lies
    below the hang-down takes no time.
    """
    start = np.radians(90.0 - np.asarray(angle_deg, dtype=np.float64))
    end = np.radians(settings.hang_deg)
    surface = settings.surface_factor * np.asarray(speed_m_s, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        turned = np.log(np.tan(np.maximum(start, end) / 2) / np.tan(end / 2))
        seconds = np.asarray(line_m) / (settings.swing_factor * surface) * turned
    return np.where(surface > 0, seconds, np.nan)


def closed_pace(speed_m_s: ArrayLike, angle_deg: ArrayLike, settings: SwingSettings) -> FloatArray:
    """Return the mean speed of the fly over the ground through the swing [m/s].

    Notes
    -----
    The fly runs the arc L (a0 - a1) in the time of `closed_time`, so L falls out: longer line makes
    a longer swing, not a quicker one.
    """
    start = np.radians(90.0 - np.asarray(angle_deg, dtype=np.float64))
    arc = np.maximum(start - np.radians(settings.hang_deg), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        pace = arc / closed_time(1.0, speed_m_s, angle_deg, settings)
    return np.where(arc > 0, pace, 0.0) + 0.0 * np.asarray(speed_m_s, dtype=np.float64)


def closed_depth(
    tip_m: ArrayLike, sink_m_s: ArrayLike, speed_m_s: ArrayLike, settings: SwingSettings
) -> FloatArray:
    """Return the depth of the fly at the hang-down in uniform water [m].

    Parameters
    ----------
    tip_m
        Length of the sinking tip [m].
    sink_m_s
        How fast it sinks in still water [m/s].
    speed_m_s
        Depth-averaged speed [m/s].
    settings
        Factor of our own line model.

    Notes
    -----
    depth = 0.98 tip vs / U: the tip lies at the slope at which its sinking balances the current;
    never more than the tip's own length.
    """
    tip = np.asarray(tip_m, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        depth = settings.hang_depth_factor * tip * np.asarray(sink_m_s) / np.asarray(speed_m_s)
    return np.asarray(np.minimum(depth, tip))
