"""Consistency of soundings with the depth the flow allows and with each other: feet for metres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.ground.consistency_scene import Scene
from reachmap.ground.rises import rises_at
from reachmap.markup.evidence import Finding, Weight
from reachmap.markup.model import BY_PHONE

MOST_NAMED = 8
"""Soundings listed by name (our choice)."""

FEWEST_APART = 2
"""Fewest soundings that make a group of their own (our choice)."""

FIX = {
    "feet": "That is feet over metres: most likely feet were written where metres are read. Write "
    'the depths with their unit, like "4 ft", or correct the soundings\' flow',
    "metres": "That is metres over feet: most likely metres were written where feet are read. "
    'Write the depths with their unit, like "1.2 m", or correct the soundings\' flow',
    "": "Correct the depths or the flow of the soundings, traced_flow, [dem] flow, or the slope",
}


@dataclass(frozen=True, slots=True)
class Depths:
    """Soundings that can be compared.

    Parameters
    ----------
    name
        Of each.
    depth
        As noted [m].
    expected
        By the flow, at the place, before any sounding moved the bed [m].
    flow
        At which it was noted [m3/s].
    """

    name: tuple[str, ...]
    depth: FloatArray
    expected: FloatArray
    flow: FloatArray

    @property
    def log_ratio(self) -> FloatArray:
        """Return ln of noted over expected depth."""
        return np.asarray(np.log(self.depth / self.expected))


def depth_findings(scene: Scene) -> list[Finding]:
    """Return where soundings as a whole, or some of them, contradict the flow's depth."""
    depths = compared_depths(scene)
    if not depths.depth.size:
        return []
    return all_off(scene, depths) or some_off(scene, depths)


def compared_depths(scene: Scene) -> Depths:
    """Return the soundings with a depth and flow, in water that the flow makes deep enough.

    The expected depth is that of the form that carries the low flow by Manning's formula on the
    water's own slope, plus the rise of the water to the sounding's flow.
    """
    layout, bed = scene.layout, scene.bed
    usable = [
        (one.name or ("logged" if one.origin in BY_PHONE else str(number)), one)
        for number, one in enumerate(scene.markup.soundings, start=1)
        if one.depth_m > 0 and one.flow > 0
    ]
    x, y = (np.array([getattr(one.place, axis) for _, one in usable]) for axis in ("x", "y"))
    cell = layout.corridor.at(x, y) if usable else np.empty(0, dtype=np.int64)
    good = (cell >= 0) & layout.along[cell]
    cell, names = cell[good], [name for (name, _), keep in zip(usable, good, strict=True) if keep]
    depth, flow = (
        np.array([getattr(one, name) for _, one in usable], dtype=np.float64)[good]
        for name in ("depth_m", "flow")
    )
    rise = rises_at(scene.levels, flow, layout.main_station[cell])
    expected = bed.low_level[cell] + rise - bed.height[cell]
    deep = expected >= scene.settings.least_depth_m
    return Depths(
        tuple(name for name, keep in zip(names, deep, strict=True) if keep),
        depth[deep],
        expected[deep],
        flow[deep],
    )


def all_off(scene: Scene, depths: Depths) -> list[Finding]:
    """Return a finding where the median sounding is far from the flow's depth."""
    settings = scene.settings
    middle = float(np.median(depths.log_ratio))
    ratio, spread = float(np.exp(middle)), _spread(depths.log_ratio)
    drawn = scene.low.how != "surface"
    against = ratio / (settings.usual_depth_drawn if drawn else settings.usual_depth)
    unit = settings.unit_slip(against)
    if not unit and 1 / settings.depth_factor <= against <= settings.depth_factor:
        return []
    count = len(depths.name)
    noted, expected = (float(np.median(value)) for value in (depths.depth, depths.expected))
    found = (
        f"the {count} compared with the flow are {scene.length(noted)} deep in the median where "
        f"{scene.flow(float(np.median(depths.flow)))} would stand {scene.length(expected)} deep: "
        f"{ratio:.2g} times"
    )
    tight = count >= settings.fewest_soundings and spread <= settings.unit_spread
    weight = Weight.STOP if unit and tight else Weight.WARNING
    return [Finding("soundings", weight, Fault("soundings", found, FIX[unit]))]


def some_off(scene: Scene, depths: Depths) -> list[Finding]:
    """Return a finding where some soundings are in another unit than the others.

    Looked for as a group at one flow, or as a gap in the ratios with two groups about a foot's
    ratio apart.
    """
    settings = scene.settings
    for part in _parts(depths, np.log(settings.part_gap)):
        one, rest = depths.log_ratio[part], depths.log_ratio[~part]
        apart = float(np.exp(np.median(one) - np.median(rest)))
        unit = settings.unit_slip(apart)
        if not unit or max(_spread(one), _spread(rest)) > settings.part_spread:
            continue
        named = [name for name, mine in zip(depths.name, part, strict=True) if mine]
        others = (
            f"{len(named)} of {len(depths.name)} ({_listed(named)}) are "
            f"{np.exp(np.median(one)):.2g} times as deep as the flow allows, the others "
            f"{np.exp(np.median(rest)):.2g} times: {apart:.2g} between them "
            f"({scene.length(float(np.median(depths.depth[part])))} against "
            f"{scene.length(float(np.median(depths.depth[~part])))} in the median)"
        )
        many = min(part.sum(), (~part).sum()) >= settings.fewest_soundings
        weight = Weight.STOP if many else Weight.WARNING
        if scene.low.how != "surface":
            weight = Weight.NOTE  # a form made without a DEM's water knows no pools of its own
        return [Finding("soundings", weight, Fault("soundings", others, FIX[unit]))]
    return []


def _parts(depths: Depths, gap: float) -> list[np.ndarray]:
    """Return groups that may be in another unit: those at one flow, and those beyond a gap."""
    least, parts = FEWEST_APART, []
    for flow in np.unique(depths.flow):
        part = depths.flow == flow
        parts.append(part if 2 * part.sum() <= part.size else ~part)
    order = np.sort(depths.log_ratio)
    steps = np.diff(order)
    for at in np.argsort(-steps)[:2]:
        if steps[at] >= gap:
            part = depths.log_ratio > (order[at] + order[at + 1]) / 2
            parts.append(part if 2 * part.sum() <= part.size else ~part)
    return [part for part in parts if part.sum() >= least and (~part).sum() >= least]


def _spread(values: FloatArray) -> float:
    """Return a standard deviation from the median absolute one (1.4826 for a normal law)."""
    return float(1.4826 * np.median(np.abs(values - np.median(values))))


def _listed(names: list[str]) -> str:
    """Return names in a row, each once, many cut short."""
    names = list(dict.fromkeys(names))
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
