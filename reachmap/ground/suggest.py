"""Survey suggestions: where one sounding or one edge would improve the map most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.linalg import cho_factor, cho_solve

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.centreline import Centreline
from reachmap.ground.build_ground import low_line
from reachmap.ground.settings import GroundSettings

MOST_CANDIDATES, MOST_TARGETS = 1000, 2000
"""How many places are tried, and over how many the gain is summed (our choice: under a second)."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One place where a note would help.

    Parameters
    ----------
    kind
        "sounding"; "edge": where the water's edge at one flow, seen and drawn, would help; "stick":
        where a stick's speed would.
    x, y
        [m, project CRS].
    station, offset
        Along and across the main line [m].
    spread_m
        Standard deviation of the depth there over the ensemble [m]; NaN but for a sounding.
    gain
        Of a sounding: share of the variance, in the water that matters, that it removes given
        those listed before it. Of a stick: the same. Of an edge: mean of 1 - confidence of the
        ground beside the water there.
    flow
        At which a stick is timed [m3/s]; NaN for others.
    cover
        Class of cover whose roughness a stick narrows; empty for others.
    way, side
        How one comes to it and from which bank (words of `SurveyWay` and `Side`); empty: not known.
    """

    kind: str
    x: float
    y: float
    station: float
    offset: float
    spread_m: float
    gain: float
    flow: float = float("nan")
    cover: str = ""
    way: str = ""
    side: str = ""


def suggest(  # noqa: PLR0913 - three of them by name, each with its usual value
    ground: xr.Dataset,
    depth_spread: FloatArray,
    matters: FloatArray,
    settings: GroundSettings,
    count: int = 10,
    *,
    reachable: BoolArray | None = None,
    sounded: np.ndarray | None = None,
    apart_m: float = 0.0,
) -> list[Suggestion]:
    """Return the places where soundings would help most, the best first.

    Greedy: each next place is the one whose sounding removes most of the variance that the ones
    before left, by the covariance of the bed's residuals given the soundings taken so far, scaled
    to the ensemble's spread.

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
        Cells where a sounding can be taken; None: all of them.
    sounded
        Flat numbers of the cells that soundings were taken in already; None: none.
    apart_m
        No two places lie nearer to each other than this [m].
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
    known = np.empty(0, dtype=np.int64) if sounded is None else np.unique(sounded)
    known = _thinned(known, MOST_CANDIDATES)
    own, between = _posterior(ground, spread, (tried, target, known), settings)
    worth = weight.ravel()[target]
    total = float((worth * spread.ravel()[target] ** 2).sum())
    found: list[Suggestion] = []
    x, y = (one.ravel()[tried] for one in np.meshgrid(ground["x"], ground["y"]))
    free = np.ones(tried.size, dtype=bool)
    for _ in range(min(count, tried.size)):
        noise = own.diagonal() + settings.sounding_error_m**2
        gain = np.where(free, (between**2 @ worth) / noise, 0.0)
        best = int(np.argmax(gain))
        if gain[best] <= 1e-6 * total:
            break
        found.append(_sounding(ground, int(tried[best]), spread, float(gain[best] / total)))
        free &= np.hypot(x - x[best], y - y[best]) >= apart_m
        # Condition all on this sounding: C - c c' / (c_ii + error^2).
        row, column = between[best].copy(), own[:, best].copy()
        between -= np.outer(column, row) / noise[best]
        own -= np.outer(column, column) / noise[best]
    return found


def _thinned(cells: np.ndarray, most: int) -> np.ndarray:
    """Return at most `most` of the cells, evenly picked."""
    if cells.size <= most:
        return cells
    return np.asarray(cells[np.linspace(0, cells.size - 1, most).astype(np.int64)])


def _posterior(
    ground: xr.Dataset,
    spread: FloatArray,
    cells: tuple[np.ndarray, np.ndarray, np.ndarray],
    settings: GroundSettings,
) -> tuple[FloatArray, FloatArray]:
    """Return the covariance of the depth [m2] among the tried cells, and of them with the targets.

    That of the form's error given the soundings in the known cells, each cell scaled so that its
    standard deviation is the ensemble's.
    """
    tried, target, known = cells
    low = np.interp(ground["station"].to_numpy(), *low_line(ground))
    depth = np.maximum(np.nan_to_num(low - ground["bed"].to_numpy()), 0.0)
    share = settings.reach_doubt**2 + settings.section_doubt**2
    prior = np.sqrt(share * depth**2 + settings.local_doubt_m**2)
    own = _covariance(ground, prior, (tried, tried), settings)
    between = _covariance(ground, prior, (tried, target), settings)
    alone = prior.ravel()[target] ** 2
    if known.size:
        noise = settings.sounding_error_m**2 * np.eye(known.size)
        factor = cho_factor(_covariance(ground, prior, (known, known), settings) + noise)
        near, far = (
            _covariance(ground, prior, (known, some), settings) for some in (tried, target)
        )
        solved = cho_solve(factor, near).T
        own, between = own - solved @ near, between - solved @ far
        alone = alone - (far * cho_solve(factor, far)).sum(axis=0)
    flat = spread.ravel()
    scale = [
        flat[some] / np.sqrt(np.maximum(variance, 1e-6))
        for some, variance in ((tried, own.diagonal()), (target, alone))
    ]
    return own * np.outer(scale[0], scale[0]), between * np.outer(scale[0], scale[1])


def _covariance(
    ground: xr.Dataset,
    spread: FloatArray,
    cells: tuple[np.ndarray, np.ndarray],
    settings: GroundSettings,
) -> FloatArray:
    """Return the covariance of the depth between two lists of cells [m2].

    The reach's, the section's and the local part of the form's error, in the shares that the
    settings give them.
    """
    width = Centreline.of(ground).median_width
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


def _sounding(ground: xr.Dataset, cell: int, spread: FloatArray, gain: float) -> Suggestion:
    """Return a cell as a place for a sounding."""
    row, col = np.unravel_index(cell, spread.shape)
    x, y = float(ground["x"].to_numpy()[col]), float(ground["y"].to_numpy()[row])
    station, offset = (float(ground[name].to_numpy()[row, col]) for name in ("station", "offset"))
    return Suggestion("sounding", x, y, station, offset, float(spread[row, col]), gain)


def suggest_edges(ground: xr.Dataset, settings: GroundSettings, count: int = 3) -> list[Suggestion]:
    """Return where the water's edge at one higher flow would help most, the least known first.

    Ground of low confidence within half a width of the low water: there a seen edge gives a height.
    Places stand at least two widths apart; ground known as well as a DEM knows it is never
    suggested.

    Parameters
    ----------
    ground
        The stage's result.
    settings
        Of the stage.
    count
        How many.
    """
    line = Centreline.of(ground)
    width, end = line.median_width, line.foot
    station, offset = ground["station"].to_numpy(), ground["offset"].to_numpy()
    bed = ground["bed"].to_numpy()
    below = np.interp(station, *low_line(ground)) - bed >= 0.9 * settings.least_depth_m
    half = line.width(station) / 2
    shore = ~below & (np.abs(offset) > 0.8 * half) & (np.abs(offset) < half + width / 2)
    shore &= (station >= 0) & (station <= end)
    unknown = 1 - ground["confidence"].to_numpy()
    edges = np.arange(0.0, end + width, width)
    which = np.digitize(station[shore], edges) - 1
    number = np.maximum(np.bincount(which, minlength=len(edges)), 1)
    mean = np.bincount(which, unknown[shore], len(edges)) / number
    found: list[Suggestion] = []
    for place in np.argsort(-mean, kind="stable"):
        at = float(edges[place] + width / 2)
        if mean[place] < settings.edge_worth or len(found) == count:
            break
        if at <= end and all(abs(at - one.station) >= 2 * width for one in found):
            x, y = line.from_station_offset(np.array([at]), np.zeros(1))
            found.append(
                Suggestion(
                    "edge", float(x[0]), float(y[0]), at, 0.0, float("nan"), float(mean[place])
                )
            )
    return found
