"""Bends: stretches where the river turns, their inner side and radius."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.packed import values_at
from reachmap.base.words import Side
from reachmap.water.settings import BendSettings


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend: number downstream from 1, span along the line [m], inner side, turning, radius."""

    number: int
    station_m: float
    station_end_m: float
    inside: Side
    turn_deg: float
    radius_m: float
    width_m: float


def smoothed_direction(x: FloatArray, y: FloatArray, sigma: float) -> tuple[FloatArray, FloatArray]:
    """Return distance along a line [m] and its smoothed direction [rad, unwrapped] at even steps.

    Parameters
    ----------
    x, y
        Vertices [m], shape (n,), n >= 3.
    sigma
        Standard deviation of the Gaussian the vertices are smoothed with [m], >= 0.

    Notes
    -----
    The line is continued straight beyond both ends before smoothing, so that its ends keep their
    place and direction.
    """
    along = np.r_[0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))]
    keep = np.r_[True, np.diff(along) > 0]
    along, x, y = along[keep], np.asarray(x)[keep], np.asarray(y)[keep]
    step = max(sigma / 4, along[-1] / 20000, 1e-3)
    even = np.linspace(0.0, along[-1], max(round(along[-1] / step) + 1, 5))
    step = even[1]
    pad = int(np.ceil(4 * sigma / step)) + 1
    smooth = []
    for values in (np.interp(even, along, x), np.interp(even, along, y)):
        back = min(max(int(2 * sigma / step), 1), even.size - 1)
        head = values[0] + (values[back] - values[0]) / back * np.arange(-pad, 0)
        foot = values[-1] + (values[-1] - values[-1 - back]) / back * np.arange(1, pad + 1)
        longer = np.r_[head, values, foot]
        if sigma > 0:
            longer = gaussian_filter1d(longer, sigma / step, mode="nearest")
        smooth.append(longer[pad:-pad])
    turn = np.unwrap(np.arctan2(np.gradient(smooth[1], step), np.gradient(smooth[0], step)))
    return even, turn


def inflections(direction: FloatArray, turn_low: float) -> list[int]:
    """Return where a direction turns back, leaving out every turn smaller than `turn_low`.

    Parameters
    ----------
    direction
        Direction along a line [rad], shape (n,).
    turn_low
        Least turning that counts [rad], > 0.

    Returns
    -------
    list of int
        Indices of the lasting extremes, in order, first and last included: between two neighbours
        the line turns one way by at least `turn_low`. Empty where it never does.

    Notes
    -----
    One pass that keeps an extreme only once the direction has come back from it by `turn_low`: what
    is left does not depend on how finely the line is drawn.
    """
    kept: list[int] = []
    # `way`: 1 while the direction rises, -1 while it falls, 0 before the first lasting turn.
    low = high = way = 0
    for i in range(1, direction.size):
        here = direction[i]
        if way <= 0 and here < direction[low]:
            low = i
        if way >= 0 and here > direction[high]:
            high = i
        if way <= 0 and here - direction[low] >= turn_low:
            kept.append(low)
            way, high = 1, i
        elif way >= 0 and direction[high] - here >= turn_low:
            kept.append(high)
            way, low = -1, i
    if way:
        kept.append(high if way > 0 else low)
    return kept


def find_bends(x: FloatArray, y: FloatArray, width: float, settings: BendSettings) -> list[Bend]:
    """Return the bends of a line, downstream.

    Parameters
    ----------
    x, y
        The river's middle line, drawn downstream [m].
    width
        The river's usual width [m], > 0; every length of the rule is scaled by it.
    settings
        What counts as a bend.

    Notes
    -----
    Between two lasting inflections of the smoothed line the river turns one way. There a bend is a
    stretch that curves tighter than the largest radius (gaps of up to two widths bridged) and
    turns enough as a whole. The inside is the side it turns to.
    """
    along, turn = smoothed_direction(x, y, settings.smoothing_widths * width)
    least = np.radians(settings.turn_low_deg)
    ends = inflections(turn, least)
    curvature = np.gradient(turn, along)
    tight = 1.0 / (settings.radius_high_widths * width)
    bends: list[Bend] = []
    for first, last in itertools.pairwise(ends):
        way = np.sign(turn[last] - turn[first])
        inner = np.arange(first, last + 1)
        for start, end in _stretches(way * curvature[inner] >= tight, along[inner], 2 * width):
            a, b = inner[start], inner[end]
            turned = abs(turn[b] - turn[a])
            if turned < least or along[b] <= along[a]:
                continue
            bends.append(
                Bend(
                    number=len(bends) + 1,
                    station_m=float(along[a]),
                    station_end_m=float(along[b]),
                    inside=Side.LEFT if way > 0 else Side.RIGHT,
                    turn_deg=float(np.degrees(turned)),
                    radius_m=float((along[b] - along[a]) / turned),
                    width_m=width,
                )
            )
    return bends


def _stretches(mask: FloatArray, along: FloatArray, bridge: float) -> list[tuple[int, int]]:
    """Return first and last index of each stretch of True, gaps of up to `bridge` [m] closed."""
    where = np.flatnonzero(mask)
    if where.size == 0:
        return []
    cuts = np.flatnonzero(np.diff(along[where]) > bridge)
    starts, stops = np.r_[0, cuts + 1], np.r_[cuts, where.size - 1]
    return [(int(where[a]), int(where[b])) for a, b in zip(starts, stops, strict=True)]


def bends_of(ground: xr.Dataset, settings: BendSettings) -> list[Bend]:
    """Return the bends of a reach: its line is moved to the middle of the channel's bed first.

    The answer does not depend on the flow, so that a bend keeps its number at every flow.
    """
    line = Centreline.of(ground)
    shift = channel_offset(ground, line.station, line.median_width)
    x, y = line.from_station_offset(line.station, shift)
    return find_bends(x, y, line.median_width, settings)


def channel_offset(ground: xr.Dataset, stations: FloatArray, width: float) -> FloatArray:
    """Return how far to river left of the drawn line the channel's middle lies [m], by station.

    In bins half a width long, the mean offset of the bed within one width of the line, weighted by
    how far it lies below the bin's 70 % height; smoothed over a width and held within half a width.
    Zero where the bed is not known.
    """
    cells = np.flatnonzero(np.isfinite(ground["bed"].to_numpy())).astype(np.int32)
    station, offset, bed = (values_at(ground[n], cells) for n in ("station", "offset", "bed"))
    known = np.isfinite(station) & np.isfinite(bed) & (np.abs(offset) < width)
    length = max(0.5 * width, 1e-3)
    number = int(np.ceil(stations[-1] / length)) + 1
    bins = np.clip((station[known] / length).astype(int), 0, number - 1)
    frame = pd.DataFrame({"bin": bins, "offset": offset[known], "bed": bed[known]})
    frame["low"] = (frame.groupby("bin")["bed"].transform("quantile", 0.7) - frame["bed"]).clip(0)
    frame["moment"] = frame["low"] * frame["offset"]
    total = frame.groupby("bin")[["low", "moment"]].sum().reindex(range(number), fill_value=0.0)
    weight = gaussian_filter1d(total["low"].to_numpy(), 2.0, mode="nearest")
    moment = gaussian_filter1d(total["moment"].to_numpy(), 2.0, mode="nearest")
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = np.where(weight > 0, moment / weight, 0.0)
    middle = np.clip(middle, -0.5 * width, 0.5 * width)
    return np.interp(stations, (np.arange(number) + 0.5) * length, middle)
