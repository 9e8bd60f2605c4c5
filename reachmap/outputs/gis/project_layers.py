"""The layers of a project for desktop GIS: where each lies, how it is drawn, what it is called."""

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
"""Layers of a flow, the topmost first, and whether a theme shows them."""

SHOWN_RASTERS = {
    **{"depth": True, "speed": False, "level": False},
    **{"depth_spread": False, "speed_spread": False, "agreement": False, "wet": True},
}
"""Rasters below them; `wet` is the lowest, so that what is not known shows where depth is empty."""


WET_VEIL = 0.5
"""Opacity of `wet`: what lies below it is still seen where the drawing ends (our choice)."""

LASTING = "at_every_flow"
"""Stands in a layer's identity for the flow; identities of less than six signs are replaced."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One layer of the project.

    Parameters
    ----------
    layer
        Name of the layer in results.gpkg, or of the raster's field.
    title
        For people.
    shown
        Whether its theme shows it.
    label
        The flow's label; "" for what is there at every flow.
    raster
        What it draws, None for a vector layer.
    """

    layer: str
    title: str
    shown: bool
    label: str = ""
    raster: Raster | None = None

    @property
    def id(self) -> str:
        """Return its identity within the project."""
        return f"{self.layer}_{self.label or LASTING}"

    @property
    def provider(self) -> str:
        """Return the name of the library that reads it."""
        return "ogr" if self.raster is None else "gdal"

    @property
    def source(self) -> str:
        """Return where it lies, from the project's folder."""
        if self.raster is not None:
            return f"./{self.raster.file}"
        place = f"./results.gpkg|layername={self.layer}"
        return f"{place}|subset=\"flow_label\" = '{self.label}'" if self.label else place


def flow_entries(product: Product, label: str, rasters: Sequence[Raster]) -> tuple[Entry, ...]:
    """Return the layers of one flow, the topmost first; an empty one is left out."""
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
    """Add a layer with its source, CRS, cautions and look."""
    layer = ET.SubElement(parent, "maplayer", type="vector" if entry.raster is None else "raster")
    ET.SubElement(layer, "id").text = entry.id
    ET.SubElement(layer, "datasource").text = entry.source
    ET.SubElement(layer, "layername").text = entry.title
    add_crs(ET.SubElement(layer, "srs"), wkt)
    told = ET.SubElement(layer, "resourceMetadata")
    ET.SubElement(told, "title").text = entry.title
    ET.SubElement(told, "abstract").text = about
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
    """Add what each column holds, where the table of attributes shows it."""
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
