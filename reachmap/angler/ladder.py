"""The ladder of tips of a run: how every tip owned would swim from the bank fished."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.grouped import Rows, known

LADDER = (
    *("water", "side", "tip", "order", "fly_depth_m", "above_bed_m", "share_in_bands"),
    *("drag_share", "tick_share", "wait_s"),
)
"""Columns of the layer `tip_ladder` that a card needs."""


@dataclass(frozen=True, slots=True)
class Step:
    """How one tip would swim in a run: means over its pieces of water.

    `depth_m` of the fly and `above_m` the bed [m]; `share` of the strip at the wanted depth and
    pace; `drag_share` and `tick_share` of the time on the bottom, before the last part and in it;
    `wait_s` from floating line straight to fly straight; `chosen`: the tip of most of the run.
    """

    tip: str
    depth_m: float
    above_m: float
    share: float
    drag_share: float
    tick_share: float
    wait_s: float
    chosen: bool


def ladder_of(rows: Rows, waters: Rows, side: str, tip: str) -> tuple[Step, ...]:
    """Return the ladder of a run, the lightest tip first.

    Parameters
    ----------
    rows
        Rows of the layer `tip_ladder` of the run at the flow, columns `LADDER`.
    waters
        Codes of the pieces fished.
    side
        Bank one fishes from.
    tip
        The tip of most places.
    """
    mine = rows[(rows["side"] == side) & np.isin(rows["water"], waters)]
    steps = []
    for order in sorted(set(mine["order"].tolist())):
        one = mine[mine["order"] == order]
        name = str(one["tip"][0])
        steps.append(
            Step(
                name,
                _mean(one["fly_depth_m"]),
                _mean(one["above_bed_m"]),
                _mean(one["share_in_bands"]),
                _mean(one["drag_share"]),
                _mean(one["tick_share"]),
                _mean(one["wait_s"]),
                name == tip,
            )
        )
    return tuple(steps)


def _mean(values: FloatArray) -> float:
    """Return the mean of what is known; NaN where nothing is."""
    numbers = known(values)
    return float(numbers.mean()) if len(numbers) else float("nan")
