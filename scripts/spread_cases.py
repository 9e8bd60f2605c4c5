"""Made rivers with beds, roughness and flows as untidy as real ones, to judge stated spreads."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from scripts.ground_cases import (  # noqa: E402
    SETTINGS,
    Case,
    bends_case,
    reach_case,
    sample_case,
    true_ground,
    with_sight,
)
from tests import reaches  # noqa: E402

ENGINE = FlowSettings(method="engine")

BED_SD_M, BED_RANGE_M = 0.06, 3.0
"""Unevenness of the bed about its smooth form: on measured sections of a gravel river .03 to .08 m
about a cubic, neighbours 3 m apart correlated by -.2 to .5 (see docs/uncertainty.md)."""

DEPTH_POWER = 1.0
"""Within those sections speed goes as depth to .9-1.4, median 1.0; Manning's one n gives 2/3."""

ROUGH_SD, ROUGH_WIDTHS = 0.2, 1.0
"""Deviation of the logarithm of Manning's n from place to place and its range in widths. The speeds
of the sections scatter by .2-.35 about a power of the depth, of which a good half is the reading's
own noise (our choice)."""

GAUGE_SD = 0.07
"""Deviation of the logarithm of the flow from what the gauge reads (our choice: ratings are held
to 5 to 10 %)."""

FIELDS = ("level", "depth", "east_speed", "north_speed", "wet", "inflow")
THIN_M = 0.05
ROUNDS = 3


def real_like(
    case: Case, seed: int, settings: FlowSettings = ENGINE
) -> tuple[Case, xr.Dataset, tuple[float, ...]]:
    """Return a river made uneven: the case, its true ground, and the flows that truly ran.

    The case's DEM and edges are taken from the uneven river's own water, by `settings`.
    """
    uneven, truth, ran = made_uneven(case, seed)
    return _seen(uneven, truth, ran, settings), truth, ran


def made_uneven(case: Case, seed: int) -> tuple[Case, xr.Dataset, tuple[float, ...]]:
    """Return a case with an uneven bed and roughness, its true ground, the flows that truly ran."""
    rng = np.random.default_rng(seed)
    template = build_ground(replace(case.markup, soundings=()), case.dem, SETTINGS)
    width = Centreline.of(template).median_width
    bed = case.bed + BED_SD_M * _noise(case.bed.shape, BED_RANGE_M, SETTINGS.cell, rng)
    patches = _noise(case.bed.shape, ROUGH_WIDTHS * width, SETTINGS.cell, rng)
    rough = case.roughness * np.exp(ROUGH_SD * patches)
    uneven = replace(case, bed=bed, roughness=rough)
    ran = tuple(float(q * np.exp(rng.normal(0, GAUGE_SD))) for q in case.flows)
    return uneven, true_ground(uneven, template), ran


def _noise(
    shape: tuple[int, ...], reach: float, cell: float, rng: np.random.Generator
) -> FloatArray:
    """Return a random field of mean 0 and deviation 1, smooth over `reach` [m]."""
    white = rng.standard_normal(shape)
    field = gaussian_filter(white, reach / cell / 2, mode="wrap")
    return np.asarray((field - field.mean()) / field.std())


def true_water(
    ground: xr.Dataset, flows: tuple[float, ...], settings: FlowSettings = ENGINE
) -> xr.Dataset:
    """Return the water of an uneven river: speed across a section goes as depth.

    Manning's n of each cell is n (h0 / h)^(1/3), h0 the mean depth of its own flow's water in the
    channel, found by `ROUNDS` solutions one after the other.
    """
    parts = []
    rough = ground["roughness"].to_numpy()
    for flow in flows:
        now, near = rough, None
        for _ in range(ROUNDS):
            laid = ground.assign(roughness=(("y", "x"), now))
            water = solve(laid, [flow], settings, near=near)
            depth = water["depth"].to_numpy()[0]
            usual = float(np.nanmean(depth))
            thick = np.maximum(np.where(np.isfinite(depth), depth, usual), THIN_M)
            change = np.clip((usual / thick) ** (DEPTH_POWER - 2 / 3), 0.5, 2.0)
            now, near = rough * change, water
        parts.append(water[list(FIELDS)])
    return with_labels(xr.concat(parts, "flow"), UnitSystem.METRIC)


def _seen(case: Case, truth: xr.Dataset, ran: tuple[float, ...], settings: FlowSettings) -> Case:
    """Return a case with edges and the DEM's water as the uneven river has them.

    What is written beside an edge is the flow that was read, `case.flows`; what ran is `ran`.
    """
    water = true_water(truth, (0.75 * ran[0], *ran[1:]), settings)
    return with_sight(case, truth, water, 0.75 * case.flows[0])


def rivers() -> Iterator[Case]:
    """Yield the even rivers that are made uneven."""
    yield sample_case()
    yield bends_case("steady bends", 20.0, FlowSettings())
    for name in ("winding", "islands", "ledges"):
        ground = getattr(reaches, f"{name}_ground")(SETTINGS.cell)
        yield reach_case(name, ground, getattr(reaches, f"{name.upper()}_FLOWS"), FlowSettings())
