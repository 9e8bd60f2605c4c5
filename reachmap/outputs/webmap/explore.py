"""A folium map of one flow for notebooks, with the map library embedded: no network."""

from __future__ import annotations

import base64
from typing import Any

import folium
import geopandas as gpd
from branca.element import Element

from reachmap.base.crs import outside
from reachmap.base.words import WadeGrade
from reachmap.outputs.palette import BY_KIND, FISHING, PAPER, PLAIN_DAY, Shape, Style
from reachmap.outputs.product import Product
from reachmap.outputs.webmap import assets
from reachmap.outputs.webmap.folium_map import OfflineMap
from reachmap.outputs.webmap.hillshade import relief
from reachmap.outputs.webmap.unknown import off_map, unknown_water
from reachmap.text.map_notes import map_notes

SHOWN_COLUMNS: dict[str, tuple[str, ...]] = {
    "water": ("code", "kind", "side", "depth_m", "speed_m_s", "score", "confidence"),
    "wading": ("grade", "depth_m", "out_m"),
    "seams": ("code", "strength", "length_m"),
    "stations": ("code", "side", "depth_m", "speed_m_s", "cast_m", "swing_s"),
}
"""Columns shown of a feature, SI. No user texts: folium compiles its rendered output as a template
a second time, so that braces typed by a user would be executed."""

LAYERS = (("wading", WadeGrade), ("water", FISHING))
"""Layers of areas from the bottom up, with the kinds drawn of each."""


def explore_map(product: Product) -> folium.Map:
    """Return a map of the one flow of a product.

    Parameters
    ----------
    product
        A product with one flow.

    Returns
    -------
    folium.Map
        Over the hillshade: wet area, wading grades, water, seams, stations, and outlines of
        unknown areas, which are never left blank. More folium layers may be added; one with tiles
        loads them from the network.
    """
    ground = relief(product.ground)
    middle = [(ground.south + ground.north) / 2, (ground.west + ground.east) / 2]
    page = OfflineMap(location=middle, tiles=None, max_zoom=22, attribution_control=False)
    units = product.markup.plan.units
    notes = map_notes(units, preview=product.preview, between=product.between)
    _library(page, " ".join(notes))
    picture = "data:image/webp;base64," + base64.b64encode(ground.data).decode("ascii")
    bounds = [[ground.south, ground.west], [ground.north, ground.east]]
    folium.raster_layers.ImageOverlay(picture, bounds, name="ground").add_to(page)
    _add(page, "Water's edge", product.layers["wetted"], (), BY_KIND["edge"])
    for layer, kinds in LAYERS:
        frame = product.layers[layer]
        column = "grade" if layer == "wading" else "kind"
        for kind in kinds:
            style = BY_KIND[str(kind)]
            rows = frame[frame[column] == str(kind)]
            _add(page, style.words, rows, SHOWN_COLUMNS[layer], style)
    for layer, kind in (("seams", "seam_line"), ("stations", "station")):
        style = BY_KIND[kind]
        _add(page, style.words, product.layers[layer], SHOWN_COLUMNS[layer], style)
    blind = unknown_water(product.flows, 0, off_map(product.flows))
    rows = gpd.GeoDataFrame(geometry=blind, crs=product.markup.crs)
    style = BY_KIND["unknown_water"]
    _add(page, style.words, rows, (), style)
    folium.LayerControl(collapsed=True).add_to(page)
    page.fit_bounds(bounds)
    return page


def _library(page: OfflineMap, notes: str) -> None:
    """Embed the map library, its style and the notes, the caution first, in the page."""
    root: Any = page.get_root()
    # raw: the library's own braces are no template syntax
    script = f"{{% raw %}}<script>{assets.library_script()}</script>{{% endraw %}}"
    style = f"{{% raw %}}<style>{assets.library_style()}</style>{{% endraw %}}"
    root.header.add_child(Element(script), name="library")
    root.header.add_child(Element(style), name="library_style")
    look = f"position:fixed;bottom:0;left:0;right:0;z-index:9999;padding:4px;background:{PAPER}"
    root.html.add_child(Element(f'<div style="{look}">{notes}</div>'), name="caution")


def _add(
    page: folium.Map, name: str, frame: gpd.GeoDataFrame, columns: tuple[str, ...], style: Style
) -> None:
    """Add a layer to the map; nothing where it is empty."""
    if frame.empty:
        return
    shown = outside(frame[[*columns, "geometry"]].round(2))
    tone = style.day
    area = style.shape is Shape.AREA
    look = {
        "color": tone.ink,
        "weight": style.width,
        "fillColor": tone.fill or PLAIN_DAY,
        "fillOpacity": style.veil if area else 0.0,
    }
    folium.GeoJson(
        shown.to_json(na="null"),
        name=name,
        style_function=lambda _: look,
        marker=folium.CircleMarker(radius=5, weight=2, color=tone.ink, fill=True),
        tooltip=folium.GeoJsonTooltip(list(columns)) if columns else None,
    ).add_to(page)
