"""The true river behind the sample: its bed, cover and roughness, for tests only.

The raster is written by `scripts/sample_river.py`. Roughness is by cover: `TRUE_ROUGHNESS`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import xarray as xr

from scripts.sample import plan
from scripts.sample.cover import ROUGHNESS as TRUE_ROUGHNESS
from scripts.sample.line import Line
from scripts.sample.raster import Laid
from scripts.sample.truth import TRUE_RASTER, read_truth, truth_ground

__all__ = ["TRUE_ROUGHNESS", "true_ground", "true_line", "true_raster"]


@cache
def true_line() -> Line:
    """Return the true centreline."""
    return plan.centreline()


@cache
def true_raster() -> Laid:
    """Return the true river at one metre."""
    return read_truth(Path(__file__).parent / TRUE_RASTER)


@cache
def true_ground(cell: int = 2) -> xr.Dataset:
    """Return the true river as the ground stage would hand it on, at cells of 1, 2 or 4 m.

    Cells lie as those of the product do, on whole multiples of the cell. Do not change it in place.
    """
    return truth_ground(true_raster(), true_line(), cell=cell)
