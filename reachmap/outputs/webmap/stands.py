"""Where a cast goes and what room it needs, drawn around the place where one stands."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from shapely.geometry.base import BaseGeometry

from reachmap.base.shapes import F8
from reachmap.base.words import Side

ROOM_SPREAD_DEG = 15.0
"""How far to either side of the loop obstacles are looked for; drawn as the width of the room."""

LOOK_M = 9.0
"""How far behind is drawn where nobody mapped it [m] (our choice: the reach of a common loop)."""


@dataclass(frozen=True, slots=True)
class Fan:
    """A cast with its swing, and the room behind: points in the project's CRS, shape (n, 2) [m]."""

    swing: F8
    room: F8
    behind: str


class Bearings:
    """Which way the river runs at a place: direction of the nearest vertex of the centreline."""

    def __init__(self, ground: xr.Dataset) -> None:
        """Read the centreline of the ground stage."""
        self.x, self.y = ground["line_x"].to_numpy(), ground["line_y"].to_numpy()
        self.turn = np.arctan2(np.gradient(self.y), np.gradient(self.x))

    def at(self, x: float, y: float) -> float:
        """Return the direction downstream, anticlockwise from east [radians]."""
        return float(self.turn[int(np.argmin((self.x - x) ** 2 + (self.y - y) ** 2))])

    def left_of_line(self, x: float, y: float) -> bool:
        """Return whether a place lies to river left of the centreline."""
        near = int(np.argmin((self.x - x) ** 2 + (self.y - y) ** 2))
        across = -np.sin(self.turn[near]) * (x - self.x[near])
        return bool(across + np.cos(self.turn[near]) * (y - self.y[near]) > 0)


def fan(row: Mapping[str, Any], bearings: Bearings, water: BaseGeometry | None) -> Fan | None:
    """Return what to draw around a station, or None where its cast is not known.

    Parameters
    ----------
    row
        Of the layer `stations`.
    bearings
        Of the reach.
    water
        The water the station is for; on an island it says to which side one casts.
    """
    length, angle = float(row["cast_m"]), float(row["angle_deg"])
    if not (math.isfinite(length) and math.isfinite(angle)) or length <= 0:
        return None
    x, y = row["geometry"].x, row["geometry"].y
    down = bearings.at(x, y)
    turn = _towards(row, bearings, water, x, y)
    target = down + turn * math.radians(90 - angle)
    arc = np.linspace(target, down, 16)
    swing = np.array(
        [[x, y], *zip(x + length * np.cos(arc), y + length * np.sin(arc), strict=True)]
    )
    room = float(row["room_m"])
    behind = "look" if not math.isfinite(room) else ("room" if _free(row) else "tight")
    reach = LOOK_M if behind == "look" else max(room, 0.5)
    spread = np.radians(np.linspace(-ROOM_SPREAD_DEG, ROOM_SPREAD_DEG, 7)) + target + math.pi
    wedge = np.array(
        [[x, y], *zip(x + reach * np.cos(spread), y + reach * np.sin(spread), strict=True)]
    )
    return Fan(swing, wedge, behind)


def _towards(
    row: Mapping[str, Any], bearings: Bearings, water: BaseGeometry | None, x: float, y: float
) -> int:
    """Return +1 when one casts towards river left, -1 towards river right."""
    if str(row["side"]) == Side.LEFT:
        return -1
    if str(row["side"]) == Side.RIGHT:
        return 1
    place = water.representative_point() if water is not None else None
    if place is None:
        return -1 if bearings.left_of_line(x, y) else 1
    down = bearings.at(x, y)
    return 1 if -math.sin(down) * (place.x - x) + math.cos(down) * (place.y - y) > 0 else -1


def _free(row: Mapping[str, Any]) -> bool:
    """Return whether some cast fits with a margin."""
    casts = [cast.strip() for cast in str(row["casts"] or "").split(",")]
    return any(cast and "tight" not in cast for cast in casts)
