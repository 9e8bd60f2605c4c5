"""Where tributaries enter the river."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid

LEAST_RADIUS_M = 6.0
"""A tributary's water is let in over at least this radius [m]. Our choice, range 3-15."""
ASIDE = 0.5
"""It enters where its line comes this near the main line, in river widths: at the bank. Our choice,
0.3-0.5: let in further inside, its water holds the river's back and the seam below the mouth lies
in the middle of the river, where laboratory junctions have it along the bank."""


@dataclass(frozen=True, slots=True)
class Tributary:
    """A side river that joins within the reach.

    Parameters
    ----------
    name
        As drawn; may be empty.
    share
        Part of the flow below it that it brings, above 0 and below 1.
    x, y
        Its line down to the river [m, project CRS], two vertices or more.
    """

    name: str
    share: float
    x: tuple[float, ...]
    y: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse a share that leaves nothing for the river, or no line."""
        if not 0 < self.share < 1 or len(self.x) < 2 or len(self.x) != len(self.y):
            msg = f"tributary {self.name!r}: share {self.share!r} wants 0 to 1, a line 2 vertices"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Mouth:
    """Where a tributary's water is let in: place [m, project CRS], radius and station [m]."""

    x: float
    y: float
    radius_m: float
    station: float


def mouth_of(tributary: Tributary, ground: xr.Dataset) -> Mouth:
    """Return where a tributary's water is let in.

    Parameters
    ----------
    tributary
        Its share and line.
    ground
        The ground stage's Dataset.

    Notes
    -----
    Going up its line from the end, the first place that lies `ASIDE` river widths off the main
    line; the line's beginning where it comes nowhere so far off.
    """
    upward = np.asarray(tributary.x)[::-1], np.asarray(tributary.y)[::-1]
    own, line = Centreline.through(*upward, Grid.of(ground).cell), Centreline.of(ground)
    x, y = own.x, own.y
    abreast, offset = line.to_station_offset(x, y)
    station = np.clip(abreast, line.head, line.foot)
    width = line.width(station)
    off = np.flatnonzero(np.hypot(offset, abreast - station) >= ASIDE * width)
    here = int(off[0]) if off.size else x.size - 1
    return Mouth(
        float(x[here]),
        float(y[here]),
        max(LEAST_RADIUS_M, 0.5 * tributary.share * float(width[here])),
        float(station[here]),
    )
