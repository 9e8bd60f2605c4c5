"""Scale of the error of the bed's form, estimated from the soundings' misfit."""

from __future__ import annotations

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.ground.settings import SpreadSettings
from reachmap.ground.soundings import Doubt, Noise, Places

MEASURED = ("surface",)
"""Sources of the low water's level that measured it all along; any other is a drawing."""


def thinned(count: int, most: int) -> IntArray:
    """Return the numbers of at most `most` of `count` soundings, evenly picked.

    The misfit's system grows with the square of their number; a few hundred are enough.
    """
    return np.linspace(0, count - 1, min(count, most)).astype(np.int32)


def misfit_of(known: Places, residual: FloatArray, doubt: Doubt, noise: Noise) -> float:
    """Return the misfit of soundings to the form: r' K^-1 r.

    About their number where the covariance K is as large as their residuals show.

    Parameters
    ----------
    known
        Where soundings were taken.
    residual
        Their bed less the form's [m], shape (n,).
    doubt
        Covariance of the bed's residual.
    noise
        Errors of the soundings.
    """
    if not residual.size:
        return 0.0
    factor = cho_factor(doubt.between(known, known) + noise.covariance(), lower=True)
    return float(residual @ cho_solve(factor, residual))


def form_error_factor(misfit: float, number: int, settings: SpreadSettings, *, how: str) -> float:
    """Return by how much the form's error is larger than the stage's settings say, at least 1.

    The most likely factor of the standard deviation, given how far the soundings were off the form:
    the variance's prior is an inverse gamma law worth `prior_soundings` soundings about the square
    of `surface_doubt`, or of `drawn_doubt` where no water surface was measured. Soundings that lie
    nearer the form than expected do not narrow it: they are taken where one can wade, and on made
    rivers the spread then held 52 % of the true depths for 60 (docs/uncertainty.md). The bed stays
    as it was kriged: only its spread follows.

    Parameters
    ----------
    misfit, number
        From `misfit_of`, over all channels, and of how many soundings.
    settings
        Of the spread.
    how
        How the low water's level came (`low_water.LowWater.how`).
    """
    before = settings.surface_doubt if how in MEASURED else settings.drawn_doubt
    worth = settings.prior_soundings
    likely = (worth * before**2 + misfit) / (worth + number)
    return float(np.sqrt(max(likely, 1.0)))
