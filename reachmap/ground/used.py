"""Use of each piece of evidence: used, or left out and why. Facts; sentences are in `text`."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from reachmap.markup.model import Origin


class Kind(StrEnum):
    """What a piece of evidence is."""

    SOUNDING = "sounding"
    EDGE = "edge"
    LEVEL = "level"
    SPEED = "speed"
    TRIP = "trip"
    ZERO = "gauge zero"


class Why(StrEnum):
    """Why a piece of evidence was left out; USED where it was not."""

    USED = ""
    OUTSIDE = "outside the reach"
    NO_DATUM = "height without a datum"
    NO_FLOW = "no flow"
    DRY_GROUND = "on dry ground"
    DEM_GROUND = "against the DEM's ground"
    SEEN_DRY = "where the DEM saw the ground"
    OFF_FORM = "where no bed was made"
    OTHER_DATUM = "another datum"
    ALL_TOO_DEEP = "all too deep"
    TOO_DEEP = "too deep"
    OTHER_LEVELS = "against the other levels"
    DEM_WATER = "the DEM shows the water itself"
    WITHIN_LOWER = "within the water of a lower flow"
    RISE_UNLIKE = "no rise above the low water"
    UNSEEN_GROUND = "on ground nobody knows"
    NEEDS_FIT = "used by a fit only"
    NEEDS_DEPTHS = "no depth to be placed by it"
    NO_PLACE = "no place"


@dataclass(frozen=True, slots=True)
class Fact:
    """What became of evidence.

    Parameters
    ----------
    kind, origin
        What it is and where it comes from.
    name
        Its own, or its number in its layer; of a track its set's.
    number
        How many places it stands for, >= 1.
    date
        ISO, "" unknown.
    why
        USED, or the reason it was left out.
    value
        Number that the reason names, in its unit (m, or times); NaN where it names none.
    """

    kind: Kind
    origin: Origin
    name: str
    number: int = 1
    date: str = ""
    why: Why = Why.USED
    value: float = math.nan


def packed(facts: Iterable[Fact]) -> str:
    """Return facts as JSON, for an attribute of a stage's result; NaN becomes null."""
    rows = [asdict(one) for one in facts]
    for row in rows:
        row["value"] = round(row["value"], 4) if math.isfinite(row["value"]) else None
    return json.dumps(rows)


def facts_of(attrs: Any) -> tuple[Fact, ...]:
    """Return the facts that a ground's attributes hold; none where it was made without."""
    rows = json.loads(str(attrs.get("evidence", "[]")))
    return tuple(
        Fact(
            Kind(row["kind"]),
            Origin(row["origin"]),
            str(row["name"]),
            int(row["number"]),
            str(row["date"]),
            Why(row["why"]),
            math.nan if row["value"] is None else float(row["value"]),
        )
        for row in rows
    )


def by_track(facts: Iterable[Fact]) -> list[Fact]:
    """Return facts with the places of one track and reason counted together, order kept."""
    found: list[Fact] = []
    place: dict[tuple[str, Why], int] = {}
    for one in facts:
        key = (one.name, one.why)
        if one.origin is not Origin.TRACK or key not in place:
            if one.origin is Origin.TRACK:
                place[key] = len(found)
            found.append(one)
            continue
        same = found[place[key]]
        found[place[key]] = Fact(
            same.kind, same.origin, same.name, same.number + one.number, same.date, same.why,
            same.value,
        )  # fmt: skip
    return found
