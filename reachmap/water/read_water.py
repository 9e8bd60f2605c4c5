"""The water stage: swing water, seams, tailouts, lanes, channels and structure of one flow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import networkx as nx
import numpy as np
import xarray as xr

from reachmap.base.centreline import Centreline
from reachmap.markup.model import StructureMark
from reachmap.water.bed_forms import window_of
from reachmap.water.bends import Bend, bends_of
from reachmap.water.candidates import Features, claims
from reachmap.water.channels import channel_graph, channels_layer
from reachmap.water.clarity import clarity_at, limits_in
from reachmap.water.corridor import find_corridor
from reachmap.water.edges import edge_layers
from reachmap.water.field import field_of, packed_by_mask
from reachmap.water.lanes import cover_depth_in, find_lanes
from reachmap.water.lies import Lies, clearness_in, lie_odds
from reachmap.water.presence import presence_of
from reachmap.water.rows import (
    bands_layer,
    lanes_layer,
    seams_layer,
    tailouts_layer,
    water_layers,
)
from reachmap.water.seams import find_seams
from reachmap.water.settings import WaterSettings
from reachmap.water.stretches import sections_of
from reachmap.water.structure import find_structure
from reachmap.water.structure_rows import structure_layer
from reachmap.water.tailouts import find_tailouts
from reachmap.water.thalwegs import find_thalwegs, owners

VERSION = 10
"""Raised when the stage's numbers change."""


@dataclass(frozen=True, slots=True)
class Reading:
    """Results of the water stage at one flow.

    `layers` holds wetted, edge_left, edge_right, water, left_over, seams, tailouts, lanes, bands,
    channels and structure as `base.schema` promises them; `graph` the wet channels (see
    `channel_graph`); `lies` the odds by cell that a fish holds there; `presence` those
    and where fish pass, to be stored (`presence_of`).
    """

    layers: Mapping[str, gpd.GeoDataFrame]
    graph: nx.MultiDiGraph
    lies: Lies
    presence: xr.Dataset


def read_water(
    ground: xr.Dataset,
    flow: xr.Dataset,
    settings: WaterSettings,
    *,
    bends: list[Bend] | None = None,
    uncertainty: xr.Dataset | None = None,
    marks: Sequence[StructureMark] = (),
) -> Reading:
    """Return the layers of the water stage at one flow.

    Parameters
    ----------
    ground
        The ground stage's Dataset (y, x).
    flow
        The flow stage's Dataset with one flow (`isel(flow=[k])`).
    settings
        Settings of the rules, limits of the season and water clarity.
    bends
        From `bends_of`, if already found: they are the same at every flow.
    uncertainty
        Dataset of the uncertainty stage with that flow: standard deviations of depth and speed.
        None where no ensemble was run; then only the flow model's own error counts.
    marks
        Places that the angler knows to hold fish.

    Raises
    ------
    ValueError
        If `flow` does not hold exactly one flow, or lies on another raster.

    Notes
    -----
    Only water known to be wet, of known depth and speed, is ever claimed; unknown water ends
    every look across and every lane.
    """
    field = field_of(
        ground,
        flow,
        island_low_m2=settings.channels.island_low_m2,
        pool_low_m2=settings.channels.pool_low_m2,
        uncertainty=uncertainty,
        model=settings.suits.model,
    )
    graph = channel_graph(field, settings.channels)
    owner, edges = owners(field, graph)
    channels = [graph.edges[e] for e in edges]
    # The profile splits one level by depth alone: what looks like a seam there is the bed's shape.
    preview = flow.attrs.get("method") == "profile"
    bends = bends_of(ground, settings.bends) if bends is None else bends
    line = Centreline.of(ground)
    features = Features(
        bends=bends,
        sections=sections_of(line.head, line.foot, bends, settings),
        seams=[] if preview else find_seams(field, graph, settings.seams),
        tailouts=find_tailouts(
            field,
            find_thalwegs(field, graph, settings.channels, (owner, edges)),
            settings.tailouts,
        ),
        owner=owner,
        codes=["main" if channel["kind"] == "main" else channel["code"] for channel in channels],
    )
    clarity = clarity_at(field.flow, settings)
    limits = limits_in(settings, clarity)
    cover = cover_depth_in(clarity, settings.clear_m, settings.lanes)
    leads = [c["kind"] == "main" or c["share"] >= settings.lanes.lead_share for c in channels]
    travelled = np.array([*leads, False])[owner]
    corridor = find_corridor(field, travelled, settings.lanes, settings.corridor, cover)
    floor, share = settings.corridor.line_floor, corridor.passes.values
    passes = packed_by_mask(field.wet, np.nan_to_num(share) + floor, floor)
    lanes = find_lanes(field, travelled, settings.lanes, cover, passes)
    lies = lie_odds(
        field,
        ground,
        settings.lies,
        scales=settings.bed_forms,
        clearness=clearness_in(clarity, settings.clear_m),
        marks=marks,
    )
    layers = edge_layers(ground, flow)
    zones = claims(field, features, limits, settings)
    layers |= water_layers(
        field, zones, features.sections, layers["wetted"], corridor, limits, settings
    )
    layers |= {
        "seams": seams_layer(field, features.seams),
        "tailouts": tailouts_layer(field, features.tailouts),
        "lanes": lanes_layer(field, lanes),
        "bands": bands_layer(field, corridor, settings.corridor),
        "channels": channels_layer(graph, field),
        "structure": structure_layer(
            field,
            lies,
            find_structure(field, lies, settings.lies, settings.structure),
            ground["cover"][window_of(ground, field)].to_numpy(),
            limits,
            (settings.structure, settings.score),
            marks=marks,
        ),
    }
    return Reading(layers, graph, lies, presence_of(ground, field, corridor, lies))
