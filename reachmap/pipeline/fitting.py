"""Fitting a reach to every note in its folder: drawn notes, and what the log saw."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from shapely import Point

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.words import SpeedHow
from reachmap.flow import FlowSettings, solve
from reachmap.ground import GroundSettings
from reachmap.ground.fit import fit
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.markup.model import Edge, Markup, Sounding, Speed
from reachmap.pipeline.fitted import Kept, rounded
from reachmap.pipeline.terrain import drawn_digest, make_terrain


def with_log(reach: Markup, entries: Sequence[Entry]) -> Markup:
    """Return the drawing with what was seen and measured on trips added to its notes.

    Only what has a flow: an edge seen at nobody knows which flow tells nothing. The drawing that
    the map is made from stays as it is.

    Parameters
    ----------
    reach
        The drawing.
    entries
        Of the log.
    """
    pairs = [(one, entry.flow) for entry in entries for one in entry.seen]
    pairs = [(one, flow) for one, flow in pairs if math.isfinite(flow) and flow > 0]
    if not pairs:
        return reach
    x, y = transform_points(
        np.array([one.x for one, _ in pairs]),
        np.array([one.y for one, _ in pairs]),
        WGS84,
        reach.crs,
    )
    placed = [
        (one, Point(*at), flow)
        for (one, flow), at in zip(pairs, zip(x, y, strict=True), strict=True)
    ]
    return replace(
        reach,
        edges=(*reach.edges, *_edges(placed)),
        soundings=(*reach.soundings, *_soundings(placed)),
        speeds=(*reach.speeds, *_speeds(placed)),
    )


def _edges(placed: Sequence[tuple[Seen, Point, float]]) -> list[Edge]:
    """Return the logged edges, a point each."""
    return [Edge(at, flow, "") for one, at, flow in placed if one.kind is SeenKind.EDGE]


def _soundings(placed: Sequence[tuple[Seen, Point, float]]) -> list[Sounding]:
    """Return the logged depths."""
    return [
        Sounding("logged", at, one.value, flow, math.nan)
        for one, at, flow in placed
        if one.kind is SeenKind.SOUNDING
    ]


def _speeds(placed: Sequence[tuple[Seen, Point, float]]) -> list[Speed]:
    """Return the logged speeds: of a stick on the surface."""
    return [
        Speed(at, one.value, flow, SpeedHow.SURFACE)
        for one, at, flow in placed
        if one.kind is SeenKind.SPEED
    ]


def fit_reach(reach: Markup, entries: Sequence[Entry], settings: GroundSettings) -> Kept:
    """Return what brings the river nearest to the notes.

    The ground is made from the drawing alone, without an earlier fit; the flow is the 1-D profile,
    whose level is within two centimetres of the engine's on the sample, at a hundredth of its cost.

    Parameters
    ----------
    reach
        The drawing.
    entries
        Of the log.
    settings
        Of the ground stage.

    Raises
    ------
    BuildError
        If no ground can be made, or there is nothing to fit to.
    """
    ground = make_terrain(reach, settings, None)
    run = partial(solve, settings=FlowSettings())
    found = fit(ground, with_log(reach, entries), run, settings)
    return Kept(rounded(found), drawn_digest(reach))
