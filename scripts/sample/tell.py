"""The made-up river in figures, as docs/sample-river.md quotes them."""

from __future__ import annotations

import numpy as np

from reachmap.base.physics import GRAVITY

from . import bed, plan
from .water import TrueWater


def told(water: TrueWater) -> str:
    """Return a table by flow and a table of bends, as Markdown."""
    lines = ["| flow, cfs | width, m | mean depth, m | mean speed, m/s | Froude, median | 95 % |"
             " side channel, m3/s |", "|---|---|---|---|---|---|---|"]  # fmt: skip
    for flow in plan.MAP_FLOWS_CFS:
        depth, speed = _fields(water, flow)
        wet = np.isfinite(depth)
        cell = float(water.flows.attrs["cell"])
        froude = speed[wet] / np.sqrt(GRAVITY * depth[wet])
        lines.append(
            f"| {flow:,} | {wet.sum() * cell**2 / water.line.length:.1f} | {depth[wet].mean():.2f} "
            f"| {speed[wet].mean():.2f} | {np.median(froude):.2f} "
            f"| {np.percentile(froude, 95):.2f} | {side_flow(water, flow):.2f} |"
        )
    lines += [
        "",
        "| bend | turn, degrees | least radius, m | radius over width |",
        "|---|---|---|---|",
    ]
    begun, number = 0.0, 0
    width = bed.main_channel(water.line).width
    for bend in plan.BENDS:
        here = (water.line.station > begun) & (water.line.station < begun + bend.length)
        begun += bend.length
        if bend.turn_deg:
            number += 1
            side = "left" if bend.turn_deg > 0 else "right"
            radius = float(1 / np.abs(water.line.curvature[here]).max())
            lines.append(
                f"| {number} | {abs(bend.turn_deg):g} to the {side} | {radius:.0f} "
                f"| {radius / float(width[here].mean()):.1f} |"
            )
    return "\n".join(lines)


def _fields(water: TrueWater, flow_cfs: float) -> tuple[np.ndarray, np.ndarray]:
    """Return depth and speed at a flow."""
    number = water.number(flow_cfs)
    east, north = (water.flows[name].to_numpy()[number] for name in ("east_speed", "north_speed"))
    return water.flows["depth"].to_numpy()[number], np.hypot(east, north)


def side_flow(water: TrueWater, flow_cfs: float) -> float:
    """Return what runs through the side channel half way down [m3/s]."""
    number = water.number(flow_cfs)
    station, offset = (water.ground[name].to_numpy() for name in ("station", "offset"))
    middle = 0.5 * (plan.SIDE_BEGIN + plan.SIDE_END)
    near = np.abs(station - middle) < 8
    near &= np.abs(offset - bed.side_offset(np.nan_to_num(station))) < 14
    angle = np.interp(station[near], water.line.station, water.line.direction)
    depth, east, north = (
        water.flows[name].to_numpy()[number][near]
        for name in ("depth", "east_speed", "north_speed")
    )
    along = depth * (east * np.cos(angle) + north * np.sin(angle))
    return float(np.nansum(along) * float(water.flows.attrs["cell"]) ** 2 / 16)
