"""Channels matched from flow to flow: the flow from which each carries water."""

from __future__ import annotations

import geopandas as gpd
import numpy as np

from reachmap.base.words import ChannelKind


def follow_channels(channels: gpd.GeoDataFrame, width: float) -> gpd.GeoDataFrame:
    """Return the stacked channels layer with `wakes_at_m3_s` filled in.

    Parameters
    ----------
    channels
        The `channels` layers of all flows, stacked.
    width
        The river's usual width [m].

    Notes
    -----
    A channel is the same as one at another flow where more than half of its line lies within a
    quarter of a width of that one's, and both carry water or neither does. It wakes at the lowest
    flow from which on it is always there.
    """
    near = 0.25 * width
    flows = sorted(set(channels["flow"]))
    dead = channels["kind"] == ChannelKind.DEAD_ARM
    around = {
        (flow, idle): channels[(channels["flow"] == flow) & (dead == idle)]
        .geometry.union_all()
        .buffer(near)
        for flow in flows
        for idle in (False, True)
    }
    wakes = []
    for line, flow, idle in zip(channels.geometry, channels["flow"], dead, strict=True):
        at = flows.index(flow)
        while at > 0:
            common = line.intersection(around[flows[at - 1], bool(idle)]).length
            if common < 0.5 * max(line.length, 1e-9):
                break
            at -= 1
        wakes.append(float(flows[at]))
    return channels.assign(wakes_at_m3_s=np.array(wakes, dtype=np.float64))
