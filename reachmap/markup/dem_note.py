"""The terrain model of a reach: its unit, datum and flow, and the flights it is made of."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Flight:
    """Tiles of the DEM that were flown on one day.

    Parameters
    ----------
    tiles
        Their places in `Markup.dems`.
    date
        ISO; "" unknown.
    flow
        The river's flow on that day [m3/s]; NaN unknown.
    below_water
        Whether it is said to know the bed under water.
    """

    tiles: tuple[int, ...]
    date: str = ""
    flow: float = math.nan
    below_water: bool = False


@dataclass(frozen=True, slots=True)
class DemNote:
    """What reach.toml and its files say of the DEM.

    `flow` is the river's discharge on the day it was flown [m3/s], NaN if nobody said;
    `height_unit` is "m" or "ft"; `datum` is the name of its vertical datum; `below_water` says that
    it knows the bed under water, False leaves that to its heights. `flights` are its tiles by the
    day they were flown, the one that counts before the others first; () where nothing tells them
    apart.
    """

    flow: float
    height_unit: str
    datum: str
    below_water: bool = False
    flights: tuple[Flight, ...] = ()
