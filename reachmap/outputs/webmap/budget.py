"""Estimate of a page's size before it is made, and the plan of what to coarsen so that it fits."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from reachmap.base.arrays import CodeArray
from reachmap.base.grid import Grid
from reachmap.base.words import Wet
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.encode import packed
from reachmap.outputs.webmap.grades import grade_codes
from reachmap.outputs.webmap.signed import depth_codes, signed_depth
from reachmap.outputs.webmap.tiles import coded, confidence_codes
from reachmap.outputs.webmap.unknown import off_map
from reachmap.text.numbers import both

BYTES_PER_VERTEX = 2.4
BYTES_PER_FEATURE = 70
BYTES_PER_PIXEL = 0.09
"""Of outlines, of cards and of the relief, packed and in base64 (measured on made rivers: 1.2 and
1.9, 15 to 25, 0.02 to 0.08)."""

TURNED = 1.1
"""How much less well rasters pack once they are cut into the page's tiles and turned to its
projection (measured: 8.00 MB of a page of 10 km at 1 m where 7.38 were expected without it)."""

BYTES_OF_PAGE = 330_000
"""Of the constant part of every page: map library, style and scripts."""

BYTES_OF_STILL = 60_000
"""Of the still picture in base64 (measured: 12 kB to 45 kB; it never passes 300 kB)."""


@dataclass(frozen=True, slots=True)
class MapSettings:
    """Options of the map pages.

    Parameters
    ----------
    budget_bytes
        Largest page [bytes]; our choice: what a phone opens from a message without problems.
    finest
        Finest step of speed [m/s] (our choice, 0.02-0.1: below the accuracy).
    tolerance_m
        Tolerance of the simplification of outlines [m] (our choice, 0.1-0.5).
    relief_pixels
        Most pixels of the relief (our choice: 8 million are 32 MB once opened).
    imagery_bytes
        Largest share of the angler's own imagery in a page [bytes] (our choice: a third of it).
    tile_url
        URL of the angler's own imagery tiles, with {z}, {x} and {y}; empty for none. Only then
        does a page load anything from the network.
    tile_credit
        Attribution of the imagery.
    site
        Date of creation of a page for the angler's own web host, ISO; empty for a page opened from
        a file. Such a page can be installed and is cached by the browser.
    """

    budget_bytes: int = 9_900_000
    finest: float = 0.05
    tolerance_m: float = 0.2
    relief_pixels: int = 8_000_000
    imagery_bytes: int = 3_500_000
    tile_url: str = ""
    tile_credit: str = ""
    site: str = ""


@dataclass(frozen=True, slots=True)
class MapPlan:
    """Coarseness of a page: page cell and relief cell over the project's, tolerance [m].

    `estimate` is the size of the page of all flows [bytes], `notes` what was coarsened and why.
    """

    coarser: int
    relief_coarser: int
    tolerance_m: float
    estimate: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Counts:
    """Amounts of data to write."""

    raster_bytes: float
    vertices: int
    features: int
    pixels: int


def plan_maps(product: Product, settings: MapSettings) -> MapPlan:
    """Return the coarseness at which the page of all flows keeps to the budget.

    The relief is coarsened first, then depth and speed, then the outlines.
    """
    key = "map plan", repr(settings)
    if key not in product.held:
        product.held[key] = product.once(
            "map plan",
            ("ground", "flows", "doubt", "layers", "asks", "words"),
            lambda: _plan_maps(product, settings),
            repr(settings),
        )
    found: MapPlan = product.held[key]
    return found


def _plan_maps(product: Product, settings: MapSettings) -> MapPlan:
    """Return the plan of the page of all flows, computed without the cache."""
    counts = _count(product, settings.finest)
    relief = max(1, math.ceil(math.sqrt(counts.pixels / settings.relief_pixels)))
    plan = _estimated(MapPlan(1, relief, settings.tolerance_m, 0), counts)
    while plan.estimate > settings.budget_bytes:
        coarser = _coarsened(plan, counts)
        if coarser == plan:
            break
        plan = coarser
    return replace(plan, notes=_notes(plan, settings, product))


def fits_whole(product: Product, settings: MapSettings) -> bool:
    """Return whether a page of all flows keeps to its budget, coarsening at most the relief."""
    plan = plan_maps(product, settings)
    fine = plan.coarser == 1 and plan.tolerance_m <= settings.tolerance_m
    return fine and plan.estimate <= settings.budget_bytes


def _count(product: Product, finest: float) -> _Counts:
    """Return the amounts of data to write."""
    frames = product.layers.values()
    vertices = sum(int(shapely.get_num_coordinates(f.geometry.to_numpy()).sum()) for f in frames)
    return _Counts(
        _raster_bytes(product, finest),
        vertices,
        sum(len(frame) for frame in frames),
        product.flows.sizes["y"] * product.flows.sizes["x"],
    )


def _raster_bytes(product: Product, finest: float) -> float:
    """Return the size of all rasters of all flows: one whole, the others as differences to it.

    A difference is taken to be as large as between the middle flow and the one two above it.
    """
    flows = product.flows
    count = flows.sizes["flow"]
    middle = count // 2
    other = min(middle + 2, count - 1)
    whole = _codes(product, middle, finest)
    size = float(sum(len(packed(layer.tobytes())) for layer in whole))
    if other > middle:
        steps = zip(_codes(product, other, finest), whole, strict=True)
        size += (count - 1) * sum(len(packed((b - a).tobytes())) for b, a in steps)
    if product.doubt is not None and count > 1:
        sure = next(confidence_codes(product.ground, product.doubt.isel(flow=[middle])))
        size += count * len(packed(sure[::2, ::2].tobytes()))
    return size * TURNED


def _codes(product: Product, index: int, finest: float) -> list[CodeArray]:
    """Return the codes of depth, speed and grade at a flow, each of the project's grid."""
    flows = product.flows
    one = flows.isel(flow=index)
    speed = np.hypot(one["east_speed"].to_numpy(), one["north_speed"].to_numpy())
    wet = np.where(off_map(flows), Wet.NO, one["wet"].to_numpy()).astype(np.uint8)
    zones = product.layers.get("wading")
    if zones is not None:
        zones = zones[zones["flow_label"] == product.labels[index]]
    return [
        depth_codes(signed_depth(product.ground, flows, index), wet),
        coded(speed, wet, finest),
        grade_codes(Grid.of(flows), zones, wet),
    ]


def _estimated(plan: MapPlan, counts: _Counts) -> MapPlan:
    """Return the plan with its size."""
    size = float(BYTES_OF_PAGE + BYTES_OF_STILL) + counts.features * BYTES_PER_FEATURE
    size += counts.raster_bytes / plan.coarser**1.5  # coarser rasters compress less well
    size += counts.vertices * BYTES_PER_VERTEX * min(1.0, (0.2 / plan.tolerance_m) ** 0.5)
    size += counts.pixels * BYTES_PER_PIXEL / plan.relief_coarser**2
    return replace(plan, estimate=int(size))


def _coarsened(plan: MapPlan, counts: _Counts) -> MapPlan:
    """Return the plan one step coarser, or the same one where no further step helps."""
    relief_share = counts.pixels * BYTES_PER_PIXEL / plan.relief_coarser**2
    if relief_share > 0.2 * plan.estimate and plan.relief_coarser < 8:
        return _estimated(replace(plan, relief_coarser=plan.relief_coarser + 1), counts)
    if plan.coarser < 4:
        return _estimated(replace(plan, coarser=plan.coarser + 1), counts)
    if plan.tolerance_m < 2:
        return _estimated(replace(plan, tolerance_m=plan.tolerance_m * 2), counts)
    return plan


def _notes(plan: MapPlan, settings: MapSettings, product: Product) -> tuple[str, ...]:
    """Return sentences on what is drawn coarser than computed."""
    cell, units = float(product.ground.attrs["cell"]), product.markup.plan.units
    notes = []
    if plan.coarser > 1:
        notes.append(
            f"Depth and speed are drawn in squares of {both('depth', cell * plan.coarser, units)} "
            f"instead of {both('depth', cell, units)}, to keep this file small enough to send."
        )
    if plan.relief_coarser > 1:
        side = both("depth", cell * plan.relief_coarser, units)
        notes.append(f"The shaded ground is drawn in squares of {side}, to keep this file small.")
    if plan.tolerance_m > settings.tolerance_m:
        notes.append(f"Outlines may be off by up to {both('depth', plan.tolerance_m, units)}.")
    if plan.estimate > settings.budget_bytes:
        size = plan.estimate / 1e6
        notes.append(
            f"This file is large, about {size:.0f} MB: map fewer flows or a shorter reach."
        )
    return tuple(notes)
