"""A made reach's facts and flows, laid by hand, for tests of the planner."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from reachmap.angler.fly import FLIES
from reachmap.base.units import to_si
from reachmap.gauge.series import HOUR, Series
from reachmap.planner.facts import ReachFacts, RunAt, RunFacts

FLOWS_CFS = (600.0, 1200.0, 2400.0, 4800.0)
FLOWS = tuple(to_si(flow, "cfs") for flow in FLOWS_CFS)
START = np.datetime64("2031-01-10T00:00:00", "s")


def made_run(
    name: str,
    scores: tuple[float, ...],
    *,
    station: float = 0.0,
    side: str = "left",
    minutes: float = 60.0,
    open_until: float = math.inf,
    way: str = "foot",
    access: int = 0,
    depths: tuple[float, ...] = (math.nan,) * 4,
    shut: tuple[str, ...] = ("",) * 4,
    mind: str = "",
) -> RunFacts:
    """Return a run with these scores at the mapped flows; in shape from 30 on."""
    at = tuple(
        RunAt(
            flow=flow,
            label=f"{cfs:.0f}cfs",
            score=score,
            in_shape=score >= 30,
            why=() if score >= 30 else ("quick",),
            kind="inside_bend" if score >= 30 else "",
            side=side,
            prime=score >= 60,
            wade="easy",
            minutes=minutes,
            open_until=open_until,
            way=way,
            gear=("single spey", "13 ft 7-weight", "skagit 24", "T-8 10 ft"),
            offer=score,
            depth_m=depth,
            shut=why,
            mind=mind,
        )
        for flow, cfs, score, depth, why in zip(FLOWS, FLOWS_CFS, scores, depths, shut, strict=True)
    )
    return RunFacts(name, station, 100.0, access, 20.0, at)


RUNS = (
    made_run("Low Run", (80, 70, 20, 0), station=100),
    made_run("Middle Run", (20, 60, 90, 20), station=400, access=1),
    made_run("High Run", (0, 0, 70, 80), station=700, side="right", access=1),
)


def made_facts(runs: tuple[RunFacts, ...] = RUNS, **changed: object) -> ReachFacts:
    """Return facts of a made reach on a real meridian of the west coast of North America."""
    facts = ReachFacts(
        name="Invented reach",
        invented=True,
        preview=False,
        season="winter",
        longitude=-124.4,
        latitude=47.95,
        gauge="Made gauge",
        shape_score=30.0,
        flows=FLOWS,
        labels=tuple(f"{cfs:.0f}cfs" for cfs in FLOWS_CFS),
        pages=tuple(f"{cfs:.0f}cfs" for cfs in FLOWS_CFS),
        confidence=(0.9, 0.9, 0.9, 0.9),
        accesses=("parking, upper", "path, lower"),
        between_min=15.0,
        flies=FLIES,
        runs=runs,
    )
    return replace(facts, **changed)  # type: ignore[arg-type]


def hourly(flow: np.ndarray, start: np.datetime64 = START) -> Series:
    """Return a series of hourly flows [m3/s]."""
    return Series(start + np.arange(len(flow)) * HOUR, np.asarray(flow, dtype=float))
