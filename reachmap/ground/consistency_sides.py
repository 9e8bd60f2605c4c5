"""Consistency of side channels with the DEM: low ground must lie under the drawn line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.ground.channels import Channel
from reachmap.ground.consistency_scene import Scene
from reachmap.ground.low_water import joined_level
from reachmap.markup.evidence import Finding, Weight

HAND_M = 8.0
"""How far a hand-drawn side line may lie beside its channel [m] (our choice, 5-12)."""

FLANK_M = 20.0
"""How far beside a channel the ground that bounds it is looked for [m] (our choice, 10-40)."""

SAME_M = 0.05
"""Ground within this of the lowest is as low: its middle is named as the channel's place [m]."""

KNOWN = 0.5
"""Least share of a channel's stations at which the DEM must know the ground (our choice)."""

HIGH_M = 1.0
"""Ground this much above the main water, without a trough, holds no channel [m] (our choice)."""


@dataclass(frozen=True, slots=True)
class Under:
    """The DEM's ground under and beside a side channel, above the main water abreast of it [m].

    Parameters
    ----------
    under
        Lowest within a hand's error of the line, median over its stations.
    trough
        How far that lies below the ground on the lower of both flanks.
    lowest
        Lowest ground anywhere within the search.
    shift
        How far to the left of the line that lies [m]; negative to the right.
    """

    under: float
    trough: float
    lowest: float
    shift: float


def side_findings(scene: Scene) -> list[Finding]:
    """Return a finding for each side channel drawn in the main river, or where none is by the DEM.

    By the DEM there is no channel where it shows no low ground under the drawn line.
    """
    sides = (*scene.layout.channels[1:], *scene.layout.swales)
    shares = [share_in_main(scene, channel) for channel in sides]
    most = scene.settings.side_in_main
    findings = [
        _inside_finding(channel, share)
        for channel, share in zip(sides, shares, strict=True)
        if share > most
    ]
    if scene.seen is None or scene.low.vertical != "dem":
        return findings
    for channel, share in zip(sides, shares, strict=True):
        if share > most:
            continue
        found = ground_under(scene, channel)
        if found is not None and _missed(scene, found):
            findings.append(_finding(scene, channel, found))
    return findings


def share_in_main(scene: Scene, channel: Channel) -> float:
    """Return the share of a side channel's line that lies in the main channel's drawn water."""
    main = scene.layout.main
    station, offset = main.line.to_station_offset(channel.line.x, channel.line.y)
    return float((main.excess(station, offset) < 0).mean())


def ground_under(scene: Scene, channel: Channel) -> Under | None:
    """Return the DEM's ground under and beside a side channel; None where it knows too little.

    Stations within a width of its mouths, and the main channel's water, are left out.
    """
    above, shift = _across(scene, channel)
    if above.shape[0] < 3:
        return None
    reach = max(channel.median_width / 2, HAND_M)
    low = {
        float(at): _usual(np.where(np.abs(shift - at) <= reach, above, np.nan), np.fmin)
        for at in shift
        if abs(at) <= scene.settings.side_search_m
    }
    centre = float(shift[np.argmin(np.abs(shift))])
    if not np.isfinite(low[centre]):
        return None
    flanks = [
        _usual(np.where((side * shift > reach) & (side * shift <= reach + FLANK_M), above, np.nan),
               np.fmax)
        for side in (1, -1)
    ]  # fmt: skip
    known = {at: height for at, height in low.items() if np.isfinite(height)}
    best = min(known, key=lambda at: known[at] + 1e-3 * abs(at))
    alike = [
        at for at in known if known[at] <= known[best] + SAME_M and abs(at - best) <= 4 * reach
    ]
    trough = float(np.nanmin(flanks)) - low[centre] if np.isfinite(flanks).any() else np.inf
    return Under(low[centre], trough, known[best], float(np.mean(alike)))


def _across(scene: Scene, channel: Channel) -> tuple[FloatArray, FloatArray]:
    """Return heights above the main water (stations, shifts) [m], and the shifts to the left."""
    layout, cell = scene.layout, scene.layout.corridor.grid.cell
    line = channel.line
    rows = (line.station > channel.median_width) & (
        line.station < line.length - channel.median_width
    )
    reach = scene.settings.side_search_m + FLANK_M + channel.median_width
    count = int(reach / cell)
    shift: FloatArray = np.arange(-count, count + 1, dtype=np.float64) * cell
    station = line.station[rows]
    x, y = line.from_station_offset(np.repeat(station, shift.size), np.tile(shift, station.size))
    at = layout.corridor.at(x, y)
    heights = scene.seen if scene.seen is not None else np.empty(0)
    height = np.where(at >= 0, heights[at], np.nan)
    height[(at >= 0) & (layout.owner[at] == 0) & layout.water[at]] = np.nan
    joined = joined_level(channel, layout.main, scene.bed.levels[0])[rows]
    return height.reshape(station.size, shift.size) - joined[:, None], shift


def _usual(values: FloatArray, pick: np.ufunc) -> float:
    """Return the median over rows of each row's extreme; NaN where too few rows know any."""
    each = pick.reduce(values, axis=1)
    known = np.isfinite(each)
    return float(np.median(each[known])) if known.mean() >= KNOWN else float("nan")


def _missed(scene: Scene, found: Under) -> bool:
    """Return whether a side channel was drawn where no channel is."""
    settings = scene.settings
    if found.trough >= settings.side_trough_m:
        return False
    return found.under - found.lowest >= settings.side_above_m or found.under >= HIGH_M


def _inside_finding(channel: Channel, share: float) -> Finding:
    """Return what is reported of a side channel drawn in the main river."""
    found = f"{share:.0%} of this side channel lies in the main river's drawn water"
    fix = "Draw it where the side channel runs, with the island between the two, or take it out"
    return Finding("side_channels", Weight.WARNING, Fault(_where(channel), found, fix))


def _where(channel: Channel) -> str:
    """Return the name of a side channel for a message."""
    return f"river {channel.name!r}" if channel.name else "river, a side channel"


def _finding(scene: Scene, channel: Channel, found: Under) -> Finding:
    """Return what is reported of a misdrawn side channel."""
    words = (
        f"the DEM shows no low ground under it: {scene.length(found.under)} above the main water "
        "abreast of it"
    )
    if found.under - found.lowest >= scene.settings.side_above_m:
        side = "left" if found.shift > 0 else "right"
        words += (
            f", {scene.length(found.lowest)} at about {scene.length(abs(found.shift))} to its "
            f"{side}"
        )
    fix = "Draw it where the channel runs, or take it out; if the DEM is of another year, see there"
    return Finding("side_channels", Weight.WARNING, Fault(_where(channel), words, fix))
