"""The gauge of the made-up river: a rating from the true levels, three weeks with a storm."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from reachmap.base.units import from_si

from . import plan
from .water import TrueWater

FloatArray = NDArray[np.float64]

FIRST_HOUR = datetime(2030, 1, 6, tzinfo=UTC)
HOURS = 21 * 24
GAP = slice(402, 407)
"""Hours without a reading."""

RATING_STEP_FT = 0.2

OFFSET_FT = 2.5
"""Stage of no flow: the crest below the gauge, to the tenth of a foot."""


def rating(water: TrueWater) -> tuple[FloatArray, FloatArray]:
    """Return stages [ft] above the gauge's zero and flows [cfs], every fifth of a foot.

    Between the flows that were worked out, the logarithm of the flow runs smoothly with stage.
    """
    station = np.array([plan.GAUGE_STATION])
    flows = np.array(plan.RATING_FLOWS_CFS, dtype=np.float64)
    levels = np.array([float(water.level_at(flow, station)[0]) for flow in flows])
    stage = np.array([from_si(level - plan.GAUGE_ZERO_M, "ft") for level in levels])
    low, high = (np.ceil(stage[0] / RATING_STEP_FT), np.floor(stage[-1] / RATING_STEP_FT))
    inner = np.arange(low, high + 1) * RATING_STEP_FT
    at = np.unique(np.round(np.r_[stage[0], inner, stage[-1]], 2))
    curve = PchipInterpolator(stage, np.log(flows))
    told = np.exp(curve(np.clip(at, stage[0], stage[-1])))
    return np.asarray(at, np.float64), np.asarray(
        np.where(told < 1000, np.round(told), np.round(told / 10) * 10)
    )


def record() -> FloatArray:
    """Return three weeks of hourly flows [cfs]: a storm and a lesser one; NaN in a gap."""
    hour = np.arange(HOURS, dtype=np.float64)
    base = 560 + 190 * np.exp(-hour / 160)

    def storm(begin: float, peak: float, rise: float, fall: tuple[float, float]) -> FloatArray:
        after = np.maximum(hour - begin, 0)
        rising = 1 - np.exp(-((after / rise) ** 2.2))
        falling = 0.72 * np.exp(-after / fall[0]) + 0.28 * np.exp(-after / fall[1])
        shape = rising * falling
        return np.asarray(peak * shape / shape.max())

    flow = base + storm(98, 5150, 15, (34, 190)) + storm(318, 950, 12, (30, 120))
    noise = np.random.default_rng(71).normal(0, 0.006, HOURS)
    told = np.round(flow * (1 + noise) / 10) * 10
    told[GAP] = np.nan
    return told


def rating_text(water: TrueWater) -> str:
    """Return the rating's file."""
    lines = [
        f"# {plan.NAME}: rating of the gauge. Every number is invented.",
        "# Stage in feet above the gauge's zero, flow in cubic feet per second.",
        "# The offset is the stage at which the riffle below the gauge would run dry.",
        "stage_ft,flow_cfs,offset_ft",
    ]
    rows = zip(*rating(water), strict=True)
    lines += [f"{stage:.2f},{flow:.0f},{OFFSET_FT:.2f}" for stage, flow in rows]
    return "\n".join(lines) + "\n"


def record_text() -> str:
    """Return the record's file."""
    lines = [
        f"# {plan.NAME}: hourly flow at the gauge. Every number is invented.",
        "# Time is UTC, flow in cubic feet per second; no reading where it is empty.",
        "time,flow_cfs",
    ]
    for number, flow in enumerate(record()):
        time = FIRST_HOUR + timedelta(hours=number)
        told = "" if np.isnan(flow) else f"{flow:.0f}"
        lines.append(f"{time:%Y-%m-%dT%H:%MZ},{told}")
    return "\n".join(lines) + "\n"


CLARITY_NOTES = (
    ("2029-11-18T16:00Z", 2.4, 1300, "rising"),
    ("2029-11-18T22:00Z", 1.1, 2600, "rising"),
    ("2029-12-09T18:00Z", 0.7, 3600, "rising"),
    ("2029-12-20T17:00Z", 1.6, 1800, "rising"),
    ("2029-11-20T18:00Z", 1.4, 2900, "falling"),
    ("2029-11-21T18:00Z", 1.9, 2300, "falling"),
    ("2029-11-22T18:00Z", 2.6, 1850, "falling"),
    ("2029-11-24T18:00Z", 3.6, 1400, "falling"),
    ("2029-12-12T18:00Z", 1.0, 3500, "falling"),
    ("2029-12-14T18:00Z", 2.0, 2200, "falling"),
    ("2029-12-17T18:00Z", 4.1, 1250, "falling"),
    ("2029-12-30T18:00Z", 5.6, 900, "falling"),
)
"""An angler's notes of three earlier storms: time, how far one saw [ft], flow [cfs], limb."""


def clarity_text() -> str:
    """Return the file of clarity notes."""
    lines = [
        f"# {plan.NAME}: how far somebody saw into the water. Every number is invented.",
        "time,clarity_ft,flow_cfs,limb",
    ]
    lines += [f"{time},{seen},{flow},{limb}" for time, seen, flow, limb in CLARITY_NOTES]
    return "\n".join(lines) + "\n"
