"""Geometry of a cast and its back-cast room around a place to stand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.schema_angler import CASTS
from reachmap.base.words import CastFit, Side
from reachmap.text.numbers import number_of

ROOM_SPREAD_DEG = 15.0
"""Half-angle within which obstacles are searched [degrees]; drawn as the width of the room."""

LOOK_M = 9.0
"""Radius drawn for unmapped room behind [m] (our choice: the reach of a common loop)."""


STAND_APART_M = 15.0
"""Least spacing of drawn stations of one water [m] (our choice: about one cast)."""


@dataclass(frozen=True, slots=True)
class Fan:
    """A cast with its swing, and the back-cast room: points in the project's CRS, (n, 2) [m]."""

    swing: FloatArray
    room: FloatArray


def fan(
    row: Mapping[str, Any], line: Centreline, water: BaseGeometry | None, down: float
) -> Fan | None:
    """Return the fan to draw around a station, or None where its cast is not known.

    Parameters
    ----------
    row
        Of the layer `stations`.
    line
        Of the river.
    water
        The water fished from the station; on an island it determines the side of the cast.
    down
        Direction downstream abreast of it, anticlockwise from east [rad]: `directions_down`.
    """
    length, angle = number_of(row["cast_m"]), number_of(row["angle_deg"])
    if not (math.isfinite(length) and math.isfinite(angle)) or length <= 0:
        return None
    x, y = row["geometry"].x, row["geometry"].y
    given = number_of(row.get("target_deg"))
    turn = _towards(row, line, water, down)
    target = math.radians(given) if math.isfinite(given) else down + turn * math.radians(90 - angle)
    hang_down = target + (down - target + math.pi) % (2 * math.pi) - math.pi
    arc = np.linspace(target, hang_down, 16)
    swing = _around(x, y, length, arc)
    room = number_of(row["room_m"])
    reach = max(room, 0.5) if math.isfinite(room) else LOOK_M
    spread = np.radians(np.linspace(-ROOM_SPREAD_DEG, ROOM_SPREAD_DEG, 7)) + target + math.pi
    return Fan(swing, _around(x, y, reach, spread))


def directions_down(line: Centreline, places: Sequence[Point]) -> FloatArray:
    """Return the direction downstream abreast of places, anticlockwise from east [rad]."""
    x, y = (np.array([getattr(one, axis) for one in places]) for axis in "xy")
    return np.asarray(line.direction(line.to_station_offset(x, y)[0]))


def _around(x: float, y: float, reach: float, directions: FloatArray) -> FloatArray:
    """Return a place and then points at a distance from it, shape (n + 1, 2)."""
    far = np.c_[x + reach * np.cos(directions), y + reach * np.sin(directions)]
    return np.vstack([[x, y], far])


def behind_of(row: Mapping[str, Any]) -> str:
    """Return what is behind a station: room, tight, blocked, or look where nobody mapped it."""
    return _behind(row, [row[name] for name in CASTS.values()])


def _behind(row: Mapping[str, Any], fits: Sequence[Any]) -> str:
    """Return what is behind a station of whose casts it is known how they fit."""
    if not math.isfinite(number_of(row["room_m"])):
        return "look"
    if CastFit.FITS in fits:
        return "room"
    return "tight" if CastFit.TIGHT in fits else "blocked"


def apart(rows: Iterable[tuple[int, dict[str, Any]]]) -> list[tuple[int, dict[str, Any]]]:
    """Return stations with their flow indices, without those close to a better one.

    Better means more room behind, then more casts. The GIS files contain all stations.
    """
    rank = {"room": 0, "tight": 1, "look": 2, "blocked": 3}
    listed = list(rows)
    worth = []
    for number, (_, row) in enumerate(listed):
        fits = [row[name] for name in CASTS.values()]
        casts = fits.count(CastFit.FITS) + fits.count(CastFit.TIGHT)
        worth.append((rank[_behind(row, fits)], -casts, number))
    order = [number for *_, number in sorted(worth)]
    kept: dict[tuple[int, str], list[tuple[float, float]]] = {}
    chosen = []
    for number in order:
        index, row = listed[number]
        x, y = row["geometry"].x, row["geometry"].y
        others = kept.setdefault((index, str(row["water"])), [])
        if all(math.hypot(x - a, y - b) >= STAND_APART_M for a, b in others):
            others.append((x, y))
            chosen.append(number)
    return [listed[number] for number in sorted(chosen)]


def _towards(
    row: Mapping[str, Any], line: Centreline, water: BaseGeometry | None, down: float
) -> int:
    """Return +1 for a cast towards river left, -1 towards river right."""
    if str(row["side"]) == Side.LEFT:
        return -1
    if str(row["side"]) == Side.RIGHT:
        return 1
    x, y = row["geometry"].x, row["geometry"].y
    place = water.representative_point() if water is not None else None
    if place is None:
        _, offset = line.to_station_offset(np.array([x]), np.array([y]))
        return -1 if offset[0] > 0 else 1
    return 1 if -math.sin(down) * (place.x - x) + math.cos(down) * (place.y - y) > 0 else -1
