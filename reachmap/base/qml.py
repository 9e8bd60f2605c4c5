"""QML: the XML in which a desktop GIS keeps how a layer is drawn, labelled and filled in.

The format has no published standard; what stands here is what QGIS 3.22 reads, and it was looked at
there (tests/outputs/gis/test_render.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

PX_MM = 0.26
"""A screen px in millimetres, as print and GIS reckon (96 to the inch)."""

VERSION = "3.22.0"
DOCTYPE = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>"

AROUND, OVER, ALONG = "0", "1", "2"
"""Where a label stands: around its point, over its middle, along its line."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label: an expression, its colour as #rrggbb, and where it stands.

    `nearest` is the scale's denominator from which on it is shown; 0 shows it always.
    """

    expression: str
    ink: str
    where: str = AROUND
    nearest: int = 0


def root(categories: str) -> ET.Element:
    """Return the root of a style with the categories named, like "Symbology|Labeling"."""
    return ET.Element("qgis", version=VERSION, styleCategories=categories)


def text_of(element: ET.Element) -> str:
    """Return a style or project as text."""
    return DOCTYPE + ET.tostring(element, encoding="unicode")


def rgba(colour: str, share: float = 1.0) -> str:
    """Return #rrggbb as QML writes colours.

    Examples
    --------
    >>> rgba("#0080ff", 0.5)
    '0,128,255,128'
    """
    parts = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return ",".join(str(part) for part in [*parts, round(255 * share)])


def symbol(parent: ET.Element, name: str, kind: str) -> ET.Element:
    """Return a new symbol ("fill", "line" or "marker") below an element."""
    return ET.SubElement(parent, "symbol", name=name, type=kind, alpha="1", clip_to_extent="1")


def symbol_layer(parent: ET.Element, kind: str, values: Mapping[str, str]) -> ET.Element:
    """Add one layer of a symbol and return it."""
    layer = ET.SubElement(parent, "layer", {"class": kind, "enabled": "1", "pass": "0"})
    for name, value in values.items():
        ET.SubElement(layer, "prop", k=name, v=value)
    return layer


def line_values(ink: str, width_px: float, dash_px: Sequence[float] = ()) -> dict[str, str]:
    """Return the properties of a line; `ink` as QML writes colours."""
    values = {"line_color": ink, "line_width": f"{max(width_px, 0.5) * PX_MM:.2f}"}
    values |= {"line_style": "solid", "capstyle": "flat", "joinstyle": "round"}
    if not dash_px:
        return values
    dash = ";".join(f"{max(length, 0.5) * PX_MM:.2f}" for length in dash_px)
    return values | {"customdash": dash, "customdash_unit": "MM", "use_custom_dash": "1"}


def hatch(parent: ET.Element, ink: str, *, angle: int, apart_mm: float, width_mm: float) -> None:
    """Add parallel lines across an area that leave what lies below to be seen."""
    layer = symbol_layer(
        parent,
        "LinePatternFill",
        {"angle": str(angle), "distance": f"{apart_mm:g}", "distance_unit": "MM"},
    )
    line = symbol(layer, f"@{parent.get('name')}@{len(parent) - 1}", "line")
    symbol_layer(line, "SimpleLine", {"line_color": ink, "line_width": f"{width_mm:g}"})


def labelled(parent: ET.Element, label: Label) -> None:
    """Add a label to a style, with a pale rim so that it can be read on any water."""
    labeling = ET.SubElement(parent, "labeling", type="simple")
    settings = ET.SubElement(labeling, "settings", calloutType="simple")
    style = ET.SubElement(
        settings,
        "text-style",
        fieldName=label.expression,
        isExpression="1",
        fontSize="9",
        fontSizeUnit="Point",
        fontWeight="63",
        textColor=rgba(label.ink),
        namedStyle="Bold",
    )
    ET.SubElement(
        style,
        "text-buffer",
        bufferDraw="1",
        bufferSize="0.9",
        bufferSizeUnits="MM",
        bufferColor=rgba("#fffdf6"),
        bufferOpacity="1",
        bufferNoFill="1",
    )
    placement = {"placement": label.where, "dist": "1.5", "distUnits": "MM", "priority": "5"}
    ET.SubElement(settings, "placement", placement)
    scale = {"scaleVisibility": "1", "scaleMin": "1", "scaleMax": str(label.nearest)}
    shown = scale if label.nearest else {"scaleVisibility": "0"}
    ET.SubElement(settings, "rendering", {"obstacle": "1", "displayAll": "0", **shown})


def choices(parent: ET.Element, pairs: Sequence[tuple[str, str]]) -> None:
    """Add a dropdown for a field: pairs of what is shown and what is kept."""
    widget = ET.SubElement(parent, "editWidget", type="ValueMap")
    options = ET.SubElement(ET.SubElement(widget, "config"), "Option", type="Map")
    listed = ET.SubElement(options, "Option", name="map", type="List")
    for shown, kept in pairs:
        one = ET.SubElement(listed, "Option", type="Map")
        ET.SubElement(one, "Option", name=shown, type="QString", value=kept)
