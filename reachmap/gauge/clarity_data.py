"""Clarity as data: notes of how far somebody saw, and a clarity with what it rests on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np


class Limb(StrEnum):
    """Whether the river rose or fell."""

    RISING = "rising"
    FALLING = "falling"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class ClarityNote:
    """How far somebody saw [m], > 0; flow [m3/s], turbidity [its own units] and time where known.

    `when` is UTC, NaT unknown; flow and turbidity are NaN where unknown.
    """

    clarity_m: float
    flow: float = math.nan
    turbidity: float = math.nan
    limb: Limb = Limb.UNKNOWN
    when: np.datetime64 = np.datetime64("NaT", "s")  # noqa: RUF009 - an immutable value


class BasisKind(StrEnum):
    """What a clarity was derived from."""

    NONE = "none"
    LIMB_NOTES = "limb_notes"
    ALL_NOTES = "all_notes"
    CLEARED_NOTE = "cleared_note"
    HELD_NOTE = "held_note"
    FALL_NOTE = "fall_note"
    OWN_LAW = "own_law"
    SAID = "said"
    TURBIDITY = "turbidity"


@dataclass(frozen=True, slots=True)
class ClarityBasis:
    """What a clarity rests on.

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
    """How far one sees [m] with its band, NaN where not known, and what it rests on."""

    metres: float
    low: float
    high: float
    basis: ClarityBasis


NOT_KNOWN = Clarity(math.nan, math.nan, math.nan, ClarityBasis(BasisKind.NONE))
