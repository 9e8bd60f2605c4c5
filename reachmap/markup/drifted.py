"""Surface velocities from the tracks of a drifting boat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Point

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import SpeedHow
from reachmap.markup.features import Feature
from reachmap.markup.model import Origin, Speed
from reachmap.markup.river_position import river_position
from reachmap.markup.tracks import Frame
from reachmap.markup.ways import Way, flow_of

SPAN_S, PARTS = 30.0, 3
"""Time over which a speed is averaged [s], and number of parts of it compared with each other (our
choices, 20-60 s and 3-4): within ten seconds a receiver's errors are correlated."""

STEADY = 1.35
"""Largest factor between the parts of a span: beyond, the boat is paddled or runs over a lip (our
choice, 1.25-1.5)."""

DOWN = np.deg2rad(30.0)
"""Largest angle between a drift and the downstream direction [rad] (our choice, 20-40 degrees)."""

SLOWEST_M_S, FASTEST_M_S = 0.15, 4.0
"""Limits of the surface speed [m/s]: slower, a boat is anchored or aground; faster, it is no water
to wade by."""

LONGEST_STEP_S = 10.0
"""Longest interval between places for judging whether a boat's speed is steady [s]."""

MOST_LEFT_OUT = 0.5
"""Largest share of a drift that may be unsteady or off course; beyond, it was paddled and is not
used (our choice, 0.3-0.6)."""


@dataclass(frozen=True, slots=True)
class Drifted:
    """Speeds of one file and the number of spans left out, or why none is used as (found, fix)."""

    speeds: tuple[Speed, ...] = ()
    left_out: int = 0
    wrong: tuple[str, str] | None = None


def drifted_speeds(
    ways: list[Way], rivers: tuple[Feature, ...], banks: tuple[Feature, ...], frame: Frame
) -> Drifted:
    """Return the surface speeds along a file's drifts; each drift is a group of its own.

    Parameters
    ----------
    ways
        The paths recorded in one file.
    rivers, banks
        As drawn.
    frame
        Common properties of the folder.
    """
    file = ways[0].name.partition(",")[0]
    timed = [one for one in ways if np.isfinite(one.seconds).all()]
    if not timed:
        return Drifted(wrong=("its places have no times", "Export the track with its times"))
    flow = flow_of(file, np.concatenate([one.seconds for one in timed]), frame)
    if isinstance(flow, tuple):
        return Drifted(wrong=flow)
    if np.median(np.concatenate([np.diff(one.seconds) for one in timed])) > LONGEST_STEP_S:
        found = f"its places lie more than {LONGEST_STEP_S:.0f} s apart"
        return Drifted(wrong=(found, "Log a place each second"))
    speeds: list[Speed] = []
    spans = 0
    for way in timed:
        x, y, speed, good = _spans(way, rivers, banks)
        spans += good.size
        speeds += [
            Speed(Point(x[k], y[k]), float(speed[k]), flow, SpeedHow.SURFACE, Origin.FLOAT, file)
            for k in np.flatnonzero(good)
        ]
    left = spans - len(speeds)
    if not spans:
        return Drifted(wrong=(f"it is shorter than {SPAN_S:.0f} s", "Log a longer drift"))
    if left > MOST_LEFT_OUT * spans:
        found = (
            f"{left} of its {spans} stretches of {SPAN_S:.0f} s are unsteady, not down the river "
            "or not in the drawn water: the boat was paddled, stood, or was on the road"
        )
        return Drifted(left_out=left, wrong=(found, "Cut out of it where nobody paddled"))
    return Drifted(tuple(speeds), left)


def _spans(
    way: Way, rivers: tuple[Feature, ...], banks: tuple[Feature, ...]
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return x and y of its middle [m], speed [m/s] and usability of each span of a drift."""
    count = int((way.seconds[-1] - way.seconds[0]) // SPAN_S)
    at = way.seconds[0] + np.arange(count * PARTS + 1) * SPAN_S / PARTS
    x, y = (np.interp(at, way.seconds, one) for one in (way.x, way.y))
    parts = np.hypot(np.diff(x), np.diff(y)).reshape(count, PARTS) / (SPAN_S / PARTS)
    east, north = (np.diff(one[::PARTS]) for one in (x, y))
    speed = np.hypot(east, north) / SPAN_S
    middle_x, middle_y = (
        np.interp(at[:-1:PARTS] + SPAN_S / 2, way.seconds, one) for one in (way.x, way.y)
    )
    position = river_position(rivers, banks, middle_x, middle_y)
    if position is None:
        return middle_x, middle_y, speed, np.zeros(count, dtype=bool)
    turn = np.arctan2(north, east) - position.direction
    steady = parts.max(axis=1, initial=0) <= STEADY * parts.min(axis=1, initial=np.inf)
    good = steady & (np.abs(np.arctan2(np.sin(turn), np.cos(turn))) <= DOWN)
    good &= (position.off <= position.half) & (speed >= SLOWEST_M_S) & (speed <= FASTEST_M_S)
    return middle_x, middle_y, speed, np.asarray(good)
