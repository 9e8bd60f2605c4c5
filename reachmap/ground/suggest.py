"""Where one sounding, or one edge seen, would sharpen the map most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.shapes import B1, F8
from reachmap.ground.settings import GroundSettings

MOST_CANDIDATES, MOST_TARGETS = 1000, 2000
"""How many places are tried, and over how many the gain is summed (our choice: under a second)."""


@dataclass(frozen=True, slots=True)
class Ask:
    """One place where a note would help.

    Parameters
    ----------
    x, y
        [m, project CRS].
    station, offset
        Along and across the main line [m].
    spread_m
        Standard deviation of the depth there over the ensemble [m].
    gain
        Share of the whole doubt, in the water that matters, that one sounding there takes away,
        those listed before it given.
    """

    x: float
    y: float
    station: float
    offset: float
    spread_m: float
    gain: float


def suggest(
    ground: xr.Dataset,
    depth_spread: F8,
    matters: F8,
    settings: GroundSettings,
    count: int = 10,
    *,
    reachable: B1 | None = None,
) -> list[Ask]:
    """Return the places where soundings would help most, the best first.

    Greedy: each next place is the one whose sounding takes most of what doubt the ones before left,
    by the covariance of the bed's residuals scaled to the ensemble's spread.

    Parameters
    ----------
    ground
        The stage's result.
    depth_spread
        Standard deviation of the depth over the ensemble [m], shape (y, x); NaN or 0 where dry.
    matters
        Weight of each cell, shape (y, x), >= 0: how much the water there is worth.
    settings
        Of the stage.
    count
        How many.
    reachable
        Cells where someone can take a sounding; None: all of them.
    """
    spread = np.nan_to_num(depth_spread)
    bed = np.isfinite(ground["bed"].to_numpy())
    weight = np.where(bed & (spread > 0), np.nan_to_num(matters), 0.0)
    target = _thinned(np.flatnonzero(weight.ravel() > 0), MOST_TARGETS)
    if not target.size:
        return []
    allowed = bed & (spread > 0) if reachable is None else bed & (spread > 0) & reachable
    tried = _thinned(np.flatnonzero(allowed.ravel()), MOST_CANDIDATES)
    if not tried.size:
        return []
    between = _covariance(ground, spread, (tried, target), settings)
    own = _covariance(ground, spread, (tried, tried), settings)
    worth = weight.ravel()[target]
    total = float((worth * spread.ravel()[target] ** 2).sum())
    asked = []
    for _ in range(min(count, tried.size)):
        noise = own.diagonal() + settings.sounding_error_m**2
        gain = (between**2 @ worth) / noise
        best = int(np.argmax(gain))
        if gain[best] <= 1e-6 * total:
            break
        asked.append(_ask(ground, int(tried[best]), spread, float(gain[best] / total)))
        row, column = between[best].copy(), own[:, best].copy()
        between -= np.outer(column, row) / noise[best]
        own -= np.outer(column, column) / noise[best]
    return asked


def _thinned(cells: np.ndarray, most: int) -> np.ndarray:
    """Return at most `most` of the cells, evenly picked."""
    if cells.size <= most:
        return cells
    return np.asarray(cells[np.linspace(0, cells.size - 1, most).astype(np.int64)])


def _covariance(
    ground: xr.Dataset, spread: F8, cells: tuple[np.ndarray, np.ndarray], settings: GroundSettings
) -> F8:
    """Return the covariance of the depth between two lists of cells [m2].

    The reach's, the section's and the local part of the form's doubt, in the shares they have at
    the ensemble's mean depth of doubt.
    """
    width = float(np.median(ground["line_width"].to_numpy()))
    station, offset = (ground[name].to_numpy().ravel() for name in ("station", "offset"))
    one, other = cells
    apart = np.abs(station[one][:, None] - station[other])
    across = offset[one][:, None] - offset[other]
    parts = np.array([settings.reach_doubt, settings.section_doubt, settings.local_doubt_m]) ** 2
    reach, section, local = parts / parts.sum()
    along = settings.range_along_widths * width
    near = np.hypot(apart / along, across / (settings.range_across_widths * width))
    alike = reach + section * np.exp(-apart / (settings.section_range_widths * width))
    alike += local * np.exp(-near)
    flat = spread.ravel()
    return np.asarray(flat[one][:, None] * flat[other] * alike)


def _ask(ground: xr.Dataset, cell: int, spread: F8, gain: float) -> Ask:
    """Return a cell as a place to ask for."""
    row, col = np.unravel_index(cell, spread.shape)
    return Ask(
        float(ground["x"].to_numpy()[col]),
        float(ground["y"].to_numpy()[row]),
        float(ground["station"].to_numpy()[row, col]),
        float(ground["offset"].to_numpy()[row, col]),
        float(spread[row, col]),
        gain,
    )
