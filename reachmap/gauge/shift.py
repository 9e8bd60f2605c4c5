"""Shifts of a rating, read from its file's comments, and their application to a stage.

Q = R(h + s(h)): R the base rating, s the shift. SHIFT_PREV gives up to three pairs of stage and
shift; the pairs of SHIFT_NEXT hold from a later time on and are not read.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.units import to_si
from reachmap.gauge.model import RatingShift
from reachmap.gauge.parts import NUMBER

_PAIR = re.compile(rf"(STAGE|SHIFT)(\d)\s*=\s*\"?\s*({NUMBER})(?![-+.\w])")


def shift_of_comments(comments: Sequence[str]) -> RatingShift | None:
    """Return the shift in force by a rating file's comments [m]; None where they give none."""
    found: dict[str, dict[int, float]] = {"STAGE": {}, "SHIFT": {}}
    for line in comments:
        if "//SHIFT_PREV" in line and "COMMENT" not in line:
            for kind, number, value in _PAIR.findall(line):
                found[kind][int(number)] = float(value)
    both = sorted(found["STAGE"].keys() & found["SHIFT"].keys())
    if not both:
        return None
    pairs = sorted((found["STAGE"][number], found["SHIFT"][number]) for number in both)
    stage, shift = np.array(pairs, dtype=np.float64).T
    return RatingShift(to_si(stage, "ft"), to_si(shift, "ft"))


def shift_at(shift: RatingShift, stage: FloatArray) -> FloatArray:
    """Return the shift at stages [m]: linear between its pairs, constant outside them."""
    return np.asarray(np.interp(stage, shift.stage_m, shift.shift_m))


def shifted(stage: FloatArray, shift: RatingShift | None) -> FloatArray:
    """Return stages plus shift, as the base rating takes them [m]."""
    return stage if shift is None else stage + shift_at(shift, stage)
