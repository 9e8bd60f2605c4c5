"""How each cell grades for a person on foot, as one byte: the page takes the stricter of two."""

from __future__ import annotations

import geopandas as gpd
import numpy as np

from reachmap.base.arrays import CodeArray
from reachmap.base.grid import Grid
from reachmap.base.words import WadeGrade, Wet

GRADES = (WadeGrade.EASY, WadeGrade.CAREFUL, WadeGrade.NO, WadeGrade.UNKNOWN)
"""Grades in the order of their codes 1 to 4, the stricter the higher; code 0 is dry ground."""


def grade_codes(grid: Grid, zones: gpd.GeoDataFrame | None, wet: CodeArray) -> CodeArray:
    """Return the codes of `GRADES` of each cell, 0 where dry, shape (y, x).

    Parameters
    ----------
    grid
        Of the raster.
    zones
        Rows of the layer `wading` at one flow; None or none of them: nothing was graded.
    wet
        Codes of `base.words.Wet`.

    Notes
    -----
    Where two zones overlap the stricter holds. Water that no zone covers counts as beyond the
    limits, as on the still; what is not known to be wet or dry is unknown whatever a zone says.
    """
    shapes, codes = [], []
    for code, grade in enumerate(GRADES, start=1):  # the stricter is laid last
        rows = [] if zones is None else list(zones.geometry[zones["grade"] == grade.value])
        shapes += rows
        codes += [code] * len(rows)
    found = grid.rasterize(shapes, codes)
    uncovered = (found == 0) & (wet == Wet.YES)
    found = np.where(uncovered, GRADES.index(WadeGrade.NO) + 1, found)
    found = np.where(wet == Wet.NO, 0, found)
    return np.where(wet == Wet.UNKNOWN, len(GRADES), found).astype(np.uint8)
