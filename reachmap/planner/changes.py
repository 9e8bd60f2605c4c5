"""What a build changed on the map, and how much surer it is: two reports compared at one flow."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from reachmap.base.arrays import FloatArray

MOVED_M = 0.1
"""Least change of depth that counts as one [m]; our choice, 0.05-0.2: a hand's breadth."""


@dataclass(frozen=True, slots=True)
class BuildChange:
    """A build against the one before it, at one flow.

    Parameters
    ----------
    flow
        The flow, as the report writes it.
    gained, lost
        Runs that are in shape now and were not, and the reverse, in the order of the report.
    first
        Names of the first run to go to, before and now; "" for none.
    depth_moved
        Share of the water, wet in either build, whose depth moved by `MOVED_M` or more, 0 to 1;
        NaN where the cells are others or a depth is missing.
    depth_spread_m, edge_spread_m
        Standard deviation of depth and of the edge's place [m], before and now; NaN unknown.
    """

    flow: str
    gained: tuple[str, ...]
    lost: tuple[str, ...]
    first: tuple[str, str]
    depth_moved: float
    depth_spread_m: tuple[float, float]
    edge_spread_m: tuple[float, float]


def common_flow(before: Mapping[str, Any], now: Mapping[str, Any]) -> str:
    """Return the label of the flow at which two reports are compared; "" where they share none.

    The one nearest to the gauge's last reading, else the middle one of those in both.
    """
    old = {str(one["label"]) for one in before.get("flows", ())}
    shared = [label for one in now.get("flows", ()) if (label := str(one["label"])) in old]
    nearest = str((now.get("gauge") or {}).get("nearest_label"))
    return nearest if nearest in shared else shared[len(shared) // 2] if shared else ""


def build_change(
    before: Mapping[str, Any], now: Mapping[str, Any], depths: tuple[FloatArray, FloatArray] | None
) -> BuildChange | None:
    """Return what changed between two builds of a folder; None where they share no flow.

    Parameters
    ----------
    before, now
        Their reports.
    depths
        Depth at the common flow in each [m], (y, x), NaN where not wet; None where not to be had.
    """
    label = common_flow(before, now)
    if not label:
        return None
    old, new = _in_shape(before, label), _in_shape(now, label)
    return BuildChange(
        flow=next(str(one["words"]) for one in now["flows"] if one["label"] == label),
        gained=tuple(run for run in new if run not in old),
        lost=tuple(run for run in old if run not in new),
        first=(_first(before, label), _first(now, label)),
        depth_moved=math.nan if depths is None else moved_share(*depths),
        depth_spread_m=(_spread(before, label, "depth_m"), _spread(now, label, "depth_m")),
        edge_spread_m=(_spread(before, label, "edge_m"), _spread(now, label, "edge_m")),
    )


def moved_share(before: FloatArray, now: FloatArray) -> float:
    """Return the share of the water whose depth moved by `MOVED_M` or more, 0 to 1.

    Parameters
    ----------
    before, now
        Depth [m], (y, x), NaN where not wet; water is what is wet in either.

    Returns
    -------
    float
        NaN where the shapes differ or nothing is wet.
    """
    if before.shape != now.shape:
        return math.nan
    wet = np.isfinite(before) | np.isfinite(now)
    if not wet.any():
        return math.nan
    moved = np.abs(np.nan_to_num(now) - np.nan_to_num(before)) >= MOVED_M
    return float(moved[wet].mean())


def _in_shape(report: Mapping[str, Any], label: str) -> list[str]:
    """Return the runs in shape at a flow."""
    rows = report.get("runs_by_flow", ())
    return [str(one["run"]) for one in rows if one["flow_label"] == label and one["in_shape"]]


def _first(report: Mapping[str, Any], label: str) -> str:
    """Return the run with the best rank at a flow; "" for none."""
    ranked = [
        (one["rank_low"], one["rank_high"], str(one["run"]))
        for one in report.get("runs_by_flow", ())
        if one["flow_label"] == label and (one.get("rank_low") or 0) > 0
    ]
    return min(ranked)[2] if ranked else ""


def _spread(report: Mapping[str, Any], label: str, what: str) -> float:
    """Return a spread of the ensemble at a flow [m]; NaN unknown."""
    spreads = (report.get("ensemble") or {}).get("spread") or {}
    value = (spreads.get(label) or {}).get(what)
    return math.nan if value is None else float(value)
