"""Facts of a built reach for a guide's day: plain values, kept as JSON with the build."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from reachmap.angler.rules import WadeLimit
from reachmap.base.words import AccessKind, WadeRule

VERSION = 1
"""Raised when the fields of the facts change."""

ON_FOOT = (AccessKind.PARKING, AccessKind.PATH)
"""Kinds of access from which one walks."""


@dataclass(frozen=True, slots=True)
class Stand:
    """A place to stand, from the layer `stations`.

    Parameters
    ----------
    lon, lat
        WGS84 [degrees].
    side, station_m
        Bank, and metres down the main line.
    depth_m, speed_m_s
        Mapped depth and speed at the place; a depth of 0 is dry ground.
    zone_depth_m, zone_speed_m_s
        Greatest depth and speed, with margins, in its zone of the layer `wading`; NaN where it is
        in no zone graded for wading.
    way
        Word of `WayIn`.
    dry_way
        Whether known dry ground connects it, or the ground its zone begins from, to a drawn
        access.
    castable
        Whether a cast has room.
    cast_m, head_max_m
        Length of the cast; longest head that fits behind, NaN unknown [m].
    odds
        Its part of its run's odds; NaN unknown.
    open_until
        Last mapped flow at which one gets back on foot [m3/s]; infinite where no mapped flow cuts
        it off.
    hand_shuts
        Whether a hand's breadth more water closes it; unknown counts as closed.
    cast, rod, head, tip
        To make and to rig there; empty where none is known.
    hazard_m
        Distance of the drawn hazard that matters most [m]; NaN none.
    """

    lon: float
    lat: float
    side: str
    station_m: float
    depth_m: float
    speed_m_s: float
    zone_depth_m: float
    zone_speed_m_s: float
    way: str
    dry_way: bool
    castable: bool
    cast_m: float
    head_max_m: float
    odds: float
    open_until: float
    hand_shuts: bool
    cast: str
    rod: str
    head: str
    tip: str
    hazard_m: float = math.nan


@dataclass(frozen=True, slots=True)
class RunWater:
    """A run at one flow, as it is fished from its bank.

    Parameters
    ----------
    name, kind, bank
        Its name, word of `WaterKind`, and the bank of its places; empty where there are none.
    start_m, end_m
        Its best stretch along the main line; the whole run where there is none.
    minutes
        To fish that once through; NaN unknown.
    rate
        Its odds of a fish an hour over the reach's best at this flow, 0 to 100; where no odds are
        known its score; NaN unknown.
    shut, mind
        Words of `Shut` and `Mind`; empty for none.
    in_shape
        Whether it fishes at this flow.
    stands
        Places to stand of that stretch and bank, downstream.
    """

    name: str
    kind: str
    bank: str
    start_m: float
    end_m: float
    minutes: float
    rate: float
    shut: str
    mind: str
    in_shape: bool
    stands: tuple[Stand, ...]

    @property
    def length_m(self) -> float:
        """Return its length along the river [m]."""
        return self.end_m - self.start_m

    @property
    def middle_m(self) -> float:
        """Return the station of its middle along the main line [m]."""
        return 0.5 * (self.start_m + self.end_m)


@dataclass(frozen=True, slots=True)
class DrawnAccess:
    """A drawn access: its word of `AccessKind`, note, metres down the main line, WGS84 place."""

    kind: str
    note: str
    station_m: float
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class FlowWater:
    """The reach at one flow read [m3/s].

    `runs` go downstream. `float_s` are the seconds a boat drifts along the thalweg from the head of
    the main line to each of `float_m`; `float_guessed` is the share of that way without a known
    speed, 0 to 1, where the slowest known one is used.
    """

    flow: float
    label: str
    runs: tuple[RunWater, ...]
    float_m: tuple[float, ...]
    float_s: tuple[float, ...]
    float_guessed: float

    def float_minutes(self, start_m: float, end_m: float) -> float:
        """Return the drift from one station to another below it [min]; NaN unknown."""
        if len(self.float_m) < 2:
            return math.nan
        begin, end = np.interp([start_m, end_m], self.float_m, self.float_s)
        return max(float(end - begin), 0.0) / 60.0


@dataclass(frozen=True, slots=True)
class Grading:
    """The person, limits and rules that the map was graded for.

    Parameters
    ----------
    limit
        Limits in force.
    rules, own, depth_share_high
        Rules in force, the angler's own limits on top, and the share of the height.
    height_m, wade_limit_m, cast_limit_m, mass_kg
        The person; mass NaN where not given.
    heads
        Names and lengths [m] of the reach's kit.
    rods, tips
        Names of the reach's kit.
    """

    limit: WadeLimit
    rules: tuple[WadeRule, ...]
    own: WadeLimit
    depth_share_high: float
    height_m: float
    wade_limit_m: float
    cast_limit_m: float
    mass_kg: float
    heads: tuple[tuple[str, float], ...]
    rods: tuple[str, ...]
    tips: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GuideFacts:
    """A built reach for a guide's day: every flow read, rising; accesses downstream.

    `gates` are the drawn accesses; `between_min` the least minutes from run to run on foot.
    """

    flows: tuple[FlowWater, ...]
    gates: tuple[DrawnAccess, ...]
    grading: Grading
    between_min: float

    def at(self, flow: float) -> FlowWater | None:
        """Return the flow read that is next at or above a flow [m3/s]; None beyond those read."""
        if not self.flows or flow < self.flows[0].flow * (1 - 1e-6):
            return None
        return next((one for one in self.flows if one.flow >= flow * (1 - 1e-6)), None)


def facts_text(facts: GuideFacts) -> str:
    """Return facts as JSON (with NaN and Infinity, which Python's reader accepts)."""
    return json.dumps({"version": VERSION, **asdict(facts)})


def facts_from(text: str) -> GuideFacts | None:
    """Return facts from their JSON; None where it is of another version."""
    values = json.loads(text)
    if values.pop("version", None) != VERSION:
        return None
    graded = values["grading"]
    grading = Grading(
        **{
            **graded,
            "limit": WadeLimit(**graded["limit"]),
            "own": WadeLimit(**graded["own"]),
            "rules": tuple(WadeRule(one) for one in graded["rules"]),
            "heads": tuple((str(name), float(long)) for name, long in graded["heads"]),
            "rods": tuple(graded["rods"]),
            "tips": tuple(graded["tips"]),
        }
    )
    gates = tuple(DrawnAccess(**one) for one in values["gates"])
    flows = tuple(_flow_from(one) for one in values["flows"])
    return GuideFacts(flows, gates, grading, values["between_min"])


def _flow_from(values: Mapping[str, Any]) -> FlowWater:
    """Return one flow from its JSON."""
    runs = tuple(
        RunWater(**{**run, "stands": tuple(Stand(**one) for one in run["stands"])})
        for run in values["runs"]
    )
    line = {name: tuple(values[name]) for name in ("float_m", "float_s")}
    return FlowWater(**{**values, "runs": runs, **line})
