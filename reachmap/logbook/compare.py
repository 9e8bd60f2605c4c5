"""Trips counted below, within and above the season's limits of depth and speed.

Counts and hours for the angler to look at: no limit is changed by them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean

from reachmap.logbook.join import Joined
from reachmap.logbook.model import Entry
from reachmap.logbook.stats import Tally, is_near, run_key, tally_all

FEWEST_TOUCHES = 5
"""With fewer touches nothing is compared; our choice, 3-20: a rate from fewer spans tenfold."""


class Part(StrEnum):
    """Where a trip's water lay against the limits."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Water:
    """A run's best water at a mapped flow: flow [m3/s], median depth [m] and speed [m/s]."""

    flow: float
    depth_m: float
    speed_m_s: float


@dataclass(frozen=True, slots=True)
class Compared:
    """Trips by the depth and by the speed of their water against the limits.

    `trips` and `touches` count those whose water is mapped; `left_out` are the other trips.
    """

    depth: Mapping[Part, Tally]
    speed: Mapping[Part, Tally]
    trips: int
    touches: int
    left_out: int

    @property
    def enough(self) -> bool:
        """Return whether there are enough touches to compare at all."""
        return self.touches >= FEWEST_TOUCHES


def compare(
    entries: Sequence[Entry],
    joined: Joined,
    waters: Mapping[str, Sequence[Water]],
    depth_limits: tuple[float, float],
    speed_limits: tuple[float, float],
) -> Compared:
    """Return trips sorted by whether the water they fished lay within the season's limits.

    A trip's water is the best of its run at the mapped flow nearest to its own, within 25 %. It is
    the map's figure for the run; the fish's own place was not measured.

    Parameters
    ----------
    entries
        Of the log.
    joined
        Which runs they belong to.
    waters
        Of each run, by `stats.run_key` of its name.
    depth_limits, speed_limits
        Least and most [m], [m/s].
    """
    depth: dict[Part, list[Entry]] = {part: [] for part in Part}
    speed: dict[Part, list[Entry]] = {part: [] for part in Part}
    placed = []
    for entry in entries:
        names = joined.runs_of.get(entry.uid, ())
        mine = [water for name in names for water in waters.get(run_key(name), ())]
        water = _water_of(entry, mine)
        if water is None:
            continue
        placed.append(entry)
        depth[_part(water.depth_m, depth_limits)].append(entry)
        speed[_part(water.speed_m_s, speed_limits)].append(entry)
    return Compared(
        depth={part: tally_all(mine) for part, mine in depth.items()},
        speed={part: tally_all(mine) for part, mine in speed.items()},
        trips=len(placed),
        touches=sum(entry.touches for entry in placed),
        left_out=len(entries) - len(placed),
    )


def _water_of(entry: Entry, waters: Sequence[Water]) -> Water | None:
    """Return the water of a trip's run at about its flow; None where it is not mapped.

    Of several runs, the mean of their waters at that flow.
    """
    near = [
        water
        for water in waters
        if is_near(entry.flow, water.flow)
        and not (math.isnan(water.depth_m) or math.isnan(water.speed_m_s))
    ]
    nearest = min(near, key=lambda water: abs(math.log(entry.flow / water.flow)), default=None)
    if nearest is None:
        return None
    same = [water for water in near if water.flow == nearest.flow]
    depth, speed = fmean(one.depth_m for one in same), fmean(one.speed_m_s for one in same)
    return Water(nearest.flow, depth, speed)


def _part(value: float, limits: tuple[float, float]) -> Part:
    """Return whether a value is below, within or above limits."""
    if value < limits[0]:
        return Part.BELOW
    return Part.ABOVE if value > limits[1] else Part.WITHIN
