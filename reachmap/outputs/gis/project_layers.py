"""Layers of the desktop GIS project: their sources, styles and titles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from reachmap.base.columns import Layer
from reachmap.base.schema import BY_NAME
from reachmap.outputs.gis.drawn import DRAWN_BY_NAME
from reachmap.outputs.gis.raster_styles import add_pipe
from reachmap.outputs.gis.rasters import Raster
from reachmap.outputs.gis.styles import LABELS, add_look, look_of
from reachmap.outputs.product import Product
from reachmap.text.gis import TITLES, column_meaning

SHOWN = {
    **{"stations": True, "structure": True, "seams": True, "tailouts": True, "water": True},
    **{"hazards_near": False, "swings": False, "lanes": False, "bars": True, "wading": True},
    **{"channels": False, "wetted": True},
}
"""Layers of a flow, topmost first, and whether a theme shows them."""

SHOWN_RASTERS = {
    **{"depth": True, "speed": False, "level": False},
    **{"suits_chance": False, "wet_chance": False},
    **{"depth_spread": False, "speed_spread": False, "agreement": False, "wet": True},
}
"""Rasters below them; `wet` is the lowest, so that unknown areas show where depth is empty."""


WET_VEIL = 0.5
"""Opacity of `wet`: a basemap below stays visible (our choice)."""

LASTING = "at_every_flow"
"""Replaces the flow in the identifiers of common layers; QGIS replaces identifiers of less than
six characters."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One layer of the project.

    Parameters
    ----------
    layer
        Name of the layer in results.gpkg, or of the raster's field.
    title
        Title shown to users.
    shown
        Whether its theme shows it.
    label
        The flow's label; "" for a layer common to all flows.
    raster
        The raster, None for a vector layer.
    """

    layer: str
    title: str
    shown: bool
    label: str = ""
    raster: Raster | None = None

    @property
    def id(self) -> str:
        """Return its identifier within the project."""
        return f"{self.layer}_{self.label or LASTING}"

    @property
    def provider(self) -> str:
        """Return the name of QGIS's data provider for it."""
        return "ogr" if self.raster is None else "gdal"

    @property
    def source(self) -> str:
        """Return its data source, relative to the project's folder."""
        if self.raster is not None:
            return f"./{self.raster.file}"
        place = f"./results.gpkg|layername={self.layer}"
        return f"{place}|subset=\"flow_label\" = '{self.label}'" if self.label else place


def flow_entries(product: Product, label: str, rasters: Sequence[Raster]) -> tuple[Entry, ...]:
    """Return the layers of one flow, topmost first, without empty ones."""
    found = [
        Entry(name, TITLES[name], shown, label)
        for name, shown in SHOWN.items()
        if (product.layers[name]["flow_label"] == label).any()
    ]
    by_name = {raster.name: raster for raster in rasters}
    found += [
        Entry(name, TITLES[name], shown, label, by_name[name])
        for name, shown in SHOWN_RASTERS.items()
        if name in by_name
    ]
    return tuple(found)


def add_map_layer(parent: ET.Element, entry: Entry, wkt: str, about: str) -> None:
    """Add a layer with its source, CRS, cautions and style."""
    layer = ET.SubElement(parent, "maplayer", type="vector" if entry.raster is None else "raster")
    ET.SubElement(layer, "id").text = entry.id
    ET.SubElement(layer, "datasource").text = entry.source
    ET.SubElement(layer, "layername").text = entry.title
    add_crs(ET.SubElement(layer, "srs"), wkt)
    metadata = ET.SubElement(layer, "resourceMetadata")
    ET.SubElement(metadata, "title").text = entry.title
    ET.SubElement(metadata, "abstract").text = about
    if entry.raster is not None:
        ET.SubElement(layer, "provider").text = entry.provider
        veil = WET_VEIL if entry.layer == "wet" else 1.0
        add_pipe(layer, entry.raster.name, entry.raster.steps, opacity=veil)
        return
    promised = BY_NAME.get(entry.layer) or DRAWN_BY_NAME[entry.layer]
    layer.set("geometry", {"LineString": "Line"}.get(promised.geometry, promised.geometry))
    ET.SubElement(layer, "provider", encoding="UTF-8").text = entry.provider
    _aliases(layer, promised)
    add_look(layer, promised.geometry, look_of(entry.layer), LABELS.get(entry.layer))


def _aliases(parent: ET.Element, layer: Layer) -> None:
    """Add the columns' descriptions as aliases, shown in the attribute table."""
    columns = (*layer.columns, *layer.written)
    aliases = ET.SubElement(parent, "aliases")
    for index, column in enumerate(columns, start=1):  # 0 is the row's number
        name = f"{column.name} [{column.unit}]" if column.unit else column.name
        ET.SubElement(aliases, "alias", field=column.name, index=str(index), name=name)
    fields = ET.SubElement(parent, "fieldConfiguration")
    for column in columns:
        one = ET.SubElement(fields, "field", name=column.name, configurationFlags="None")
        one.set("comment", column_meaning(column.meaning))


def add_crs(parent: ET.Element, wkt: str) -> None:
    """Add a CRS by its WKT."""
    system = ET.SubElement(parent, "spatialrefsys", nativeFormat="Wkt")
    ET.SubElement(system, "wkt").text = wkt
