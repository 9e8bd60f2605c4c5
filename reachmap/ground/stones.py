"""The stones of a reach's bed, as given in reach.toml, and the depth at which n is given."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.resistance import Stones
from reachmap.ground.form import Form
from reachmap.ground.layout import Layout
from reachmap.ground.settings import StoneSettings
from reachmap.markup.model import Plan


def given_size(plan: Plan, rules: StoneSettings) -> float:
    """Return the size of the stones that reach.toml gives, or its word means [m]; 0: no law.

    Sand, silt and bedrock have one n at every depth, and so has a bed whose kind is not given: the
    law makes edges slower and the form shallower, which must not be guessed.
    """
    if np.isfinite(plan.stones_m):
        return plan.stones_m
    words = {"gravel": rules.gravel_m, "cobble": rules.cobble_m, "boulder": rules.boulder_m}
    return words.get(plan.bed, 0.0)


def mean_depth(
    layout: Layout, forms: tuple[Form, ...], level: FloatArray, seen: FloatArray | None
) -> float:
    """Return the mean depth of the lowest water seen [m]: of the forms, or over a bed seen.

    Parameters
    ----------
    layout
        The drawing.
    forms
        Of each channel, closed with one n at every depth.
    level
        Of the lowest water at the cells [m].
    seen
        A DEM at the cells [m], NaN where it does not know; None without one. It counts where there
        is no form: then it has seen the bed.
    """
    depth = np.concatenate([form.depth[form.depth > 0] for form in forms])
    if depth.size == 0 and seen is not None:
        depth = (level - seen)[layout.water]
        depth = depth[depth > 0]
    return float(depth.mean()) if depth.size else 0.0


def stones_under(size: float, depth: float, rules: StoneSettings) -> Stones:
    """Return the stones of a size [m] under water of a mean depth [m] that hold back its flow."""
    counted = min(size, rules.share_high * depth)
    return Stones(counted, depth) if counted > 0 else Stones()
