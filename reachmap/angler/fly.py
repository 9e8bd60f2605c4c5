"""Fly by water clarity: a table the angler may change.

Common practice; there is no published source for any of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reachmap.base.language import noted
from reachmap.base.units import to_si


@dataclass(frozen=True, slots=True)
class FlyRow:
    """Fly for water of at least the visibility `clarity_m` [m].

    `short_m, long_m` are the fly's length [m], `colour` and `shape` plain words, `note` what else.
    """

    clarity_m: float
    short_m: float
    long_m: float
    colour: str
    shape: str
    note: str


def _row(feet: float, inches: tuple[float, float], colour: str, shape: str, note: str) -> FlyRow:
    """Return a row given in feet of clarity and inches of fly."""
    short, long = (to_si(one, "in") for one in inches)
    return FlyRow(to_si(feet, "ft"), short, long, colour, shape, note)


FLIES: tuple[FlyRow, ...] = (
    _row(
        0.0,
        (4.0, 5.0),
        noted("black and blue"),
        noted("bulky"),
        noted("hardly fishable: only the soft edge"),
    ),
    _row(
        1.0,
        (3.5, 4.5),
        noted("black and blue or black and red"),
        noted("bulky, flashy"),
        noted("fish the soft edge"),
    ),
    _row(
        2.0,
        (3.0, 4.0),
        noted("purple, pink or orange"),
        noted("full"),
        noted("the edges and the walking water"),
    ),
    _row(
        4.0, (2.0, 3.0), noted("pink, orange or olive"), noted("medium"), noted("all swing water")
    ),
    _row(
        8.0,
        (1.0, 2.0),
        noted("dark or natural"),
        noted("sparse"),
        noted("low light, longer leader, farther off"),
    ),
)
"""Rows by rising clarity; common practice, no published source."""


def fly_for(clarity_m: float, table: Sequence[FlyRow] = FLIES) -> FlyRow | None:
    """Return the row of the table for a clarity [m]; None where it is not known.

    Raises
    ------
    ValueError
        If the table does not rise from zero.
    """
    limits = [row.clarity_m for row in table]
    if not limits or limits[0] != 0.0 or limits != sorted(limits):
        msg = "the fly table must rise from a clarity of zero"
        raise ValueError(msg)
    if not math.isfinite(clarity_m):
        return None
    return [row for row in table if row.clarity_m <= max(clarity_m, 0.0)][-1]
