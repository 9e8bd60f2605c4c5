"""Channels and structures matched from flow to flow."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import STRtree

from reachmap.base.words import ChannelKind
from reachmap.water.codes import STRUCTURE_LETTER


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


def follow_structure(structure: gpd.GeoDataFrame, near_m: float) -> gpd.GeoDataFrame:
    """Return the stacked structure layer with lasting codes and the flows each holds fish at.

    Parameters
    ----------
    structure
        The `structure` layers of all flows, stacked.
    near_m
        How far a lee or the edge of a hollow may move from one flow to the next [m].

    Notes
    -----
    A structure is the same as the nearest of its kind at a lower flow, as it was last seen, no
    farther off than `near_m`. They are numbered downstream. `holds_from_m3_s` and `holds_to_m3_s`
    are the lowest and the highest flow at which it holds fish; NaN where it does at none.
    """
    frame = structure.reset_index(drop=True)
    tracks: list[list[int]] = []
    shapes, kinds = frame.geometry.to_numpy(), frame["kind"].astype(str).to_numpy()
    for _, there in sorted(frame.groupby("flow").groups.items()):
        rows = np.asarray(there)
        last = np.array([track[-1] for track in tracks], dtype=np.int64)
        near = STRtree(shapes[last]).query(shapes[rows], predicate="dwithin", distance=near_m)
        pairs = []
        for row, place in zip(rows[near[0]], near[1], strict=True):
            one, other = shapes[row], shapes[last[place]]
            if kinds[row] == kinds[last[place]]:
                pairs.append((one.distance(other), -one.intersection(other).area, place, row))
        taken: set[int] = set()
        given: set[int] = set()
        for _, _, place, row in sorted(pairs):
            if place not in taken and row not in given:
                taken.add(place)
                given.add(row)
                tracks[place].append(int(row))
        tracks += [[int(row)] for row in rows if row not in given]
    station = frame["station_m"].to_numpy()
    tracks.sort(key=lambda track: (station[track[0]], track[0]))
    codes = np.full(len(frame), "", dtype=object)
    flow, holds = frame["flow"].to_numpy(), frame["holds"].to_numpy()
    low, high = np.full(len(frame), np.nan), np.full(len(frame), np.nan)
    for number, track in enumerate(tracks, start=1):
        codes[track] = f"{STRUCTURE_LETTER}{number}"
        held = flow[track][holds[track]]
        if held.size:
            low[track], high[track] = held.min(), held.max()
    return frame.assign(
        code=pd.Series(codes, frame.index, dtype="str"), holds_from_m3_s=low, holds_to_m3_s=high
    )
