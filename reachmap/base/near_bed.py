"""Speed near the bed from the mean over the depth, by the logarithmic law."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY, KARMAN

THINNEST_M = 0.01
"""Depth below which the friction speed is that of water so deep [m]: a film has no profile."""


def near_bed_share(
    depth: FloatArray, roughness: FloatArray, height: FloatArray | float
) -> FloatArray:
    """Return the speed at a height over the bed, over the mean over the depth, 0 to 1.

    Parameters
    ----------
    depth
        Of the water [m], > 0; the arguments broadcast together, NaN stays NaN.
    roughness
        Manning's n at that depth [s/m^(1/3)].
    height
        Over the bed [m], > 0.

    Notes
    -----
    u(z)/U = 1 + (u*/(karman U)) (1 + ln(z/h)), the law of the wall written so that its mean over
    the depth is U; u*/U = sqrt(g) n / h^(1/6) by Manning (both from memory). Never more than 1: in
    water hardly deeper than the height the mean itself is taken. Never less than 0: among brush the
    law ends above the height.
    """
    deep = np.maximum(np.asarray(depth, dtype=np.float64), THINNEST_M)
    friction = np.sqrt(GRAVITY) * np.asarray(roughness) / deep ** (1 / 6)
    share = 1.0 + friction / KARMAN * (1.0 + np.log(height / deep))
    return np.asarray(np.clip(share, 0.0, 1.0))
