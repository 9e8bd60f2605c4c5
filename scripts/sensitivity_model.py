"""A stretch of the sample river run through ground, preview flow, water and wading, in memory.

A stage is run anew only where one of its own numbers, or of a stage before it, has changed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr
from scipy.stats import kendalltau
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from reachmap import flow, water
from reachmap.angler.view import view_of
from reachmap.angler.wading import CAREFUL, EASY, grade_water
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.fields import with_labels
from reachmap.flow import FlowSettings
from reachmap.ground import GroundSettings
from reachmap.markup.model import Markup
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.terrain import make_terrain
from reachmap.water import WaterSettings
from scripts.sensitivity_fields import with_values

SAMPLE = Path(__file__).resolve().parent.parent / "data_samples" / "madeup_river"
STRETCH = 1050.0, 1900.0
"""Ends of the stretch along the main line [m]: a bend, a riffle, an island, a side channel."""
REACH_M = 140.0
"""Ground kept to either side of the main line [m]."""
FLOWS = 0, 3
"""Which of the sample's flows are read: the lowest and a middle one."""
OUTPUTS: Mapping[str, str] = {
    "waded": "water graded easy or careful, % of the wet area",
    "soft": "area of the pieces of water, ha",
    "order": "pairs of pieces of water that change order, %",
    "depth": "median depth, m",
}
"""What is read from a run, over both flows."""

Values = Mapping[str, float]


def cut_reach(reach: Markup, ends: tuple[float, float] = STRETCH) -> Markup:
    """Return the part of a drawing along a stretch of its main line; speeds and runs are left out.

    Parameters
    ----------
    reach
        The drawing.
    ends
        Station of the stretch's upper and lower end [m].
    """
    zone = substring(reach.main.line, *ends).buffer(REACH_M, cap_style="flat")
    lines = [(one, _largest(one.line.intersection(zone), "LineString")) for one in reach.rivers]
    banks = [
        replace(bank, outline=part)
        for bank in reach.banks
        for part in _parts(bank.outline.intersection(zone), "Polygon")
    ]
    edges = [
        replace(edge, shape=part)
        for edge in reach.edges
        for part in _parts(edge.shape.intersection(zone), edge.shape.geom_type)
    ]
    marks = {
        name: tuple(one for one in getattr(reach, name) if zone.contains(one.place))
        for name in ("soundings", "levels", "trees", "rocks", "access")
    }
    return replace(
        reach,
        rivers=tuple(replace(one, line=line) for one, line in lines if line is not None),
        banks=tuple(banks),
        edges=tuple(edges),
        hazards=tuple(one for one in reach.hazards if zone.contains(one.shape)),
        speeds=(),
        runs=(),
        **marks,
    )


def _parts(shape: BaseGeometry, kind: str) -> list[Any]:
    """Return the parts of a shape that are of a kind."""
    return [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == kind and part]


def _largest(shape: BaseGeometry, kind: str) -> Any | None:
    """Return the longest part of a kind; None if there is none."""
    return max(_parts(shape, kind), key=lambda part: part.length, default=None)


def usual_settings(reach: Markup) -> dict[str, Any]:
    """Return the settings of each stage that is looked at, by its name.

    The flow is the one-dimensional preview; margins of wading are those of a full map, since with
    a preview's next to no water of this stretch would be graded at all.
    """
    usual = settings_for(reach, Options())
    return {
        "ground": usual.ground,
        "flow": replace(usual.flow, method="profile"),
        "water": usual.water,
        "wading": usual.angler.wading,
    }


def model_of(reach: Markup) -> Callable[[Values], dict[str, float]]:
    """Return the function from values of the numbers, by path, to the outputs.

    What is not among the values keeps its default.
    """
    usual = usual_settings(reach)
    flows = [reach.plan.flows[index] for index in FLOWS]

    @lru_cache(maxsize=2)
    def ground_of(ground: GroundSettings) -> xr.Dataset:
        return make_terrain(reach, ground, None)

    @lru_cache(maxsize=2)
    def flow_of(ground: GroundSettings, how: FlowSettings) -> tuple[list[xr.Dataset], xr.Dataset]:
        terrain = ground_of(ground)
        solved = with_labels(flow.solve(terrain, flows, how), reach.plan.units)
        day = flow.solve(terrain, [float(terrain.attrs["low_flow"])], how)
        return [solved.isel(flow=[index]) for index in range(len(flows))], day

    @lru_cache(maxsize=2)
    def water_of(
        ground: GroundSettings, how: FlowSettings, rules: WaterSettings
    ) -> list[gpd.GeoDataFrame]:
        terrain, (solved, _) = ground_of(ground), flow_of(ground, how)
        return [water.read_water(terrain, one, rules).layers["water"] for one in solved]

    @lru_cache(maxsize=2)
    def waded_of(ground: GroundSettings, how: FlowSettings, rules: WadingSettings) -> float:
        terrain, (solved, day) = ground_of(ground), flow_of(ground, how)
        graded = wet = 0
        for one in solved:
            view = view_of(terrain, one, day)
            wading = grade_water(view, reach.hazards, reach.plan.kit.angler, rules)
            graded += int((view.wet & np.isin(wading.grade, (EASY, CAREFUL))).sum())
            wet += int(view.wet.sum())
        return 100.0 * graded / wet

    def run(values: Values) -> dict[str, float]:
        now = {stage: with_values(one, _below(values, stage)) for stage, one in usual.items()}
        below = now["ground"], now["flow"]
        pieces = water_of(*below, now["water"])
        depths = [one["depth"].to_numpy() for one in flow_of(*below)[0]]
        return {
            "waded": waded_of(*below, now["wading"]),
            "soft": sum(float(one.area.sum()) for one in pieces) / 1e4,
            "order": turned_pairs(
                places, [worth_at(p, n) for p, n in zip(at, pieces, strict=True)]
            ),
            "depth": float(np.mean([np.nanmedian(depth[depth > 0]) for depth in depths])),
        }

    start = water_of(usual["ground"], usual["flow"], usual["water"])
    at = [list(one.geometry) for one in start]
    places = [one["score"].to_numpy() for one in start]
    return run


def _below(values: Values, stage: str) -> dict[str, float]:
    """Return the values of one stage by their paths below it."""
    head = f"{stage}."
    return {name.removeprefix(head): one for name, one in values.items() if name.startswith(head)}


def worth_at(places: list[Polygon], pieces: gpd.GeoDataFrame) -> np.ndarray:
    """Return the score that pieces of water give to each of n places, 0-100, shape (n).

    A piece counts by the share of the place that it covers; a place without water scores nothing.
    """
    shapes, scores = list(pieces.geometry), pieces["score"].to_numpy()
    return np.array(
        [
            sum(
                score * place.intersection(shape).area
                for shape, score in zip(shapes, scores, strict=True)
            )
            / place.area
            for place in places
        ]
    )


def turned_pairs(before: list[np.ndarray], after: list[np.ndarray]) -> float:
    """Return how many of the pairs within each flow stand in another order than before [%].

    It is 50 (1 - Kendall's tau-b), averaged over the flows: 0 the same order, 50 none left, 100
    the order turned round. A flow at which all score the same has no order left.
    """
    taus = [kendalltau(old, new).statistic for old, new in zip(before, after, strict=True)]
    return 50.0 * float(np.mean([1.0 - (tau if np.isfinite(tau) else 0.0) for tau in taus]))
