"""From formulas of (x, y, station, offset) to a ground Dataset."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from reachmap.base.words import COVER_CODES, Cover
from scripts.sample.line import Line
from scripts.sample.raster import Cells, Facts, Laid, corridor, ground_of

CRS = "EPSG:32607"


def ground_from(
    line: Line, half_width: float, cell: float, formulas: Callable, facts: Facts
) -> xr.Dataset:
    """Return the ground of a river whose `formulas(cells, x, y)` give bed [m] and cover."""
    cells = corridor(line, half_width, cell)
    x, y = cells.x[cells.col], cells.y[cells.row]
    bed, cover = formulas(cells, x, y)
    code = np.zeros(cells.shape, dtype=np.uint8)
    code[cells.row, cells.col] = cover
    tall = np.where(code == COVER_CODES[Cover.TREES], 15.0, 0.0)
    tall = np.where(code == COVER_CODES[Cover.BRUSH], 3.0, tall)
    laid = Laid(cells.x, cells.y, cells.spread(bed), code, tall)
    return ground_of(laid, line, facts, line_step=2)


def covered(cells: Cells, kinds: list[tuple[np.ndarray, Cover]]) -> np.ndarray:
    """Return cover codes: gravel, and where each mask says, its cover; later ones win."""
    code = np.full(cells.station.shape, COVER_CODES[Cover.GRAVEL], dtype=np.uint8)
    for where, cover in kinds:
        code[where] = COVER_CODES[cover]
    return code
