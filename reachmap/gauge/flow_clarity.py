"""Clarity as a function of flow alone, as the map, cards and travel lanes use it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reachmap.gauge.clarity import ClarityModel, Law, by_own, law_band
from reachmap.gauge.clarity_data import BasisKind, Clarity, ClarityBasis, Limb


@dataclass(frozen=True, slots=True)
class FlowClarity:
    """Clarity of a river by its flow alone: a law and its basis."""

    law: Law
    basis: ClarityBasis

    def at(self, flow: float) -> Clarity:
        """Return the clarity at a flow [m3/s], > 0, with its band.

        Notes
        -----
        Beyond the flows of the notes the law is extrapolated and its band widens (`law_band`).
        Through two sightings alone it is that of `by_own`.
        """
        if self.basis.kind is BasisKind.OWN_LAW:
            return by_own((self.law.scale, self.law.power), flow)
        low, mid, high = law_band(self.law, flow)
        return Clarity(mid, low, high, self.basis)

    def noted(self, flow: float) -> bool:
        """Return whether the flow lies within the range of the notes."""
        return self.law.low <= flow <= self.law.high


def sighted(low: Sequence[float], high: Sequence[float]) -> FlowClarity:
    """Return the law clarity = alpha flow^-beta through two sightings.

    Parameters
    ----------
    low, high
        Flow [m3/s] and clarity seen at it [m], all > 0, at two different flows.

    Raises
    ------
    ValueError
        If a value is not positive or both flows are the same.

    Notes
    -----
    Of twelve New Zealand rivers eleven followed such a law well, beta 0.12 to 1.38 [1]_. Every
    river has its own: without two sightings there is none. It does not distinguish the rising from
    the falling limb: many rivers clear faster than they coloured.

    References
    ----------
    .. [1] Davies-Colley (1990), N.Z. Journal of Marine and Freshwater Research 24:453; abstract.
    """
    if min(*low, *high) <= 0 or low[0] == high[0]:
        msg = "flows and clarities must be > 0, and the flows differ"
        raise ValueError(msg)
    beta = math.log(low[1] / high[1]) / math.log(high[0] / low[0])
    first, last = sorted((low[0], high[0]))
    law = Law(low[1] * low[0] ** beta, beta, math.nan, 2, first, last, math.nan, math.nan)
    return FlowClarity(law, ClarityBasis(BasisKind.OWN_LAW))


def river_clarity(model: ClarityModel) -> FlowClarity | None:
    """Return clarity by flow from the fitted laws; None where the notes gave none.

    The law of the falling limb, on which one fishes; else the law of both limbs.
    """
    if model.falling is not None:
        basis = ClarityBasis(BasisKind.LIMB_NOTES, model.falling.notes, Limb.FALLING)
        return FlowClarity(model.falling, basis)
    if model.both is not None:
        return FlowClarity(model.both, ClarityBasis(BasisKind.ALL_NOTES, model.both.notes))
    return None
