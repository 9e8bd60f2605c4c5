"""A folium map without network access."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import folium
from branca.element import Element

from reachmap.base.picture import MapPicture

NAME = "reach"
MAP_VARIABLE = f"map_{NAME}"
"""The script variable that holds the map; the same in every page, so that pages repeat exactly."""

RELIEF_ADDRESS = "data:image/webp;base64,@@relief@@"
IMAGERY_ADDRESS = "data:image/webp;base64,@@imagery@@"
"""Placeholders of the relief and of the angler's own imagery until the page is rendered."""


class OfflineMap(folium.Map):
    """folium's map without its remote scripts and styles; ours are inserted after rendering."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - folium reads it from the class
    default_css: list[tuple[str, str]] = []  # noqa: RUF012


@dataclass(frozen=True, slots=True)
class View:
    """Initial view of the map: south, west, north, east in WGS84 [degrees]."""

    south: float
    west: float
    north: float
    east: float


def rendered(
    view: View, relief: MapPicture, tile_url: str, imagery: MapPicture | None = None
) -> str:
    """Return folium's page: a map over the relief and own imagery, identical for equal input.

    User texts must not pass through here: branca compiles its rendered output as a template a
    second time, so that braces typed by a user would be executed.
    """
    options: dict[str, Any] = {"zoom_snap": 0.25, "zoom_delta": 0.5, "attribution_control": False}
    page = OfflineMap(
        location=[(view.south + view.north) / 2, (view.west + view.east) / 2],
        tiles=None,
        max_zoom=22,
        zoom_control=False,
        **options,
    )
    page._id = NAME  # folium would generate a random one
    if tile_url:
        layer = folium.TileLayer("@@tiles@@", attr=" ", max_zoom=22, name="own")
        layer._id = "imagery"
        layer.add_to(page)
    overlay = folium.raster_layers.ImageOverlay(
        RELIEF_ADDRESS,
        [[relief.south, relief.west], [relief.north, relief.east]],
        alt="",
        opacity=0.55 if tile_url else 1.0,
        zindex=1,
    )
    overlay._id = "relief"
    overlay.add_to(page)
    if imagery is not None:
        own = folium.raster_layers.ImageOverlay(
            IMAGERY_ADDRESS,
            [[imagery.south, imagery.west], [imagery.north, imagery.east]],
            alt="",
            zindex=2,
        )
        own._id = "own_imagery"
        own.add_to(page)
    bounds = folium.FitBounds([[view.south, view.west], [view.north, view.east]])
    bounds._id = "bounds"
    page.add_child(bounds)
    root: Any = page.get_root()
    root._id = "page"
    root.title = "@@title@@"
    root.header.add_child(Element("@@head@@"), name="head")
    root.html.add_child(Element("@@body@@"), name="body")
    return str(root.render())
