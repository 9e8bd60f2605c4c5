"""Wading grade of each cell as one byte; between two flows the page uses the stricter one."""

from __future__ import annotations

import geopandas as gpd
import numpy as np

from reachmap.base.arrays import CodeArray
from reachmap.base.grid import Grid
from reachmap.base.words import WadeGrade, Wet

GRADES = (WadeGrade.EASY, WadeGrade.CAREFUL, WadeGrade.NO, WadeGrade.UNKNOWN)
"""Grades in the order of their codes 1 to 4, stricter ones higher; code 0 is dry ground."""


def grade_codes(grid: Grid, zones: gpd.GeoDataFrame | None, wet: CodeArray) -> CodeArray:
    """Return the codes of `GRADES` of each cell, 0 where dry, shape (y, x).

    Parameters
    ----------
    grid
        Grid of the raster.
    zones
        Rows of the layer `wading` at one flow; None or empty: nothing was graded.
    wet
        Codes of `base.words.Wet`.

    Notes
    -----
    Where two zones overlap the stricter applies. Water outside all zones counts as beyond the
    limits, as on the still; cells not known to be wet or dry are unknown whatever their zone.
    """
    shapes, codes = [], []
    for code, grade in enumerate(GRADES, start=1):  # stricter grades are written last
        rows = [] if zones is None else list(zones.geometry[zones["grade"] == grade.value])
        shapes += rows
        codes += [code] * len(rows)
    found = grid.rasterize(shapes, codes)
    uncovered = (found == 0) & (wet == Wet.YES)
    found = np.where(uncovered, GRADES.index(WadeGrade.NO) + 1, found)
    found = np.where(wet == Wet.NO, 0, found)
    return np.where(wet == Wet.UNKNOWN, len(GRADES), found).astype(np.uint8)
