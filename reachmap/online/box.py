"""The box that is asked about: all that leaves this computer."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reachmap.base.errors import Fault, ReachmapError

KM_A_DEGREE = 111.2
"""Kilometres in a degree of latitude (a sphere of 6371 km); near enough to bound a request."""

LEAST_KM, MOST_KM = 0.2, 30.0
"""Shortest and longest side of a box [km] (our choices): a reach is 1 to 10 km long, and a box of
more costs the services and the person who waits."""

USUAL_KM = 3.0
"""Side of the box about a point where nothing else is said [km] (our choice, 1-5)."""


class BoxError(ReachmapError):
    """A box that cannot be asked about."""

    def __init__(self, fault: Fault) -> None:
        """Say where it stands, what is wrong and how to mend it."""
        super().__init__(str(fault))


@dataclass(frozen=True, slots=True)
class Box:
    """West, south, east and north in degrees (WGS84)."""

    west: float
    south: float
    east: float
    north: float

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Return west, south, east, north."""
        return self.west, self.south, self.east, self.north

    @property
    def middle(self) -> tuple[float, float]:
        """Return longitude and latitude of the middle."""
        return (self.west + self.east) / 2, (self.south + self.north) / 2

    @property
    def sides_km(self) -> tuple[float, float]:
        """Return how wide and how high it is [km]."""
        scale = math.cos(math.radians(self.middle[1])) * KM_A_DEGREE
        return (self.east - self.west) * scale, (self.north - self.south) * KM_A_DEGREE

    def wider(self, by_km: float) -> Box:
        """Return the box grown on all sides [km]."""
        up = by_km / KM_A_DEGREE
        aside = up / math.cos(math.radians(self.middle[1]))
        return rounded(
            self.west - aside, max(self.south - up, -90), self.east + aside,
            min(self.north + up, 90),
        )  # fmt: skip

    def distance_km(self, longitude: float, latitude: float) -> float:
        """Return how far a place lies from the middle [km]."""
        east, north = longitude - self.middle[0], latitude - self.middle[1]
        scale = math.cos(math.radians(self.middle[1]))
        return KM_A_DEGREE * math.hypot(east * scale, north)


def rounded(west: float, south: float, east: float, north: float) -> Box:
    """Return a box in steps of 0.00001 degrees, a metre."""
    return Box(*(round(one, 5) for one in (west, south, east, north)))


def checked(west: float, south: float, east: float, north: float, *, where: str) -> Box:
    """Return a box that can be asked about.

    Parameters
    ----------
    west, south, east, north
        Degrees.
    where
        What a fault names.

    Raises
    ------
    BoxError
        If it is none, too small or too large.
    """
    every = (west, south, east, north)
    shown = ",".join(f"{one:g}" for one in every)
    order = "Give it as west,south,east,north in degrees, like -141.02,46.18,-140.98,46.22"
    if not all(map(math.isfinite, every)) or max(abs(west), abs(east)) > 180:
        raise BoxError(Fault(where, f"{shown} is no box of degrees", order))
    if max(abs(south), abs(north)) > 85 or west >= east or south >= north:
        raise BoxError(Fault(where, f"{shown} is no box of degrees", order))
    box = rounded(*every)
    wide, high = box.sides_km
    if min(wide, high) < LEAST_KM or max(wide, high) > MOST_KM:
        found = f"the box is {wide:.3g} by {high:.3g} km"
        fix = f"Ask about {LEAST_KM:g} to {MOST_KM:g} km a side: your reach and its banks"
        raise BoxError(Fault(where, found, fix))
    return box


def typed_box(text: str, *, where: str = "--box") -> Box:
    """Return the box that somebody typed.

    Raises
    ------
    BoxError
        If it is none.
    """
    numbers = _numbers(text)
    if len(numbers) != 4:
        fix = "Give it as west,south,east,north in degrees, like -141.02,46.18,-140.98,46.22"
        raise BoxError(Fault(where, f"{text!r} is no box", fix))
    return checked(*numbers, where=where)


def typed_point(text: str, across_km: float = USUAL_KM, *, where: str = "--point") -> Box:
    """Return the box about a point that somebody typed, latitude first as phones show it.

    Raises
    ------
    BoxError
        If it is none.
    """
    numbers = _numbers(text)
    if len(numbers) != 2 or not all(map(math.isfinite, numbers)) or abs(numbers[0]) > 85:
        fix = "Give latitude and longitude in degrees, like 46.2,-141.0"
        raise BoxError(Fault(where, f"{text!r} is no point", fix))
    latitude, longitude = numbers
    up = across_km / 2 / KM_A_DEGREE
    aside = up / math.cos(math.radians(latitude))
    return checked(
        longitude - aside, latitude - up, longitude + aside, latitude + up, where=where
    )  # fmt: skip


def _numbers(text: str) -> list[float]:
    """Return the numbers of a text parted by commas or blanks; [] where one is none."""
    try:
        return [float(one) for one in text.replace(",", " ").split()]
    except ValueError:
        return []
