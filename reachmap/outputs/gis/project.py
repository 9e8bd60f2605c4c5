"""reach.qgz: a desktop GIS project that shows the written files in the style of the map.

It has one group and one theme for each flow, one visible at a time; layers common to all flows lie
above them. The file is a zip with one XML document; it holds no data and refers to the other files
by relative paths, so that the folder can be moved.
"""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

from reachmap.base import qml
from reachmap.base.crs import grid_mapping
from reachmap.base.grid import Grid
from reachmap.base.units import flow_words
from reachmap.outputs.gis.drawn import DRAWN, drawn_layers
from reachmap.outputs.gis.layout import add_layouts
from reachmap.outputs.gis.package import caution_text
from reachmap.outputs.gis.project_layers import Entry, add_crs, add_map_layer, flow_entries
from reachmap.outputs.gis.rasters import rasters_of
from reachmap.outputs.handheld.names import flow_letter
from reachmap.outputs.product import Product
from reachmap.text import cautions
from reachmap.text.angler_text import clean_text
from reachmap.text.gis import DRAWN_GROUP, FLOWS_GROUP, HATCHES, TITLES, layout_name
from reachmap.text.wading_terms import terms_of

PROJECT_FILE = "reach.qgs"

STILL = (1980, 1, 1, 0, 0, 0)
"""Fixed date of the zip entry, so that the same reach gives the same bytes."""


@dataclass(frozen=True, slots=True)
class FlowGroup:
    """Layers of one flow: its title, the name of its theme, its layers, topmost first.

    Programs list themes alphabetically, so their names begin with the flow's letter in GPX.
    """

    title: str
    theme: str
    entries: tuple[Entry, ...]


def write_project(path: Path, product: Product) -> None:
    """Write the project at `path`, in the folder of results.gpkg and the rasters."""
    text = qml.text_of(project_xml(product))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        entry = zipfile.ZipInfo(PROJECT_FILE, STILL)
        entry.compress_type = zipfile.ZIP_DEFLATED
        packed.writestr(entry, text)


def project_xml(product: Product) -> ET.Element:
    """Return the project as XML."""
    plan = product.markup.plan
    title = clean_text(plan.name, 200)
    about = caution_text(product, terms_of(product.report, plan.units))
    lasting, groups = _lasting(product), _groups(product)
    shown = len(groups) // 2
    root = ET.Element("qgis", projectname=title, version=qml.VERSION)
    ET.SubElement(root, "title").text = title
    wkt = str(grid_mapping(product.markup.crs)["crs_wkt"])
    add_crs(ET.SubElement(root, "projectCrs"), wkt)
    _tree(root, lasting, groups, shown)
    _canvas(root, Grid.of(product.flows), wkt)
    layers = ET.SubElement(root, "projectlayers")
    for entry in (*lasting, *(one for group in groups for one in group.entries)):
        add_map_layer(layers, entry, wkt, about)
    _order(root, lasting, groups)
    _themes(root, lasting, groups)
    properties = ET.SubElement(root, "properties")
    for section, key, kind, value in (
        ("Paths", "Absolute", "bool", "false"),
        ("SpatialRefSys", "ProjectionsEnabled", "int", "1"),
    ):
        ET.SubElement(ET.SubElement(properties, section), key, type=kind).text = value
    metadata = ET.SubElement(root, "projectMetadata")
    for name, text in (("title", title), ("abstract", about)):
        ET.SubElement(metadata, name).text = text
    runs = [entry.id for entry in lasting if entry.layer == "runs"]
    if runs:
        pages = {layout_name(group.theme): group.theme for group in groups}
        add_layouts(root, runs[0], pages, f"{HATCHES} {cautions.ON_SHEETS}", title)
    return root


def _lasting(product: Product) -> tuple[Entry, ...]:
    """Return the layers common to all flows: hazards, access, suggested notes, runs."""
    drawn = drawn_layers(product.markup)
    names = [layer.name for layer in DRAWN if len(drawn[layer.name])]
    names += [name for name in ("asks", "runs") if len(product.layers[name])]
    return tuple(Entry(name, TITLES[name], shown=True) for name in names)


def _groups(product: Product) -> tuple[FlowGroup, ...]:
    """Return one group for each flow."""
    rasters = list(rasters_of(product))
    flows = product.flows["flow"].to_numpy()
    groups = []
    for number, (flow, label) in enumerate(zip(flows, product.labels, strict=True)):
        title = flow_words(float(flow), product.markup.plan.units)
        entries = flow_entries(product, label, [one for one in rasters if one.label == label])
        groups.append(FlowGroup(title, f"{flow_letter(number)} {title}", entries))
    return tuple(groups)


def _tree(
    root: ET.Element, lasting: Sequence[Entry], groups: Sequence[FlowGroup], shown: int
) -> None:
    """Add the tree of groups and layers; the groups of flows are mutually exclusive."""
    tree = ET.SubElement(root, "layer-tree-group")
    _leaves(_group(tree, DRAWN_GROUP, shown=True, expanded=True), lasting)
    flows = _group(tree, FLOWS_GROUP, shown=True, expanded=True)
    flows.set("mutually-exclusive", "1")
    flows.set("mutually-exclusive-child", str(shown))
    for number, group in enumerate(groups):
        here = number == shown
        _leaves(_group(flows, group.title, shown=here, expanded=here), group.entries)


def _group(parent: ET.Element, name: str, *, shown: bool, expanded: bool) -> ET.Element:
    """Add a group to the tree and return it."""
    checked = "Qt::Checked" if shown else "Qt::Unchecked"
    return ET.SubElement(
        parent,
        "layer-tree-group",
        {"name": name, "checked": checked, "expanded": str(int(expanded)), "groupLayer": ""},
    )


def _leaves(group: ET.Element, entries: Sequence[Entry]) -> None:
    """Add layers to a group of the tree."""
    for entry in entries:
        ET.SubElement(
            group,
            "layer-tree-layer",
            id=entry.id,
            name=entry.title,
            source=entry.source,
            providerKey=entry.provider,
            checked="Qt::Checked" if entry.shown else "Qt::Unchecked",
            expanded="0",
        )


def _canvas(root: ET.Element, grid: Grid, wkt: str) -> None:
    """Add the initial view: the whole reach."""
    west, south, east, north = grid.bounds
    canvas = ET.SubElement(root, "mapcanvas", name="theMapCanvas", annotationsVisible="1")
    ET.SubElement(canvas, "units").text = "meters"
    extent = ET.SubElement(canvas, "extent")
    for name, value in (("xmin", west), ("ymin", south), ("xmax", east), ("ymax", north)):
        ET.SubElement(extent, name).text = f"{value:.3f}"
    add_crs(ET.SubElement(canvas, "destinationsrs"), wkt)


def _order(root: ET.Element, lasting: Sequence[Entry], groups: Sequence[FlowGroup]) -> None:
    """Add the drawing order of the layers, topmost first."""
    order = ET.SubElement(root, "layerorder")
    for entry in (*lasting, *(one for group in groups for one in group.entries)):
        ET.SubElement(order, "layer", id=entry.id)


def _themes(root: ET.Element, lasting: Sequence[Entry], groups: Sequence[FlowGroup]) -> None:
    """Add one theme for each flow: the common layers and those of that flow."""
    presets = ET.SubElement(root, "visibility-presets")
    for group in groups:
        preset = ET.SubElement(
            presets,
            "visibility-preset",
            {"name": group.theme, "has-expanded-info": "0", "has-checked-group-info": "1"},
        )
        for entry in (*lasting, *group.entries):
            if entry.shown:
                ET.SubElement(
                    preset, "layer", id=entry.id, style="default", visible="1", expanded="0"
                )
        nodes = ET.SubElement(preset, "checked-group-nodes")
        for path in (DRAWN_GROUP, FLOWS_GROUP, f"{FLOWS_GROUP}/{group.title}"):
            ET.SubElement(nodes, "checked-group-node", id=path)
