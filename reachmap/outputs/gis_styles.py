"""Layer styles for desktop GIS, in the map's own colours: SLD 1.0, and QML beside it.

SLD is the OGC's Styled Layer Descriptor 1.0.0 (OGC 02-070, from memory), which most programs read
on request. The table `layer_styles` in a GeoPackage is a convention, not a standard; the desktop
program that began it puts on by itself only what stands there as QML, its own XML. Both are here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from reachmap.base.schema import BY_NAME
from reachmap.outputs.palette import BY_KIND, FISHING, WADING, Pattern, Style

SLD, OGC = "http://www.opengis.net/sld", "http://www.opengis.net/ogc"

PX_MM = 0.26
"""A screen px in millimetres, as print and GIS reckon (96 to the inch)."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a layer is drawn: one kind of the palette, or one for each value of a column."""

    column: str
    kinds: Mapping[str, str]


def _same(kind: str) -> Look:
    """Return the look of a layer that is drawn as one kind."""
    return Look("", {"": kind})


def _by(column: str, kinds: tuple[str, ...]) -> Look:
    """Return the look of a layer whose values are named as the kinds are."""
    return Look(column, {kind: kind for kind in kinds})


LOOKS: Mapping[str, Look] = {
    "wetted": _same("edge"),
    "edge_left": _same("edge"),
    "edge_right": _same("edge"),
    "water": _by("kind", FISHING),
    "left_over": _same("left_over"),
    "structure": _same("structure"),
    "seams": _same("seam_line"),
    "tailouts": _same("tailout_line"),
    "lanes": _same("lane"),
    "bands": _same("band"),
    "covered": _same("covered"),
    "channels": Look("kind", {"main": "river", "side": "side_channel", "dead arm": "dead_arm"}),
    "wading": _by("grade", WADING),
    "bars": _same("bar"),
    "stations": _same("station"),
    "hazards_near": _same("hazard"),
    "swings": _same("swing"),
    "tip_ladder": _same("station"),
    "runs": Look("named_by", {"angler": "own_run", "reachmap": "found_run"}),
    "asks": Look("kind", {"sounding": "ask", "edge": "ask", "stick": "ask"}),
}
"""How each layer of the register is drawn; a layer that is not here is drawn as the edge is."""

BRUSHES: Mapping[Pattern, str] = {
    Pattern.DOTS: "dense6",
    Pattern.SPECKS: "dense7",
    Pattern.SLANT: "b_diagonal",
    Pattern.LEVEL: "horizontal",
    Pattern.UPRIGHT: "vertical",
    Pattern.CROSS: "diagonal_x",
    Pattern.BRICK: "cross",
}
"""Brushes of QML that come nearest to our patterns."""


def look_of(layer: str) -> Look:
    """Return how a layer is drawn."""
    return LOOKS.get(layer, _same("edge"))


def sld_style(layer: str) -> str:
    """Return a layer's style as SLD 1.0.0, one rule a kind."""
    look = look_of(layer)
    root = ET.Element(f"{{{SLD}}}StyledLayerDescriptor", version="1.0.0")
    named = _sub(root, "NamedLayer")
    _sub(named, "Name", layer)
    feature_style = _sub(_sub(named, "UserStyle"), "FeatureTypeStyle")
    for value, kind in look.kinds.items():
        style = BY_KIND[kind]
        rule = _sub(feature_style, "Rule")
        _sub(rule, "Title", style.words)
        if look.column:
            equal = ET.SubElement(
                ET.SubElement(rule, f"{{{OGC}}}Filter"), f"{{{OGC}}}PropertyIsEqualTo"
            )
            ET.SubElement(equal, f"{{{OGC}}}PropertyName").text = look.column
            ET.SubElement(equal, f"{{{OGC}}}Literal").text = value
        _sld_symbol(rule, BY_NAME[layer].geometry, style)
    ET.register_namespace("", SLD)
    ET.register_namespace("ogc", OGC)
    return ET.tostring(root, encoding="unicode", xml_declaration=True)


def _sub(parent: ET.Element, name: str, text: str | None = None) -> ET.Element:
    """Return a new SLD element below another."""
    element = ET.SubElement(parent, f"{{{SLD}}}{name}")
    element.text = text
    return element


def _sld_symbol(rule: ET.Element, geometry: str, style: Style) -> None:
    """Add the symbolizer of a kind."""
    if geometry == "Point":
        mark = _sub(_sub(_sub(rule, "PointSymbolizer"), "Graphic"), "Mark")
        _sub(mark, "WellKnownName", "circle")
        _css(_sub(mark, "Fill"), {"fill": style.day.fill or style.day.casing})
        _stroke(mark, style)
        return
    symbol = _sub(rule, "PolygonSymbolizer" if geometry == "Polygon" else "LineSymbolizer")
    if geometry == "Polygon" and style.veil and style.day.fill:
        _css(_sub(symbol, "Fill"), {"fill": style.day.fill, "fill-opacity": f"{style.veil:g}"})
    _stroke(symbol, style)


def _stroke(parent: ET.Element, style: Style) -> None:
    """Add the outline of a kind."""
    values = {"stroke": style.day.ink, "stroke-width": f"{max(style.width, 0.5):g}"}
    if style.dash:
        values["stroke-dasharray"] = " ".join(f"{length:g}" for length in style.dash)
    _css(_sub(parent, "Stroke"), values)


def _css(parent: ET.Element, values: Mapping[str, str]) -> None:
    """Add parameters."""
    for name, value in values.items():
        element = _sub(parent, "CssParameter", value)
        element.set("name", name)


def qml_style(layer: str) -> str:
    """Return a layer's style as QML, one category a kind."""
    look = look_of(layer)
    root = ET.Element("qgis", version="3.0.0", styleCategories="Symbology")
    kind = "categorizedSymbol" if look.column else "singleSymbol"
    renderer = ET.SubElement(root, "renderer-v2", type=kind)
    if look.column:
        renderer.set("attr", look.column)
        categories = ET.SubElement(renderer, "categories")
        for number, (value, name) in enumerate(look.kinds.items()):
            ET.SubElement(
                categories,
                "category",
                value=value,
                symbol=str(number),
                label=BY_KIND[name].words,
                render="true",
            )
    symbols = ET.SubElement(renderer, "symbols")
    for number, name in enumerate(look.kinds.values()):
        _qml_symbol(symbols, str(number), BY_NAME[layer].geometry, BY_KIND[name])
    return "<!DOCTYPE qgis>" + ET.tostring(root, encoding="unicode")


def _qml_symbol(symbols: ET.Element, name: str, geometry: str, style: Style) -> None:
    """Add the symbol of a kind."""
    kind = {"Polygon": "fill", "LineString": "line", "Point": "marker"}[geometry]
    symbol = ET.SubElement(symbols, "symbol", name=name, type=kind, alpha="1")
    ink, width = _rgba(style.day.ink), f"{max(style.width, 0.5) * PX_MM:.2f}"
    dash = ";".join(f"{max(length, 0.5) * PX_MM:.2f}" for length in style.dash)
    if kind == "marker":
        fill = _rgba(style.day.fill or style.day.casing)
        values = {"name": "circle", "color": fill, "outline_color": ink, "size": "2.6"}
        _qml_layer(symbol, "SimpleMarker", values | {"outline_width": "0.5"})
    elif kind == "line":
        _qml_layer(symbol, "SimpleLine", _qml_line(ink, width, dash))
    else:
        if style.day.fill and style.veil:
            veil = {"color": _rgba(style.day.fill, style.veil), "style": "solid"}
            _qml_layer(symbol, "SimpleFill", veil | {"outline_style": "no"})
        if style.pattern is not Pattern.NONE:
            hatch = {"color": _rgba(style.day.pattern), "style": BRUSHES[style.pattern]}
            _qml_layer(symbol, "SimpleFill", hatch | {"outline_style": "no"})
        _qml_layer(symbol, "SimpleLine", _qml_line(ink, width, dash))


def _qml_line(ink: str, width: str, dash: str) -> dict[str, str]:
    """Return the properties of a line."""
    values = {"line_color": ink, "line_width": width, "line_style": "solid"}
    return values | ({"customdash": dash, "use_custom_dash": "1"} if dash else {})


def _qml_layer(symbol: ET.Element, kind: str, values: Mapping[str, str]) -> None:
    """Add one layer of a symbol."""
    layer = ET.SubElement(symbol, "layer", {"class": kind, "enabled": "1", "pass": "0"})
    for name, value in values.items():
        ET.SubElement(layer, "prop", k=name, v=value)


def _rgba(colour: str, share: float = 1.0) -> str:
    """Return #rrggbb as QML writes colours."""
    parts = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return ",".join(str(part) for part in [*parts, round(255 * share)])
