"""The casts of the trade as data: how much room each loop takes, and on which side it lies.

Shares and angles are from memory and the angler's to change; there is no published source. A double
spey's loop is set farther back than that of a snap-T or circle C, which is formed at an angle
(common practice): they differ in `back_share`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from reachmap.base.schema_angler import CASTS as CAST_COLUMNS
from reachmap.base.words import Cast, CastFit, LoopSide


class Leg(StrEnum):
    """How the lower part of the line behind the angler lies."""

    RISING = "rising"
    """Straight from the water in front up to the loop's apex."""
    HANGING = "hanging"
    """It hangs from the rod tip beside the angler."""
    LEVEL = "level"
    """The whole line straightens behind, at the height of the apex."""


@dataclass(frozen=True, slots=True)
class CastShape:
    """One cast at its key position.

    `anchored` is the share of the head left on the water, `tilt_deg` the rod's lean back from
    upright [degrees], `apex_share` the height of the loop's apex over that of the rod tip, both
    above the water. `back_share` is how much of the loop's reach lies straight behind, less than 1
    for a cast whose loop is formed at an angle to the target.
    """

    anchored: float
    tilt_deg: float
    apex_share: float
    leg: Leg
    side: LoopSide
    back_share: float = 1.0


ANGLED = 0.85
"""Share of a loop formed at an angle that lies straight behind; our choice, 0.75-0.95: the cosine
of some 30 degrees."""

CASTS: Mapping[Cast, CastShape] = MappingProxyType(
    {
        Cast.PERRY_POKE: CastShape(0.25, 22, 0.35, Leg.RISING, LoopSide.UPSTREAM),
        Cast.DOUBLE_SPEY: CastShape(0.15, 28, 0.35, Leg.RISING, LoopSide.DOWNSTREAM),
        Cast.SNAP_T: CastShape(0.15, 28, 0.35, Leg.RISING, LoopSide.UPSTREAM, ANGLED),
        Cast.CIRCLE_C: CastShape(0.15, 28, 0.35, Leg.RISING, LoopSide.UPSTREAM, ANGLED),
        Cast.SINGLE_SPEY: CastShape(0.10, 28, 0.40, Leg.RISING, LoopSide.UPSTREAM),
        Cast.SNAKE_ROLL: CastShape(0.10, 25, 0.40, Leg.RISING, LoopSide.DOWNSTREAM),
        Cast.UNDERHAND: CastShape(0.05, 20, 0.45, Leg.RISING, LoopSide.EITHER),
        Cast.STATIC_ROLL: CastShape(0.25, 15, 0.35, Leg.HANGING, LoopSide.EITHER),
        Cast.OVERHEAD: CastShape(0.00, 20, 0.75, Leg.LEVEL, LoopSide.EITHER),
    }
)
"""Every cast, in the order in which they are offered: least room first among those that carry a
full head. Shares, tilts and apexes from memory; the apex of the static roll and of the overhead
cast are our choice (0.1-0.3 and 0.6-0.9)."""

FULL_CASTS: tuple[Cast, ...] = tuple(
    cast for cast, shape in CASTS.items() if shape.leg is Leg.RISING
)
"""Casts with a D-loop that can carry a full head."""


def casts_with(row: Mapping[str, Any], *fits: CastFit) -> list[Cast]:
    """Return the casts with such room at a row of the layer `stations`, in the order of `fits`."""
    return [cast for fit in fits for cast in CASTS if row[CAST_COLUMNS[cast]] == fit]
