"""A low water that must fall: by its own heights, else by what the angler said or noted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.channels import Channel
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.markup.model import Level

LEAST_FALL = 1e-5
"""A river falls more than this [m/m] (our choice: a centimetre in a kilometre)."""

STILL_FALL = 1e-4
"""Fall taken where heights, slope and notes tell none [m/m] (our choice, 2e-5 to 5e-4: a large
lowland river; a decimetre in a kilometre)."""


def noted_slope(main: Channel, levels: Sequence[Level]) -> float:
    """Return the slope fitted to noted levels [m/m]; NaN where they lie too near to tell one."""
    if len(levels) < 2:
        return float("nan")
    x = np.array([one.place.x for one in levels])
    y = np.array([one.place.y for one in levels])
    station, _ = main.line.to_station_offset(x, y)
    if np.ptp(station) <= 2 * main.median_width:
        return float("nan")
    return -float(np.polyfit(station, [one.level_m for one in levels], 1)[0])


@dataclass(frozen=True, slots=True)
class Fall:
    """A fall that heights did not tell [m/m], NaN where they did, and a note on its source."""

    slope: float
    notes: tuple[GroundNote, ...]


def fall_of(main: Channel, level: FloatArray, slope: float, levels: Sequence[Level]) -> Fall:
    """Return the fall of a river whose level does not fall along the line.

    A bed that rises along a short reach, water held back from below, or noise along flat edges
    leave no fall: then the angler's slope rules, else that of the levels noted, else `STILL_FALL`,
    so that the reach is mapped all the same.
    """
    if float(level[0] - level[-1]) / main.line.length > LEAST_FALL:
        return Fall(float("nan"), ())
    noted = noted_slope(main, levels)
    if np.isfinite(slope) and slope > LEAST_FALL:
        return Fall(slope, (GroundNote(GroundNoteKind.NO_FALL_SLOPE_SAID, (slope,)),))
    if noted > LEAST_FALL:
        return Fall(noted, (GroundNote(GroundNoteKind.NO_FALL_SLOPE_NOTED, (noted,)),))
    return Fall(STILL_FALL, (GroundNote(GroundNoteKind.NO_FALL_SLOPE_GUESSED, (STILL_FALL,)),))


def falling_level(
    main: Channel, level: FloatArray, slope: float, levels: Sequence[Level]
) -> tuple[FloatArray, list[GroundNote]]:
    """Return a level read from ground that falls: its own, or by `fall_of` about its mean."""
    fall, line = fall_of(main, level, slope, levels), main.line
    if np.isnan(fall.slope):
        return level, []
    return float(level.mean()) + fall.slope * (line.length / 2 - line.station), [*fall.notes]


def still_level(
    main: Channel, level: FloatArray, slope: float, levels: Sequence[Level]
) -> tuple[FloatArray, Fall]:
    """Return a level seen as water, and its fall: where it lies still it is left where it was seen.

    It is tilted by twice `LEAST_FALL` alone, millimetres, and the fall is that beyond the reach.
    """
    fall, line = fall_of(main, level, slope, levels), main.line
    if np.isnan(fall.slope):
        return level, fall
    return float(level.mean()) + 2 * LEAST_FALL * (line.length / 2 - line.station), fall
