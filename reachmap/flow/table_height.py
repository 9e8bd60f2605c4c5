"""Height of the section tables: as high as the water of the highest flow stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from reachmap.base.centreline import Centreline
from reachmap.base.errors import BuildError
from reachmap.base.packed import known_cells, values_at
from reachmap.flow.foot import normal_foot_level
from reachmap.flow.profile import water_profile
from reachmap.flow.sections import TABLE_HEIGHT, CutGround, sections_of, still_water
from reachmap.flow.settings import FlowSettings

HIGHEST = 50.0
"""Highest that sections are tabled above the surface of a vanishing flow [m]. Our choice, 30-60:
the depth of a flow is promised to be under 60 m."""


def high_sections(
    ground: xr.Dataset, flows: Sequence[float], settings: FlowSettings
) -> tuple[xr.Dataset, CutGround]:
    """Return the ground and its sections, tabled as high as its highest flow stands.

    Sections reach `TABLE_HEIGHT`, and where the water stands higher twice that and so on, but no
    higher than the ground beside the river is known: there the walls of a canyon hold the water and
    nothing else does. The ground then carries that height, so that a part of it is cut alike.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flows
        Discharges [m3/s].
    settings
        Of the stage.

    Raises
    ------
    BuildError
        As `sections_of` does.
    """
    sections = sections_of(ground, settings)
    if _hold(ground, sections, max(flows), settings):
        return ground, sections
    most = min(_known_height(ground, sections), HIGHEST)
    height = TABLE_HEIGHT
    while height < most:
        height = min(2 * height, most)
        tall = ground.assign_attrs(table_height=height)
        higher = sections_of(tall, settings)
        if _hold(tall, higher, max(flows), settings):
            return tall, higher
    return ground, sections


def _hold(ground: xr.Dataset, sections: CutGround, flow: float, settings: FlowSettings) -> bool:
    """Return whether the water of a flow stands below the top of every section's table."""
    slope = float(ground.attrs["slope"])
    if not (np.isfinite(slope) and slope > 0):
        return True  # no level can be found at all: a fault of its own, raised later
    try:
        foot = normal_foot_level(
            sections.tables,
            flow,
            slope=slope,
            foot=sections.foot,
            stretch_m=settings.foot_stretch * sections.river_width,
            shorten=False,
        )
        water_profile(
            sections.tables,
            flow,
            foot,
            narrowing_loss=settings.narrowing_loss,
            widening_loss=settings.widening_loss,
        )
    except BuildError:
        return False
    return True


def _known_height(ground: xr.Dataset, sections: CutGround) -> float:
    """Return how high above the still water the ground is known beside the river [m], mostly."""
    cells, station = known_cells(ground["station"])
    bed = values_at(ground["bed"], cells).astype(np.float64)
    offset = values_at(ground["offset"], cells).astype(np.float64)
    nodes = sections.tables.station
    line = Centreline.of(ground)
    use = np.isfinite(bed) & (station > line.head) & (station < line.foot)
    at = np.rint((station[use] - nodes[0]) / sections.tables.step).astype(np.int64)
    at = at.clip(0, nodes.size - 1)
    sides = []
    for sign in (1, -1):  # the lower of both sides holds the water
        highest = np.full(nodes.size, -np.inf)
        np.maximum.at(highest, at, np.where(sign * offset[use] >= 0, bed[use], -np.inf))
        sides.append(highest)
    held = np.minimum(*sides) - still_water(sections.tables.bottom)
    return float(np.median(held))
