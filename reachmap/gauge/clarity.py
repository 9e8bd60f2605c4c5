"""Water clarity from the angler's own notes: power laws of flow for the rising and falling limb.

No coefficient ships with the program: turbidity and flow predict clarity well within a river and
badly between rivers. With too few notes the clarity is unknown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.special import stdtrit

from reachmap.base.arrays import FloatArray
from reachmap.gauge.clarity_data import (
    NOT_KNOWN,
    BasisKind,
    Clarity,
    ClarityBasis,
    ClarityNote,
    Limb,
)

FEWEST = 4
"""Fewest notes for a law; our choice, 3-8: two always fit and give no estimate of the error."""

SPREAD = 1.5
"""Least ratio of the highest to the lowest flow, or turbidity, of the notes of a law; our choice,
1.3-2."""

SURE = 0.8
"""Probability of the prediction interval of the band; our choice, 0.7-0.9."""

FARTHEST_M = 20.0
"""Upper limit of clarity in a river [m]; our choice, 10-40."""

BEYOND = 1.25
"""Extrapolation limit of a law beyond its notes, as a ratio of flows; our choice, 1.1-1.5."""

OWN_DOUBT = 0.4
"""Assumed relative error of a law through two sightings; our choice, 0.3-0.6."""

HOLDS_DAYS = 1.5
"""How long a single note is valid while the river neither rises nor falls much; our choice,
0.5-3."""

HOLDS_RATIO = 1.2
"""Ratio of flows within which a single note is valid; our choice, 1.1-1.4."""


POWERS = (0.12, 1.38)
"""Least and greatest b of clarity = a Q^-b in twelve rivers: Davies-Colley (1990), abstract."""

HELD_BAND = (0.7, 1.4)
"""A single note's band, as shares of it; our choice, 0.5-0.9 and 1.2-2."""

FALL_RATIO = 0.25
"""A single note is carried no further along a fall than to this share of its flow; our choice,
0.15-0.5."""


@dataclass(frozen=True, slots=True)
class Law:
    """clarity = scale x^-power, from notes; `scatter` of ln clarity, `low` to `high` range of x.

    `middle` and `spread` are mean of ln x and its sum of squares, which the band needs.
    """

    scale: float
    power: float
    scatter: float
    notes: int
    low: float
    high: float
    middle: float
    spread: float


@dataclass(frozen=True, slots=True)
class ClarityModel:
    """Laws fitted to the notes: one for each limb, one for both, and one of turbidity.

    `clears` is the rate at which ln clarity grew between notes of one fall [1/d], NaN with too few;
    `clears_notes` how many pairs it rests on. `notes` holds the dated notes, oldest first.
    `own` are scale and power of a law through the two sightings set in reach.toml, if any.
    """

    rising: Law | None
    falling: Law | None
    both: Law | None
    turbidity: Law | None
    clears: float
    clears_notes: int
    notes: tuple[ClarityNote, ...]
    own: tuple[float, float] | None = None


def fit_law(x: FloatArray, clarity: FloatArray) -> Law | None:
    """Return the power law fitted by least squares in logarithms; None with too few or unfit notes.

    Parameters
    ----------
    x
        Flow [m3/s] or turbidity, > 0, shape (n,); NaN is left out.
    clarity
        Clarity noted [m], > 0, shape (n,).

    Notes
    -----
    ln y = ln a - b ln x by least squares; y = a Q^-b held in eleven of twelve New Zealand rivers, b
    from 0.12 to 1.38 [1]_; for turbidity the power law is strong and differs between rivers [2]_.
    A law by which clarity grows with flow or turbidity is rejected.

    References
    ----------
    .. [1] Davies-Colley (1990), N.Z. Journal of Marine and Freshwater Research 24:453; abstract.
    .. [2] Smith, Davies-Colley, Knoef and Slot (1997), Journal of the American Water Resources
       Association; abstract.
    """
    good = np.isfinite(x) & (x > 0) & np.isfinite(clarity) & (clarity > 0)
    x, clarity = x[good], clarity[good]
    if x.size < FEWEST or x.max() < SPREAD * x.min():
        return None
    across, up = np.log(x), np.log(clarity)
    middle = float(across.mean())
    spread = float(((across - middle) ** 2).sum())
    power = -float(((across - middle) * up).sum() / spread)
    if power <= 0:
        return None
    scale = float(np.exp(up.mean() + power * middle))
    misses = up - np.log(scale) + power * across
    scatter = float(np.sqrt((misses**2).sum() / (x.size - 2)))
    return Law(scale, power, scatter, int(x.size), float(x.min()), float(x.max()), middle, spread)


def by_law(law: Law, x: float, basis: ClarityBasis) -> Clarity:
    """Return the clarity by a law at a flow or turbidity; unknown beyond the range of its notes."""
    if not law.low / BEYOND <= x <= law.high * BEYOND:
        return NOT_KNOWN
    low, mid, high = law_band(law, x)
    return Clarity(mid, low, high, basis)


def law_band(law: Law, x: float) -> tuple[float, float, float]:
    """Return low end, estimate and high end of the clarity by a law [m], at any flow or turbidity.

    Notes
    -----
    The prediction interval of a straight line by least squares, in logarithms: it widens away from
    the middle of the notes.
    """
    across = math.log(x)
    estimate = math.log(law.scale) - law.power * across
    width = law.scatter * math.sqrt(1 + 1 / law.notes + (across - law.middle) ** 2 / law.spread)
    width *= float(stdtrit(law.notes - 2, 0.5 + SURE / 2))
    low, mid, high = (min(math.exp(estimate + off), FARTHEST_M) for off in (-width, 0.0, width))
    return low, mid, high


def fit_clarity(
    notes: Sequence[ClarityNote], *, own: tuple[float, float] | None = None
) -> ClarityModel:
    """Return the laws fitted to the notes, limb by limb; an empty model where there are too few.

    Parameters
    ----------
    notes
        The notes, in any order.
    own
        Scale and power of the angler's own law, used where the notes give none.
    """
    dated = sorted((note for note in notes if not np.isnat(note.when)), key=lambda n: n.when)
    clears, pairs = _clearing(dated)
    return ClarityModel(
        rising=_law_of([note for note in notes if note.limb is Limb.RISING]),
        falling=_law_of([note for note in notes if note.limb is Limb.FALLING]),
        both=_law_of(notes),
        turbidity=fit_law(
            np.array([note.turbidity for note in notes], dtype=np.float64),
            np.array([note.clarity_m for note in notes], dtype=np.float64),
        ),
        clears=clears,
        clears_notes=pairs,
        notes=tuple(dated),
        own=own,
    )


def _law_of(notes: Sequence[ClarityNote]) -> Law | None:
    """Return the law of flow of some notes."""
    flow = np.array([note.flow for note in notes], dtype=np.float64)
    return fit_law(flow, np.array([note.clarity_m for note in notes], dtype=np.float64))


def _clearing(dated: Sequence[ClarityNote]) -> tuple[float, int]:
    """Return the rate of clearing between notes of one recession [1/d], and the number of pairs.

    A pair is two notes on the falling limb, a third of a day to five days apart, the flow not
    higher at the later one; the rate is their median. NaN with fewer than three pairs.
    """
    rates = []
    for first, second in pairwise(dated):
        days = (second.when - first.when) / np.timedelta64(1, "D")
        falls = first.limb is Limb.FALLING and second.limb is Limb.FALLING
        if falls and 0.3 <= days <= 5 and second.flow <= first.flow:
            rates.append(math.log(second.clarity_m / first.clarity_m) / days)
    if len(rates) < 3:
        return math.nan, len(rates)
    return float(np.median(rates)), len(rates)


def clarity_on(
    model: ClarityModel,
    *,
    flow: float,
    limb: Limb,
    when: np.datetime64,
    since_low: np.datetime64,
) -> Clarity:
    """Return the clarity at a flow and time [m], by the best rule the notes allow.

    Parameters
    ----------
    model
        From `fit_clarity`.
    flow
        The flow then [m3/s]; NaN makes the clarity unknown.
    limb
        Rising or falling limb at that time.
    when
        The time, UTC.
    since_low
        When the present limb began, UTC: an older note belongs to another storm. NaT for none.

    Notes
    -----
    In this order: the newest note of this limb carried on by the limb's law; the limb's law; the
    newest note of this fall, cleared on at the river's own rate; the law of both limbs; the newest
    note as it stands, for `HOLDS_DAYS` while the flow keeps within `HOLDS_RATIO`; the angler's own
    law; the newest note of this fall, cleared along it as rivers do.
    """
    if not (math.isfinite(flow) and flow > 0):
        return NOT_KNOWN
    note = _newest(model.notes, limb, when, since_low)
    law = {Limb.RISING: model.rising, Limb.FALLING: model.falling}.get(limb)
    if law is not None:
        estimate = by_law(law, flow, ClarityBasis(BasisKind.LIMB_NOTES, law.notes, limb))
        return estimate if note is None else _carried(estimate, law, note)
    if note is not None and limb is Limb.FALLING and math.isfinite(model.clears):
        return _cleared(model, note, when)
    if model.both is not None:
        return by_law(model.both, flow, ClarityBasis(BasisKind.ALL_NOTES, model.both.notes))
    held = _held(note, flow, when)
    if math.isfinite(held.metres):
        return held
    if model.own is not None:
        return by_own(model.own, flow)
    return _along_fall(note, flow) if limb is Limb.FALLING else NOT_KNOWN


def by_own(own: tuple[float, float], flow: float) -> Clarity:
    """Return the clarity by a law through two sightings; its band is our choice (`OWN_DOUBT`)."""
    scale, power = own
    seen = min(scale * flow**-power, FARTHEST_M)
    low, high = seen * (1 - OWN_DOUBT), seen * (1 + OWN_DOUBT)
    return Clarity(seen, low, high, ClarityBasis(BasisKind.OWN_LAW))


def _newest(
    notes: Sequence[ClarityNote], limb: Limb, when: np.datetime64, since: np.datetime64
) -> ClarityNote | None:
    """Return the newest note of the present limb before a time; None where there is none."""
    for note in reversed(notes):
        if note.when <= when:
            mine = note.limb in (limb, Limb.UNKNOWN) and not (note.when < since)
            return note if mine and math.isfinite(note.flow) else None
    return None


def _carried(estimate: Clarity, law: Law, note: ClarityNote) -> Clarity:
    """Return the clarity by a law, moved halfway in logarithms towards the newest note.

    Halfway: the note is of this storm, the law of all storms; our choice, 0.3-0.7.
    """
    here = by_law(law, note.flow, estimate.basis)
    if not (math.isfinite(estimate.metres) and math.isfinite(here.metres)):
        return estimate
    move = math.sqrt(note.clarity_m / here.metres)
    low, mid, high = (
        min(one * move, FARTHEST_M) for one in (estimate.low, estimate.metres, estimate.high)
    )
    return Clarity(mid, low, high, replace(estimate.basis, storm_note=True))


def _cleared(model: ClarityModel, note: ClarityNote, when: np.datetime64) -> Clarity:
    """Return the newest note extrapolated at the river's rate of clearing, up to the clearest note.

    The band is that of the rate: half of it to half as much again (our choice).
    """
    days = float((when - note.when) / np.timedelta64(1, "D"))
    most = max(one.clarity_m for one in model.notes)
    slow, mid, quick = (
        min(note.clarity_m * math.exp(share * model.clears * days), most)
        for share in (0.5, 1.0, 1.5)
    )
    basis = ClarityBasis(BasisKind.CLEARED_NOTE, model.clears_notes)
    return Clarity(mid, min(slow, mid, quick), max(slow, mid, quick), basis)


def _along_fall(note: ClarityNote | None, flow: float) -> Clarity:
    """Return a single note of this recession extrapolated with the falling flow.

    Clarity = a Q^-b through the note; b lies within what twelve rivers showed (`POWERS`), the
    estimate with the geometric mean, the band with the error of a single note added. Valid once the
    flow has fallen by `HOLDS_RATIO`, down to `FALL_RATIO` of the note's flow.
    """
    if note is None or not note.flow * FALL_RATIO <= flow < note.flow / HOLDS_RATIO:
        return NOT_KNOWN
    low, high = POWERS
    slow, mid, quick = (
        min(note.clarity_m * (note.flow / flow) ** power, FARTHEST_M)
        for power in (low, math.sqrt(low * high), high)
    )
    low, high = slow * HELD_BAND[0], min(quick * HELD_BAND[1], FARTHEST_M)
    return Clarity(mid, low, high, ClarityBasis(BasisKind.FALL_NOTE))


def _held(note: ClarityNote | None, flow: float, when: np.datetime64) -> Clarity:
    """Return a single note unchanged, while it is valid (`HOLDS_DAYS`, `HOLDS_RATIO`)."""
    if note is None or (when - note.when) / np.timedelta64(1, "D") > HOLDS_DAYS:
        return NOT_KNOWN
    if not 1 / HOLDS_RATIO <= flow / note.flow <= HOLDS_RATIO:
        return NOT_KNOWN
    seen = note.clarity_m
    low, high = (seen * share for share in HELD_BAND)
    return Clarity(seen, low, high, ClarityBasis(BasisKind.HELD_NOTE))
