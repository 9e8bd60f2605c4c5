"""The ladder of tips of a run: how every tip owned would swim from the bank fished."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import mode

import numpy as np

from reachmap.base.grouped import Rows

LADDER = (
    *("water", "side", "tip", "order", "fly_depth_m", "above_bed_m", "share_in_bands"),
    *("drag_share", "tick_share", "wait_s"),
)
"""Columns of the layer `tip_ladder` that a card needs."""


@dataclass(frozen=True, slots=True)
class Step:
    """How one tip would swim in a run: at the piece of water where most places fish the chosen one.

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


def ladder_of(rows: Rows, castable: Rows) -> tuple[Step, ...]:
    """Return the ladder of a run, the lightest tip first; empty where none is known.

    Parameters
    ----------
    rows
        Rows of the layer `tip_ladder` of the run at the flow, columns `LADDER`.
    castable
        Places with room for a cast on the bank fished, of `stations`.

    Notes
    -----
    Of one piece of water alone: over several, of other depths, a mean has the chosen tip drag where
    the deep piece asks for it.
    """
    tip = mode(castable["tip"])
    most = castable[castable["tip"] == tip]
    here = (rows["water"] == mode(most["water"])) & (rows["side"] == most["side"][0])
    mine = rows[here]
    return tuple(
        Step(
            str(one["tip"]),
            float(one["fly_depth_m"]),
            float(one["above_bed_m"]),
            float(one["share_in_bands"]),
            float(one["drag_share"]),
            float(one["tick_share"]),
            float(one["wait_s"]),
            bool(one["tip"] == tip),
        )
        for one in mine[np.argsort(mine["order"], kind="stable")]
    )
