"""Speed near the bed from the mean over the depth, by the law of the wall."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY, KARMAN


def near_bed_share(depth: FloatArray, roughness: FloatArray, height: float) -> FloatArray:
    """Return the speed at a height above the bed over the mean speed, 0 to 1.

    Parameters
    ----------
    depth
        Of the water [m], > 0.
    roughness
        Manning's n at that depth [s/m^(1/3)], > 0.
    height
        Above the bed [m], > 0. In water less than e times as deep the mean speed is taken.

    Notes
    -----
    u(z) = (u*/k) ln(z/z0) has the mean U = (u*/k) (ln(h/z0) - 1) over a depth h much above z0, so
    that u(z)/U = 1 + (u*/U) (ln(z/h) + 1)/k: the size of the grains z0 falls out, and Manning's n
    gives the shear speed, u*/U = n sqrt(g) / h^(1/6). Where the law would run backwards, deep
    within the grains, it is held at 0.

    Sources: the law of the wall and its mean over the depth as in any text on open channels
    (Keulegan 1938, from memory: mean speed at z = h/e); u* = sqrt(g h S) with Manning's formula.
    """
    shear = roughness * np.sqrt(GRAVITY) / depth ** (1 / 6)
    share = 1.0 + shear / KARMAN * (np.log(height / depth) + 1.0)
    return np.asarray(np.clip(share, 0.0, 1.0))
