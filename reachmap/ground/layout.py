"""The drawing on the raster: channels, and each cell's relation to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import BuildError
from reachmap.base.grid import Grid
from reachmap.base.words import Side
from reachmap.ground.axis_faults import axis_faults
from reachmap.ground.channels import Channel, make_channels, nearest_channel
from reachmap.ground.corridor import Corridor, corridor_of, grid_of
from reachmap.ground.sections import Sections, cut_sections
from reachmap.ground.settings import GroundSettings
from reachmap.markup.model import Markup


@dataclass(frozen=True, slots=True)
class Layout:
    """The drawing laid out.

    Parameters
    ----------
    corridor
        The cells; all lists below run over them.
    channels
        The main channel, then the side channels that hold water when the banks were traced.
    swales
        Side channels drawn across ground that was dry then.
    sections
        Of each channel.
    bank
        Number of the bank polygon over each cell, from 1; 0 none.
    owner
        Number of each cell's channel.
    station, offset, excess
        In that channel [m]; excess is the distance outside its drawn edge, negative within.
    main_station, main_offset
        In the main channel [m].
    water
        Cells drawn as water when the banks were traced.
    island
        Cells of drawn islands.
    along
        Cells that lie beside the drawn line, not beyond its ends.
    """

    corridor: Corridor
    channels: tuple[Channel, ...]
    swales: tuple[Channel, ...]
    sections: tuple[Sections, ...]
    bank: np.ndarray
    owner: np.ndarray
    station: FloatArray
    offset: FloatArray
    excess: FloatArray
    main_station: FloatArray
    main_offset: FloatArray
    water: BoolArray
    island: BoolArray
    along: BoolArray

    @property
    def main(self) -> Channel:
        """Return the main channel."""
        return self.channels[0]


def lay_out(markup: Markup, settings: GroundSettings) -> Layout:
    """Return the drawing laid out on the raster.

    Raises
    ------
    BuildError
        If no bank was drawn along the main line, or its axis crosses itself or leaves the line.
    """
    grid = grid_of(markup, settings.cell, settings.margin_m)
    laid = make_channels(markup, settings.cell)
    faults = axis_faults(laid[0], markup)
    if faults:
        raise BuildError(faults)
    channels = tuple(one for one in laid if not one.dry)
    swales = tuple(one for one in laid if one.dry)
    corridor = corridor_of(grid, [one.outline() for one in channels], markup, settings.margin_m)
    x, y = corridor.x, corridor.y
    main_station, main_offset = channels[0].line.to_station_offset(x, y)
    owner, station, offset, excess = nearest_channel(channels, x, y)
    bank = _banks_at(grid, corridor, markup)
    half_cell = settings.cell / 2
    along = (main_station >= -half_cell) & (main_station <= channels[0].line.length + half_cell)
    water = (bank == 0) & (excess <= 0.75 * settings.cell) & along
    on_island = np.r_[False, [one.side is Side.ISLAND for one in markup.banks]]
    sections = tuple(
        cut_sections(channel, corridor, owner == number, station, settings.margin_m)
        for number, channel in enumerate(channels)
    )
    return Layout(
        corridor, channels, swales, sections, bank, owner, station, offset, excess,
        main_station, main_offset, water, on_island[bank], along,
    )  # fmt: skip


def _banks_at(grid: Grid, corridor: Corridor, markup: Markup) -> np.ndarray:
    """Return the number of the bank polygon over each cell; of overlapping ones the smallest's."""
    order = sorted(range(len(markup.banks)), key=lambda i: -markup.banks[i].outline.area)
    burnt = grid.rasterize([markup.banks[i].outline for i in order], [i + 1 for i in order])
    return np.asarray(burnt[corridor.row, corridor.col])
