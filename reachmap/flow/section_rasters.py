"""The sections of the ground as rasters, for the 1-D profile and its split by conveyance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.resistance import Stones, unit_conveyance
from reachmap.flow.sections import CutGround, Places

Nodes: TypeAlias = np.ndarray[tuple[int, int], np.dtype[np.int32]]


@dataclass(frozen=True, slots=True)
class Sections:
    """A ground that was cut into sections, as rasters.

    Arrays are of the raster's shape (y, x).

    Parameters
    ----------
    bed, station
        As in the ground stage.
    roughness
        Manning's n in deep water [s/m^(1/3)].
    stone_term
        Of the stones (`base.resistance`) [m^(5/3)]; None: there are none.
    inside
        Cells between head and foot with a known bed.
    along_x, along_y
        Gradient of the station towards east and north [m/m]; 0 where not inside.
    node, share
        Section at or above each cell, -1 where not inside, and how much of the cell belongs to the
        section below it, 0 to 1.
    cut
        The same cells listed, the tables of the sections by level, and their ends.
    """

    bed: FloatArray
    roughness: FloatArray
    stone_term: FloatArray | None
    station: FloatArray
    inside: BoolArray
    along_x: FloatArray
    along_y: FloatArray
    node: Nodes
    share: FloatArray
    cut: CutGround

    @property
    def stretch(self) -> FloatArray:
        """Return the size of the station's gradient: above 1 inside a bend, below 1 outside."""
        return np.asarray(np.hypot(self.along_x, self.along_y))

    def carried(self, depth: FloatArray, cells: Places) -> FloatArray:
        """Return what a metre of width carries at slope 1 [m2/s] at cells, flat indices."""
        term = None if self.stone_term is None else self.stone_term.ravel()[cells]
        return unit_conveyance(depth, self.roughness.ravel()[cells], term)

    @classmethod
    def of(cls, ground: xr.Dataset, cut: CutGround) -> Sections:
        """Return a ground that was cut, as rasters."""
        bed, roughness, station = (
            ground[name].to_numpy().astype(np.float64) for name in ("bed", "roughness", "station")
        )
        stones = Stones.of(ground)
        stone_term = None
        if stones.size_m > 0:
            roughness, stone_term = stones.of_cells(roughness, ground["cover"].to_numpy())

        def spread(values: np.ndarray, elsewhere: float) -> np.ndarray:
            raster = np.full(bed.shape, elsewhere, values.dtype)
            raster.ravel()[cut.cells] = values
            return raster

        return cls(
            bed=bed,
            roughness=roughness,
            stone_term=stone_term,
            station=station,
            inside=spread(np.ones(cut.cells.size, np.bool_), 0),
            along_x=spread(cut.along_x, 0.0),
            along_y=spread(cut.along_y, 0.0),
            node=spread(cut.node, -1),
            share=spread(cut.share, 0.0),
            cut=cut,
        )
