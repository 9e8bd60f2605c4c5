"""Offline map pages: one of all flows, and one of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WEB_MERCATOR, WGS84, transform_points
from reachmap.base.grid import Grid
from reachmap.base.picture import MapPicture
from reachmap.outputs.product import Product
from reachmap.outputs.webmap.book import Parts, PlacedFeature, placed_features
from reachmap.outputs.webmap.budget import MapPlan, MapSettings, fits_whole, plan_maps
from reachmap.outputs.webmap.feature import Feature
from reachmap.outputs.webmap.folium_map import View
from reachmap.outputs.webmap.hillshade import beyond, interval, relief, shown_heights
from reachmap.outputs.webmap.imagery import underlay
from reachmap.outputs.webmap.layers import Group, groups, thin_for, with_runs
from reachmap.outputs.webmap.page import PageMaker, frame_of
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.still import still_maker
from reachmap.outputs.webmap.tiles import Tiles, cut_grades, cut_water
from reachmap.text.map_page import BEYOND, CONTOURS
from reachmap.text.numbers import both

__all__ = ["MapPlan", "MapSettings", "plan_maps", "site_page", "write_maps"]


def write_maps(
    product: Product, folder: Path, *, settings: MapSettings | None = None
) -> list[Path]:
    """Write `index.html` with all flows, and `<label>.html` with one flow each.

    `index.html` holds every flow that was read, if it keeps to its budget so; else those asked for.
    The pages of one flow are there to be sent on: they hold neither log nor imagery.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where to write; made if it is not there.
    settings
        Options of the map; by default nothing is loaded from the network.

    Returns
    -------
    list[Path]
        The pages written, `index.html` first.
    """
    chosen = settings or MapSettings()
    shown = _shown(product, chosen)
    maker = _maker(shown, product.labels, chosen)
    folder.mkdir(parents=True, exist_ok=True)
    names = {"index.html": list(range(len(shown.labels)))}
    names |= {f"{label}.html": [shown.labels.index(label)] for label in product.labels}
    written = []
    for name, flows in names.items():
        path = folder / name
        own = name == "index.html"
        page = maker.page(flows, with_log=own, imagery=own)
        path.write_text(page, encoding="utf-8")
        written.append(path)
    return written


def site_page(product: Product, settings: MapSettings) -> str:
    """Return the page of all flows for the angler's own web host, without the log."""
    shown = _shown(product, settings)
    maker = _maker(shown, product.labels, settings)
    return maker.page(list(range(len(shown.labels))), with_log=False)


def _shown(product: Product, settings: MapSettings) -> Product:
    """Return the product with every flow evaluated, if a page of all of them is small enough.

    A product of one flow is unchanged, and nothing is drawn coarser to make room for more flows.
    """
    if len(product.labels) < 2:
        return product
    every = product.with_all_flows
    return every if fits_whole(every, settings) else product


def _maker(product: Product, own: Sequence[str], settings: MapSettings) -> PageMaker:
    """Return the page maker, with everything common to all pages computed once."""
    plan = plan_maps(product, settings)
    page = PageGrid.over(Grid.of(product.ground), coarser=plan.coarser)
    placed = _placed(product, page, plan)
    drawn = tuple(one.feature for one in placed)
    tiles = _tiles(product, page, plan, settings)
    parts = Parts.of(product, page, tiles, placed, own, (plan.coarser, plan.tolerance_m))
    units = product.markup.plan.units

    def shaded() -> tuple[FloatArray | None, MapPicture]:
        around = beyond(product.ground, product.markup, coarser=plan.relief_coarser)
        coarser = plan.relief_coarser
        return around, relief(product.ground, coarser=coarser, around=around, units=units)

    around, picture = product.once(
        "relief", ("ground", "drawing", "words"), shaded, plan.relief_coarser
    )
    room = min(settings.imagery_bytes, settings.budget_bytes - plan.estimate)
    own_imagery = underlay(product, page, room)
    view, site = _view(page, drawn), bool(settings.site)
    frame = frame_of(view, picture, settings.tile_url, own_imagery.picture, site=site)
    bare = None
    if own_imagery.picture is not None:
        bare = frame_of(view, picture, settings.tile_url, site=site)
    told = [own_imagery.note, *_ground_notes(product, around, plan.relief_coarser)]
    plan = replace(plan, notes=(*plan.notes, *(note for note in told if note)))
    still = still_maker(product, page)
    return PageMaker(product, parts, frame, plan, settings, still, bare)


def _placed(product: Product, page: PageGrid, plan: MapPlan) -> tuple[PlacedFeature, ...]:
    """Return all features in the page's coordinates; groups that did not change may be held."""
    thin, found = thin_for(product, plan.tolerance_m), list[PlacedFeature]()
    for group in groups():

        def made(group: Group = group) -> tuple[PlacedFeature, ...]:
            return placed_features(tuple(group.make(product, thin)), page)

        more = group.name, plan.coarser, plan.tolerance_m
        found += (
            made()
            if group.parts is None
            else product.once("features", (*group.parts, "ground"), made, more)
        )
    named = with_runs(product, [one.feature for one in found])
    return tuple(
        one if feature is one.feature else replace(one, feature=feature)
        for one, feature in zip(found, named, strict=True)
    )


def _tiles(product: Product, page: PageGrid, plan: MapPlan, settings: MapSettings) -> Tiles:
    """Return the coded rasters; what did not change may be held."""
    more = plan.coarser, settings.finest
    water = product.once(
        "tiles",
        ("ground", "flows", "doubt"),
        lambda: cut_water(
            page, product.ground, product.flows, doubt=product.doubt, finest=settings.finest
        ),
        more,
    )
    grade = product.once(
        "grade tiles",
        ("ground", "flows", "layers"),
        lambda: cut_grades(page, product.flows, water.blocks, product.layers.get("wading")),
        more,
    )
    return replace(water, grade=grade)


def _ground_notes(product: Product, around: FloatArray | None, coarser: int) -> list[str]:
    """Return what to say of the ground's contours, and of the ground around the mapped one."""
    units = product.markup.plan.units
    step = interval(shown_heights(product.ground, around, coarser=coarser), units)
    notes = [CONTOURS.format(step=both("depth", step, units))] if step > 0 else []
    return [*notes, BEYOND] if around is not None and np.isfinite(around).any() else notes


def _view(page: PageGrid, drawn: tuple[Feature, ...]) -> View:
    """Return the bounds of all water, or of the raster where nothing is wet."""
    rings = [
        ring for feature in drawn if feature.kind in ("edge", "river") for ring in feature.rings
    ]
    corners = page.to_page(np.vstack(rings)) if rings else np.array(page.grid.bounds).reshape(2, 2)
    longitude, latitude = transform_points(corners[:, 0], corners[:, 1], WEB_MERCATOR, WGS84)
    return View(
        float(latitude.min()), float(longitude.min()), float(latitude.max()), float(longitude.max())
    )
