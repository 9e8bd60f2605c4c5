"""Seams followed from flow to flow: those present over too narrow a range are dropped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray
from reachmap.base.words import WaterKind
from reachmap.water.codes import recoded
from reachmap.water.settings import SeamSettings, WaterSettings


@dataclass(frozen=True, slots=True)
class _Line:
    """A seam at one flow: number of its row, slower side, line [m]."""

    row: int
    side: str
    shape: BaseGeometry


def seams_that_last(
    layers: Mapping[str, gpd.GeoDataFrame], flows: Sequence[float], settings: WaterSettings
) -> dict[str, gpd.GeoDataFrame]:
    """Return layers over all flows without the seams that do not last from flow to flow.

    A piece of water claimed beside such a seam keeps its place, its score and its stands, and loses
    the name: it is a soft edge where the current beside it is too quick, else an even run, with the
    code of its new kind.

    Parameters
    ----------
    layers
        `seams`, `water` and what names its codes, of all flows, stacked.
    flows
        Every flow that was read [m3/s], rising.
    settings
        How like two seams must be, over how wide a range one must last, the season's limits.
    """
    seams, rules = layers["seams"], settings.seams
    last = lasting(seams, flows, rules)
    if last.all():
        return dict(layers)
    gone = seams[~last]
    water = _renamed(layers["water"], seams, gone, settings)
    return recoded({**layers, "seams": seams[last].reset_index(drop=True), "water": water})


def lasting(seams: gpd.GeoDataFrame, flows: Sequence[float], rules: SeamSettings) -> BoolArray:
    """Return which seams last over a wide enough range of flows, shape (n,).

    Parameters
    ----------
    seams
        The layer of all flows.
    flows
        Every flow that was read [m3/s], rising.
    rules
        How like two seams must be, and over how wide a range one must last.

    Notes
    -----
    A seam is followed down and up, from each flow to the next, as long as one of the same slower
    side runs along half of it. It is dropped where the first flow above without it is less than
    `lasting_ratio` times the first below without it: it then surely lasts no longer than that.
    Beyond the flows that were read, and between flows that lie farther apart, it is believed.
    """
    at: dict[float, list[_Line]] = {flow: [] for flow in flows}
    columns = zip(seams["flow"], seams["slow_side"], seams.geometry, strict=True)
    places: list[tuple[int, _Line]] = []
    numbers = {flow: number for number, flow in enumerate(flows)}
    for row, (flow, side, shape) in enumerate(columns):
        line = _Line(row, str(side), shape)
        at[flow].append(line)
        places.append((numbers[flow], line))
    by_flow = [at[flow] for flow in flows]
    last = np.ones(len(seams), dtype=bool)
    for number, line in places:
        low, high = _gone(by_flow, number, line, -1, rules), _gone(by_flow, number, line, 1, rules)
        if low >= 0 and high < len(flows):
            last[line.row] = flows[high] >= rules.lasting_ratio * flows[low]
    return last


def _gone(
    by_flow: Sequence[Sequence[_Line]], number: int, line: _Line, step: int, rules: SeamSettings
) -> int:
    """Return the number of the first flow, that way, at which a seam is gone; beyond the ends."""
    number += step
    while 0 <= number < len(by_flow):
        found = [(_shared(line, other, rules.same_m), other) for other in by_flow[number]]
        share, best = max(found, key=lambda pair: pair[0], default=(0.0, line))
        if share < rules.same_share:
            break
        line, number = best, number + step
    return number


def _shared(one: _Line, other: _Line, near: float) -> float:
    """Return the share of the shorter seam's length that runs along the other, of one side."""
    if one.side != other.side or one.shape.distance(other.shape) > near:
        return 0.0
    short, long = sorted((one.shape, other.shape), key=lambda shape: shape.length)
    return float(short.intersection(long.buffer(near)).length / max(short.length, 1e-9))


def _renamed(
    water: gpd.GeoDataFrame,
    seams: gpd.GeoDataFrame,
    gone: gpd.GeoDataFrame,
    settings: WaterSettings,
) -> gpd.GeoDataFrame:
    """Return the water with other names for pieces beside seams that are gone."""
    kinds = water["kind"].to_numpy(dtype=object, copy=True)
    for row in np.flatnonzero(kinds == WaterKind.SEAM):
        here = seams[seams["flow"] == water["flow"].iloc[row]]
        near = water.geometry.iloc[row].buffer(settings.seams.same_m)
        along = here.geometry.intersection(near).length
        if along.empty or along.max() == 0 or along.idxmax() not in gone.index:
            continue
        too_quick = gone.loc[along.idxmax(), "fast_m_s"] > settings.limits.speed_high_m_s
        kinds[row] = (WaterKind.SOFT_EDGE if too_quick else WaterKind.EVEN_RUN).value
    return water.assign(kind=pd.Series(kinds, water.index).astype(water["kind"].dtype))
