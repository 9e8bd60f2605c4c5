"""Cross-validation of the clarity law: each storm's notes against a law of the other storms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.gauge.clarity import clarity_on, fit_clarity
from reachmap.gauge.clarity_data import ClarityNote, Limb

APART_DAYS = 5.0
"""Longest gap between notes of one storm [d]; our choice, 3-10."""

LONGEST_DAYS = 5.5
"""Longest forecast after a storm's first note [d]."""


@dataclass(frozen=True, slots=True)
class ClarityHindcast:
    """Errors of the clarity forecast for later notes of a storm from its first one.

    Parameters
    ----------
    days
        Days after the storm's first note on the fall, shape (n,).
    errors
        ln(seen / forecast), by the law of the other storms' notes moved by this storm's first note;
        NaN where they give no law.
    persistence
        ln(seen / first note): the error of a persistence forecast.
    """

    days: FloatArray
    errors: FloatArray
    persistence: FloatArray


def storms_of_notes(notes: Sequence[ClarityNote]) -> IntArray:
    """Return which storm each dated note belongs to, oldest first, shape (n,)."""
    when = np.array([note.when for note in notes], dtype="datetime64[s]")
    gaps = np.diff(when) / np.timedelta64(86_400, "s") > APART_DAYS
    return np.asarray(np.r_[0, np.cumsum(gaps)][: when.size].astype(np.int64))


def hindcast_clarity(notes: Sequence[ClarityNote]) -> ClarityHindcast:
    """Return the errors on each storm's recession of a law fitted to the notes of the others.

    Parameters
    ----------
    notes
        Notes with time and flow; those on the falling limb are forecast. The flow at that time is
        taken as known: this tests the law of clarity, not the forecast of the flow.
    """
    dated = sorted((n for n in notes if not np.isnat(n.when)), key=lambda note: note.when)
    storm = storms_of_notes(dated)
    days, errors, persistence = [], [], []
    for one in np.unique(storm):
        mine = [n for n, at in zip(dated, storm, strict=True) if at == one]
        falls = [n for n in mine if n.limb is Limb.FALLING]
        if len(falls) < 2:
            continue
        others = [n for n, at in zip(dated, storm, strict=True) if at != one]
        model = fit_clarity([*others, falls[0]])
        for note in falls[1:]:
            ahead = float((note.when - falls[0].when) / np.timedelta64(86_400, "s"))
            if ahead > LONGEST_DAYS:
                continue
            forecast = clarity_on(
                model, flow=note.flow, limb=Limb.FALLING, when=note.when, since_low=falls[0].when
            )
            days.append(ahead)
            errors.append(float(np.log(note.clarity_m / forecast.metres)))
            persistence.append(float(np.log(note.clarity_m / falls[0].clarity_m)))
    return ClarityHindcast(np.array(days), np.array(errors), np.array(persistence))
