"""Channels followed from flow to flow: from which flow on each is there."""

from __future__ import annotations

import geopandas as gpd
import numpy as np


def follow_channels(channels: gpd.GeoDataFrame, width: float) -> gpd.GeoDataFrame:
    """Return the stacked channels layer with `wakes_at` filled in.

    Parameters
    ----------
    channels
        The `channels` layers of all flows, stacked.
    width
        The river's usual width [m].

    Notes
    -----
    A channel is the same as one at another flow where more than half of its line lies within a
    quarter of a width of that one's. It wakes at the lowest flow from which on it is always there.
    """
    near = 0.25 * width
    layers = {flow: part for flow, part in channels.groupby("flow", sort=True)}  # noqa: C416
    flows = sorted(layers)
    buffered = {flow: part.geometry.union_all().buffer(near) for flow, part in layers.items()}
    wakes = channels["wakes_at"].astype(object).copy()
    for index, channel in channels.iterrows():
        at = flows.index(channel["flow"])
        while at > 0:
            common = channel.geometry.intersection(buffered[flows[at - 1]]).length
            if common < 0.5 * max(channel.geometry.length, 1e-9):
                break
            at -= 1
        wakes[index] = str(layers[flows[at]]["flow_label"].iloc[0])
    return channels.assign(wakes_at=np.asarray(wakes, dtype=object))
