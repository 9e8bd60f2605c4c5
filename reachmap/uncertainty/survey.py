"""Survey suggestions as a layer: the places where one note would sharpen the map most."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr
from shapely import Point

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.packed import values_at
from reachmap.base.schema import layer_frame
from reachmap.ground import GroundSettings
from reachmap.ground.scaling import form_of
from reachmap.ground.suggest import Suggestion, suggest, suggest_edges
from reachmap.markup.model import Markup, SeasonLimits
from reachmap.uncertainty.sticks import Stick, suggest_sticks
from reachmap.uncertainty.walk import Banks, walking_order, with_ways

SURVEY_VERSION = 1
"""Raised when other places are suggested."""

PLACES, EDGES_MOST = 10, 3
"""How many places are listed, and how many of them may be for an edge (our choice)."""

STAFF_M = 2.0
"""Deepest low water in which a sounding is suggested [m]: a long staff, or a line from a boat, and
no swim (our choice, 1.2-4)."""


def survey_layer(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    uncertainty: xr.Dataset | None,
    reach: Markup,
    settings: GroundSettings,
    roughness_sd: Mapping[str, float],
) -> gpd.GeoDataFrame:
    """Return at most ten places worth a note, the most helpful first; none without an ensemble.

    The water that matters is that where a note can change the answer: the sum over the flows of p
    (1 - p), p the chance in the ensemble that it suits the season's fish. Soundings are suggested
    only where the bed is an unmeasured form, in water that is there at the lowest flow and shallow
    enough to reach the bed; sticks where they can be timed from a bank. No two places lie within
    the angler's cast of each other.

    Parameters
    ----------
    ground, flowing, uncertainty
        Results of the stages.
    reach
        The drawing; its soundings have been taken already.
    settings
        Of the ground stage.
    roughness_sd
        Standard deviation of the logarithm of the roughness of each class of cover, by name.
    """
    if uncertainty is None:
        return layer_frame("asks", [], reach.crs)
    matters, spread = _over_flows(uncertainty)
    low = flowing["depth"].isel(flow=0).to_numpy()
    with np.errstate(invalid="ignore"):
        reachable = form_of(ground, settings)[0] & (low > 0) & (low <= STAFF_M)
    cast = reach.plan.kit.angler.cast_limit_m
    edges = suggest_edges(ground, settings, EDGES_MOST)
    soundings = suggest(
        ground,
        spread,
        matters,
        settings,
        PLACES - len(edges),
        reachable=reachable,
        sounded=_sounded(ground, reach),
        apart_m=cast,
    )
    sticks, speed_variance = suggest_sticks(
        ground, flowing, uncertainty, roughness_sd, settings, PLACES - len(edges)
    )
    depth_variance = float((np.nan_to_num(matters) * spread**2).sum())
    both = _best(
        soundings,
        _as_suggestions(ground, sticks, speed_variance),
        (depth_variance, speed_variance),
        reach.plan.season,
    )
    found = [*spaced(both, edges, cast)[: PLACES - len(edges)], *edges]
    grid = Grid.of(ground)
    row, col, _ = grid.index(np.array([one.x for one in found]), np.array([one.y for one in found]))
    cells = [int(cell) for cell in row * grid.shape[1] + col]
    lowest = flowing.isel(flow=0), uncertainty.isel(flow=0)
    found = with_ways(found, cells, Banks.of(ground, *lowest, reach.plan.kit.angler.wade_limit_m))
    order = walking_order(found)
    rows = [_row(rank, one, order[rank - 1]) for rank, one in enumerate(found, start=1)]
    return layer_frame("asks", rows, reach.crs)


def spaced(
    places: Sequence[Suggestion], taken: Sequence[Suggestion], apart_m: float
) -> list[Suggestion]:
    """Return places in their order without those nearer than `apart_m` to a better one or `taken`.

    Two notes within a cast of each other are one stop; the second is not worth a line of its own.
    """
    kept: list[Suggestion] = []
    for one in places:
        others = (*taken, *kept)
        if all(math.hypot(one.x - each.x, one.y - each.y) >= apart_m for each in others):
            kept.append(one)
    return kept


def _best(
    soundings: Sequence[Suggestion],
    sticks: Sequence[Suggestion],
    whole: tuple[float, float],
    season: SeasonLimits,
) -> list[Suggestion]:
    """Return both kinds by their gain, as a share of the variance of both depth and speed.

    `whole` are the variances of depth [m2] and of speed [m2/s2] over the water that matters, each
    divided by the square of half of the season's range: a change that large moves water out of it.
    """
    half = (
        (season.depth_high_m - season.depth_low_m) / 2,
        (season.speed_high_m_s - season.speed_low_m_s) / 2,
    )
    parts = [variance / width**2 for variance, width in zip(whole, half, strict=True)]
    total = max(sum(parts), 1e-12)
    shares = [
        replace(one, gain=one.gain * part / total)
        for kind, part in zip((soundings, sticks), parts, strict=True)
        for one in kind
    ]
    return sorted(shares, key=lambda one: -one.gain)


def _as_suggestions(ground: xr.Dataset, sticks: Sequence[Stick], whole: float) -> list[Suggestion]:
    """Return sticks as suggestions, each gain a share of the whole variance of speed."""
    columns = ground.sizes["x"]
    found = []
    for stick in sticks:
        row, col = divmod(stick.cell, columns)
        x, y = float(ground["x"][col]), float(ground["y"][row])
        station, offset = (float(ground[name][row, col]) for name in ("station", "offset"))
        gain = stick.gain / whole
        found.append(
            Suggestion("stick", x, y, station, offset, math.nan, gain, stick.flow, stick.cover)
        )
    return found


def _over_flows(uncertainty: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return how much the water of each cell matters, and its depth's spread [m], shapes (y, x).

    The sum over the flows of p (1 - p), p its chance: no note changes what surely suits, or surely
    does not. The root mean square, over the flows that wet it, of the spread without the flow
    model's own error, which no note removes. Flows are taken one at a time.
    """
    shape = uncertainty["depth_spread"].shape[1:]
    matters = np.zeros(shape, dtype=uncertainty["suits_chance"].dtype)
    total, count = np.zeros(shape), np.zeros(shape, dtype=np.int32)
    for index in range(uncertainty.sizes["flow"]):
        one = uncertainty.isel(flow=index)
        cells = _held(one)
        chance = np.nan_to_num(values_at(one["suits_chance"], cells))
        matters.ravel()[cells] += chance * (1 - chance)
        squares = values_at(one["depth_spread"], cells).astype(np.float64) ** 2
        squares = np.maximum(squares - float(uncertainty.attrs["model_depth_m"]) ** 2, 0.0)
        known = np.isfinite(squares)
        total.ravel()[cells[known]] += squares[known]
        count.ravel()[cells[known]] += 1
    spread = np.zeros(shape)
    cells = np.flatnonzero(count).astype(np.int32)
    spread.ravel()[cells] = np.sqrt(total.ravel()[cells] / count.ravel()[cells])
    return matters, spread


def _held(one: xr.Dataset) -> IntArray:
    """Return the cells of one flow with a spread or a chance, counted in the flattened raster."""
    known = np.isfinite(one["depth_spread"].to_numpy())
    known |= np.nan_to_num(one["suits_chance"].to_numpy()) != 0
    return np.flatnonzero(known).astype(np.int32)


def _sounded(ground: xr.Dataset, reach: Markup) -> np.ndarray:
    """Return the flat numbers of the cells in which soundings were taken."""
    grid = Grid.of(ground)
    places = np.array([(one.place.x, one.place.y) for one in reach.soundings]).reshape(-1, 2)
    tracks = [np.column_stack([track.x, track.y]) for track in reach.tracks]
    places = np.vstack([places, *tracks])
    row, col, inside = grid.index(*places.T)
    flat = np.ravel_multi_index((row[inside], col[inside]), grid.shape)
    return np.asarray(flat[np.isfinite(ground["bed"].to_numpy().ravel()[flat])])


def _row(rank: int, one: Suggestion, order: int) -> dict[str, Any]:
    """Return one place as a row of the layer."""
    return {
        "code": f"A{rank}",
        "rank": rank,
        "order": order,
        "way": one.way,
        "side": one.side or None,
        "kind": one.kind,
        "station_m": one.station,
        "offset_m": one.offset,
        "flow_m3_s": one.flow,
        "cover": one.cover,
        "spread_m": one.spread_m,
        "gain": one.gain,
        "geometry": Point(one.x, one.y),
    }
