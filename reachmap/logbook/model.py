"""A trip as the angler logs it: entries, and observations made on the way."""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from reachmap.base.words import Side

TEXT_LONGEST = 20_000
"""Longest text kept in one field; our choice: a long evening's notes."""

RANGES: Mapping[str, tuple[float, float]] = {
    "flow": (0.0, 1e6),
    "clarity_m": (0.0, 60.0),
    "water_c": (-2.0, 40.0),
    "minutes": (0.0, 1440.0),
    "x": (-180.0, 180.0),
    "y": (-90.0, 90.0),
    "station_m": (-1e5, 1e6),
    "touches": (0, 1000),
    "landed": (0, 1000),
    "released": (0, 1000),
}
"""Range of each number of an entry."""


class SeenKind(StrEnum):
    """What was seen or measured at a place."""

    EDGE = "edge"
    SOUNDING = "sounding"
    SPEED = "speed"
    HOLD = "hold"


UNMEASURED = (SeenKind.EDGE, SeenKind.HOLD)
"""Kinds that are a place alone, without a number."""


def new_id() -> str:
    """Return an id no other entry has, on this machine or another."""
    return uuid.uuid4().hex


@dataclass(frozen=True, slots=True)
class Seen:
    """Something seen or measured: water's edge, depth [m], surface speed [m/s], a holding place.

    `x`, `y` are WGS84 longitude and latitude [degrees]; `value` is NaN for an edge or a holding
    place, whose `note` names it: a bucket, a slot.
    """

    kind: SeenKind
    x: float
    y: float
    value: float = math.nan
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse what no later reader could use."""
        wrong = []
        if not (-180 <= self.x <= 180 and -90 <= self.y <= 90):
            wrong.append(f"place {self.x:g}, {self.y:g} is not a longitude and latitude")
        if self.kind not in UNMEASURED and not 0 <= self.value < 60:
            wrong.append(f"{self.kind} is {self.value:g}, wants 0 to 60")
        _refuse(wrong)


@dataclass(frozen=True, slots=True)
class Entry:
    """One piece of fishing: a run, a time, what it was like and what came of it.

    Numbers that were not written down are NaN, never zero. `when` carries its time zone.

    Parameters
    ----------
    when
        Begin, with time zone.
    run
        Name of the run, or empty.
    flow
        Discharge [m3/s]; `flow_from` is "typed" or "gauge".
    clarity_m, water_c, minutes
        Visibility in the water [m], its temperature [C], time fished [min].
    touches, landed, released
        Fish that touched the fly, were landed, were released.
    x, y
        Where, WGS84 [degrees], NaN if not kept.
    station_m, bank
        Metres down the main river line, and left, right or island; NaN and "" unknown. From the
        place, or from the run that was chosen; the trip is found by them when runs get new names.
    """

    when: datetime
    run: str = ""
    flow: float = math.nan
    flow_from: str = ""
    clarity_m: float = math.nan
    water_c: float = math.nan
    minutes: float = math.nan
    swung: str = ""
    touches: int = 0
    landed: int = 0
    released: int = 0
    x: float = math.nan
    y: float = math.nan
    photo: str = ""
    note: str = ""
    seen: tuple[Seen, ...] = ()
    station_m: float = math.nan
    bank: str = ""
    uid: str = field(default_factory=new_id)

    def __post_init__(self) -> None:
        """Refuse what no later reader could use; every fault is named."""
        wrong = [] if self.when.tzinfo is not None else ["when has no time zone"]
        wrong += [
            f"{name} is {value:g}, wants {low:g} to {high:g}"
            for name, (low, high) in RANGES.items()
            if not math.isnan(value := getattr(self, name)) and not low <= value <= high
        ]
        if self.released > self.landed:
            wrong.append(f"released is {self.released}, more than landed, {self.landed}")
        if self.bank not in ("", *Side):
            wrong.append(f"bank is {self.bank!r}, wants left, right, island or nothing")
        wrong += [
            f"{name} is longer than {TEXT_LONGEST} signs"
            for name in ("run", "swung", "photo", "note")
            if len(getattr(self, name)) > TEXT_LONGEST
        ]
        _refuse(wrong)

    @property
    def is_fishing(self) -> bool:
        """Return whether a run was fished; an entry of 0 minutes and no fish is a note alone.

        An entry whose time was not written down is fishing.
        """
        return self.minutes != 0 or self.touches > 0 or self.landed > 0


def _refuse(wrong: list[str]) -> None:
    """Raise ValueError naming every fault, if there is one."""
    if wrong:
        msg = "; ".join(wrong)
        raise ValueError(msg)
