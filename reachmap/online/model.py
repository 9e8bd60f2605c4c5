"""What a service offers, what is not to be had and why, and what was fetched."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from reachmap.base.errors import ReachmapError
from reachmap.online.box import Box


class Kind(StrEnum):
    """What an offer is good for."""

    TERRAIN = "terrain"
    SURFACE = "surface"
    RIVER = "river"
    GAUGE = "gauge"
    FORECAST = "forecast"
    PICTURE = "picture"
    CLOUD = "cloud"
    OTHER = "other"


class Service(StrEnum):
    """Who is asked."""

    TERRAIN = "terrain"
    RIVER = "river"
    GAUGES = "gauges"
    FORECASTS = "forecasts"
    CATALOGUE = "catalogue"


class Why(StrEnum):
    """Why a service gives nothing."""

    NO_LIBRARY = "no_library"
    NO_ANSWER = "no_answer"
    NOTHING_HERE = "nothing_here"
    NO_SEARCH = "no_search"


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that can be fetched.

    Parameters
    ----------
    name
        Short, of plain signs, the same each time, one of its kind in a listing.
    kind, service
        What it is good for, and who has it.
    title
        What the service calls it.
    host
        Which computer would send it.
    size_bytes
        NaN unknown; for terrain at most.
    date
        Of what is in it, ISO, or first to last; "" unsaid.
    resolution_m
        Side of a cell or pixel [m]; NaN unsaid.
    vertical_datum, licence
        "" unsaid.
    distance_km
        From the middle of the box [km]; NaN where that says nothing.
    ask
        What the service needs to send it.
    """

    name: str
    kind: Kind
    service: Service
    title: str
    host: str
    size_bytes: float = math.nan
    date: str = ""
    resolution_m: float = math.nan
    vertical_datum: str = ""
    licence: str = ""
    distance_km: float = math.nan
    ask: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Silence:
    """A service that gives nothing, and why; `detail` is its own word, "" for none."""

    service: Service
    why: Why
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Listing:
    """What was asked about, what there is, and who has nothing."""

    box: Box
    offers: tuple[Offer, ...]
    silences: tuple[Silence, ...]


class AskError(ReachmapError):
    """A service gives nothing; the message is its own word."""

    def __init__(self, why: Why, detail: str = "") -> None:
        """Keep both."""
        self.why, self.detail = why, detail
        super().__init__(detail or why.value)


@dataclass(frozen=True, slots=True)
class Fetching:
    """How an offer is fetched.

    Parameters
    ----------
    folder
        The reach folder.
    aside
        A folder for what is not whole yet; it stays when the fetching is cut short.
    box
        What was asked about.
    hear
        Called with how much is done and of how much, of any unit; total 0 unknown.
    today
        UTC.
    river_drawn
        Whether the folder has a river line already.
    """

    folder: Path
    aside: Path
    box: Box
    hear: Callable[[int, int], None]
    today: datetime
    river_drawn: bool = False


@dataclass(frozen=True, slots=True)
class Got:
    """What came of an offer: files in the reach folder; `address` is where from."""

    offer: Offer
    files: tuple[Path, ...]
    address: str


def first_line(error: BaseException) -> str:
    """Return what went wrong in one line that is not too long."""
    lines = [one.strip() for one in str(error).splitlines() if one.strip()]
    told = next((one for one in lines if one.startswith("ERROR:")), lines[0] if lines else "")
    return (told.removeprefix("ERROR:").strip() or type(error).__name__)[:200]
