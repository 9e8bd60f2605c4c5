"""Short pieces of water merged into neighbours: no piece too short to fish stands alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Window
from reachmap.base.patches import widened
from reachmap.base.words import WaterKind
from reachmap.water.field import WaterField
from reachmap.water.zones import Zone

TOUCH_CELLS = 2
"""Pieces this many cells apart still touch: outlines are tidied by a cell each."""


def folded(
    zones: Sequence[Zone], field: WaterField, length_low: Callable[[WaterKind], float]
) -> list[Zone]:
    """Return the zones, short ones joined to a longer one of their stretch that they touch.

    Parameters
    ----------
    zones
        In order of rank; no cell belongs to two.
    field
        The flow.
    length_low
        Length along the river under which a zone of a kind is joined [m].

    Notes
    -----
    The shortest go first, each to the zone with which it shares most border; that keeps its kind.
    What touches none of its stretch stays as it is.
    """
    held: list[Zone | None] = list(zones)
    lengths = [zone_length(field, zone) for zone in zones]
    owner = np.full(field.wet.shape, -1, dtype=np.int32)
    for number, zone in enumerate(zones):
        owner[zone.place][zone.mask] = number
    for number in np.argsort(lengths, kind="stable"):
        zone = held[number]
        if zone is None or lengths[number] >= length_low(zone.kind):
            continue
        into = _neighbour(owner, zone, int(number), held)
        other = None if into is None else held[into]
        if into is None or other is None:
            continue
        held[into] = merged_zone(other, zone)
        lengths[into] = zone_length(field, held[into])  # type: ignore[arg-type]
        owner[zone.place][zone.mask] = into
        held[number] = None
    return [zone for zone in held if zone is not None]


def zone_length(field: WaterField, zone: Zone) -> float:
    """Return the length of a zone along the river [m]: between its 1 % and 99 % quantiles."""
    station: FloatArray = field.station[zone.place][zone.mask]
    known = station[np.isfinite(station)]
    if not known.size:
        return 0.0
    low, high = np.quantile(known, (0.01, 0.99))
    return float(high - low)


def merged_zone(zone: Zone, other: Zone) -> Zone:
    """Return a zone with the cells of another, all else its own; odds are the better of both."""
    window = _around(zone.place, other.place)
    mask = np.zeros(tuple(one.stop - one.start for one in window), dtype=bool)
    for part in (zone, other):
        rows, cols = (
            slice(one.start - outer.start, one.stop - outer.start)
            for one, outer in zip(part.place, window, strict=True)
        )
        mask[rows, cols] |= part.mask
    odds = zone.odds if zone.odds is other.odds else np.fmax(zone.odds, other.odds)
    return replace(zone, place=window, mask=mask, odds=odds)


def _around(one: Window, other: Window) -> Window:
    """Return the window around two."""
    rows, cols = (
        slice(min(a.start, b.start), max(a.stop, b.stop)) for a, b in zip(one, other, strict=True)
    )
    return rows, cols


def _neighbour(owner: IntArray, zone: Zone, number: int, held: Sequence[Zone | None]) -> int | None:
    """Return the zone of the same stretch with which one shares most border; None: none."""
    window = tuple(
        slice(max(one.start - TOUCH_CELLS, 0), one.stop + TOUCH_CELLS) for one in zone.place
    )
    near = owner[window]
    mine: BoolArray = near == number
    for _ in range(TOUCH_CELLS):
        mine = widened(mine)
    touched = near[mine & (near >= 0) & (near != number)]
    count = np.bincount(touched, minlength=1)
    for place in np.argsort(-count, kind="stable"):
        if not count[place]:
            return None
        other = held[place]
        if other is not None and (other.section, other.side) == (zone.section, zone.side):
            return int(place)
    return None
