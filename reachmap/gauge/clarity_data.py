"""Clarity as data: notes of the distance seen, and an estimate with its band and basis."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np


class Limb(StrEnum):
    """Limb of the hydrograph: rising or falling."""

    RISING = "rising"
    FALLING = "falling"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class ClarityNote:
    """A distance seen in the water [m], > 0; flow [m3/s], turbidity [as noted], time where known.

    `when` is UTC, NaT unknown; flow and turbidity are NaN where unknown.
    """

    clarity_m: float
    flow: float = math.nan
    turbidity: float = math.nan
    limb: Limb = Limb.UNKNOWN
    when: np.datetime64 = np.datetime64("NaT", "s")  # noqa: RUF009 - an immutable value


class BasisKind(StrEnum):
    """Rule by which a clarity was derived."""

    NONE = "none"
    LIMB_NOTES = "limb_notes"
    ALL_NOTES = "all_notes"
    CLEARED_NOTE = "cleared_note"
    HELD_NOTE = "held_note"
    FALL_NOTE = "fall_note"
    OWN_LAW = "own_law"
    GIVEN = "said"
    TURBIDITY = "turbidity"


@dataclass(frozen=True, slots=True)
class ClarityBasis:
    """Basis of a clarity.

    Parameters
    ----------
    kind
        The rule that gave it.
    notes
        How many notes its law rests on, or pairs of notes its rate of clearing.
    limb
        Of a law of one limb.
    storm_note
        Whether the newest note of the present limb moved the law.
    """

    kind: BasisKind
    notes: int = 0
    limb: Limb = Limb.UNKNOWN
    storm_note: bool = False


@dataclass(frozen=True, slots=True)
class Clarity:
    """Distance seen in the water [m] with its band, NaN where unknown, and its basis."""

    metres: float
    low: float
    high: float
    basis: ClarityBasis


NOT_KNOWN = Clarity(math.nan, math.nan, math.nan, ClarityBasis(BasisKind.NONE))
