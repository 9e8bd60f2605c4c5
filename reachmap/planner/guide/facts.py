"""What a guide's day needs of a built reach at one flow: plain values, kept as JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from reachmap.angler.rules import WadeLimit
from reachmap.base.words import WadeRule

VERSION = 1
"""Raised when the facts hold something else."""


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
        As mapped where one stands; a depth of 0 is dry ground.
    zone_depth_m, zone_speed_m_s
        Deepest and quickest water to reckon with in its zone of the layer `wading`, margins in
        force; NaN where it is in none that one may wade.
    way
        Word of `WayIn`.
    dry_way
        Whether dry ground that is known joins it, or the ground its zone begins from, to a drawn
        access.
    castable
        Whether a cast has room.
    cast_m, head_max_m
        Length of the cast; longest head that fits behind, NaN unknown [m].
    odds
        What it adds to its run's odds; NaN unknown.
    open_until
        Last mapped flow at which one gets back on foot [m3/s]; infinite where no mapped flow cuts
        it off.
    hand_shuts
        Whether a hand's breadth more water shuts it; unknown counts as so.
    cast, rod, head, tip
        To make and to rig there; empty where none is known.
    hazard_m
        How far off the drawn hazard that matters most lies [m]; NaN none.
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
        """Return where its middle lies along the main line [m]."""
        return 0.5 * (self.start_m + self.end_m)


@dataclass(frozen=True, slots=True)
class Gate:
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
    the main line to each of `float_m`; `float_guessed` tells in which part of that way no speed is
    known and the slowest known one stands in, 0 to 1.
    """

    flow: float
    label: str
    runs: tuple[RunWater, ...]
    float_m: tuple[float, ...]
    float_s: tuple[float, ...]
    float_guessed: float

    def float_minutes(self, start_m: float, end_m: float) -> float:
        """Return how long a boat drifts from one station to another below it [min]; NaN unknown."""
        if len(self.float_m) < 2:
            return math.nan
        begin, end = np.interp([start_m, end_m], self.float_m, self.float_s)
        return max(float(end - begin), 0.0) / 60.0


@dataclass(frozen=True, slots=True)
class Grading:
    """For whom the map was graded.

    Parameters
    ----------
    limit
        The most that was allowed.
    rules, own, depth_share_high
        The rules in force, the angler's own limits on top, and the share of the height.
    height_m, wade_limit_m, cast_limit_m, mass_kg
        The person; mass NaN where nobody said.
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

    `between_min` are the least minutes from one run to the next on foot.
    """

    flows: tuple[FlowWater, ...]
    gates: tuple[Gate, ...]
    grading: Grading
    between_min: float

    def at(self, flow: float) -> FlowWater | None:
        """Return the flow read that is next at or above a flow [m3/s]; None beyond those read."""
        if not self.flows or flow < self.flows[0].flow * (1 - 1e-6):
            return None
        return next((one for one in self.flows if one.flow >= flow * (1 - 1e-6)), None)


def facts_text(facts: GuideFacts) -> str:
    """Return facts as JSON (with the NaN and Infinity that Python's reader knows)."""
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
    gates = tuple(Gate(**one) for one in values["gates"])
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
