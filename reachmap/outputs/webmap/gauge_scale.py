"""Data for entering a gauge reading on the page: units, rating, end of the record, flow shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.language import date_text
from reachmap.base.units import FACTORS, FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem, Wet
from reachmap.gauge.model import Gauge
from reachmap.gauge.shift import shifted
from reachmap.gauge.stage_flow import flow_from_stage
from reachmap.outputs.product import Product
from reachmap.text.map_page import trend_words
from reachmap.text.numbers import other_units, text_of

NEAR_SHARE = 0.03
"""Relative difference within which a shown flow represents a reading; our choice, 0.01-0.05: a
rating is seldom better than a few per cent."""

STAGE_STEP_M = to_si(0.05, "ft")
"""Step of the table of the rating [m]; our choice, 0.005-0.05: between, the logarithm is linear
to within a thousandth of the flow."""


def drawn_for(flow: float, flows: Sequence[float]) -> int:
    """Return the index of the flow shown for a reading.

    Parameters
    ----------
    flow
        The reading [m3/s], > 0.
    flows
        The flows on the page [m3/s], ascending.

    Notes
    -----
    One within the accuracy of a gauge, else the next higher one: there the water is deeper and
    faster than at the reading, so that wading notes err on the dry side. Beyond the ends it is the
    end, and the page states that nothing is known.
    """
    ratios = np.abs(np.log(np.asarray(flows) / flow))
    nearest = int(ratios.argmin())
    if ratios[nearest] <= math.log1p(NEAR_SHARE):
        return nearest
    return min(int(np.searchsorted(flows, flow)), len(flows) - 1)


def latest(product: Product) -> tuple[str, float] | None:
    """Return date and flow [m3/s] of the last reading of the gauge's record; None without one."""
    gauge = product.markup.gauge
    if gauge is None:
        return None
    known = np.flatnonzero(np.isfinite(gauge.flow) & (gauge.flow > 0))
    if not known.size:
        return None
    day = gauge.times[known[-1]].astype("datetime64[D]").item()
    return date_text(day, "plain"), float(gauge.flow[known[-1]])


def gauge_values(product: Product) -> dict[str, Any]:
    """Return units of a reading, the rating and the end of the record as plain JSON values."""
    units, last = product.markup.plan.units, latest(product)
    table = stage_table(product.markup.gauge)
    trend = text_of((product.report.get("gauge") or {}).get("trend"))
    return {
        "near": NEAR_SHARE,
        "units": _units(units, rated=table is not None),
        "table": table,
        "last": None
        if last is None
        else {"day": last[0], "flow": last[1], "trend": trend_words(trend)},
    }


def _units(units: UnitSystem, *, rated: bool) -> list[dict[str, Any]]:
    """Return the units of a reading, the folder's first; heights only with a rating."""
    both = (units, other_units(units))
    named = [(FLOW[one], "flow") for one in both]
    named += [(LENGTH[one], "height") for one in both] if rated else []
    return [
        {"name": name.replace("m3", "m³"), "size": FACTORS[name], "of": of} for name, of in named
    ]


def stage_table(gauge: Gauge | None) -> dict[str, Any] | None:
    """Return the flow [m3/s] at even steps of the gauge's height [m]; None without a rating.

    It includes the shift in force and covers the rating's range only.
    """
    if gauge is None or not gauge.segments:
        return None
    low = min(float(piece.stage_m.min()) for piece in gauge.segments)
    high = max(float(piece.stage_m.max()) for piece in gauge.segments)
    slack = 0.0 if gauge.shift is None else float(np.abs(gauge.shift.shift_m).max())
    steps = np.arange(
        math.floor((low - slack) / STAGE_STEP_M), math.ceil((high + slack) / STAGE_STEP_M) + 1
    )
    stages = np.asarray(steps * STAGE_STEP_M, dtype=np.float64)
    flow = flow_from_stage(gauge.segments, shifted(stages, gauge.shift))
    rated = np.flatnonzero(np.isfinite(flow) & (flow > 0))
    if rated.size < 2:
        return None
    kept = flow[rated[0] : rated[-1] + 1]
    return {
        "first": float(stages[rated[0]]),
        "step": STAGE_STEP_M,
        "flows": [round(float(one), 4) if one > 0 else None for one in kept],
    }


def rise_and_edge(flows: xr.Dataset, ground: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return rise of the level and half-width of the water at each flow [m], shape (n,).

    The rise is above the level at the lowest flow, averaged over the cells wet there; the
    half-width is half the wetted area over the river's length. NaN where nothing is wet at the
    lowest flow.
    """
    lowest = flows["wet"].isel(flow=0).to_numpy() == Wet.YES
    cell, length = float(ground.attrs["cell"]), Centreline.of(ground).length
    level, edge = [], []
    for index in range(flows.sizes["flow"]):
        here = flows["level"].isel(flow=index).to_numpy()[lowest]
        known = here[np.isfinite(here)]
        level.append(float(known.mean()) if known.size else math.nan)
        wet = np.count_nonzero(flows["wet"].isel(flow=index).to_numpy() == Wet.YES)
        edge.append(wet * cell**2 / length / 2)
    rise = np.array(level) - level[0]
    return rise, np.array(edge)
