"""Tracks of a boat that drifts, as speeds of the water's surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Point

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import SpeedHow
from reachmap.markup.beside_river import beside_river
from reachmap.markup.features import Feature
from reachmap.markup.model import Origin, Speed
from reachmap.markup.tracks import Frame
from reachmap.markup.ways import Way, flow_of

SPAN_S, PARTS = 30.0, 3
"""A speed is the way of this time [s], held against that of so many parts of it (our choices,
20-60 s and 3-4): over ten seconds a receiver's places are off alike."""

STEADY = 1.35
"""A boat whose parts of a span differ by more than this factor is paddled, or runs over a lip (our
choice, 1.25-1.5)."""

DOWN = np.deg2rad(30.0)
"""A drifting boat goes down the river to within this [rad] (our choice, 20-40)."""

SLOWEST_M_S, FASTEST_M_S = 0.15, 4.0
"""Slower than this a boat stands or is aground, faster it is no water one wades beside [m/s]."""

LONGEST_STEP_S = 10.0
"""Places further apart than this say nothing on how steady a boat goes [s]."""

MOST_LEFT_OUT = 0.5
"""Where more than this share of a drift is unsteady or off its course, it was paddled, and nothing
of it is used (our choice, 0.3-0.6)."""


@dataclass(frozen=True, slots=True)
class Drifted:
    """Speeds of one file, how many spans were left out, or why nothing is used as (found, fix)."""

    speeds: tuple[Speed, ...] = ()
    left_out: int = 0
    wrong: tuple[str, str] | None = None


def drifted_speeds(
    ways: list[Way], rivers: tuple[Feature, ...], banks: tuple[Feature, ...], frame: Frame
) -> Drifted:
    """Return the speeds of the surface along a file's drifts, each set with its own group.

    Parameters
    ----------
    ways
        Of one file.
    rivers, banks
        As drawn.
    frame
        Of the folder.
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
    """Return middle, speed [m/s] and use of each span of a drift."""
    count = int((way.seconds[-1] - way.seconds[0]) // SPAN_S)
    at = way.seconds[0] + np.arange(count * PARTS + 1) * SPAN_S / PARTS
    x, y = (np.interp(at, way.seconds, one) for one in (way.x, way.y))
    parts = np.hypot(np.diff(x), np.diff(y)).reshape(count, PARTS) / (SPAN_S / PARTS)
    east, north = (np.diff(one[::PARTS]) for one in (x, y))
    speed = np.hypot(east, north) / SPAN_S
    middle_x, middle_y = (
        np.interp(at[:-1:PARTS] + SPAN_S / 2, way.seconds, one) for one in (way.x, way.y)
    )
    beside = beside_river(rivers, banks, middle_x, middle_y)
    if beside is None:
        return middle_x, middle_y, speed, np.zeros(count, dtype=bool)
    turn = np.arctan2(north, east) - beside.direction
    steady = parts.max(axis=1, initial=0) <= STEADY * parts.min(axis=1, initial=np.inf)
    good = steady & (np.abs(np.arctan2(np.sin(turn), np.cos(turn))) <= DOWN)
    good &= (beside.off <= beside.half) & (speed >= SLOWEST_M_S) & (speed <= FASTEST_M_S)
    return middle_x, middle_y, speed, np.asarray(good)
