"""Layer styles for desktop GIS in the map's colours, as SLD 1.0 and as QML.

SLD is the OGC's Styled Layer Descriptor 1.0.0 (OGC 02-070, from memory), which most programs read
on request. The table `layer_styles` in a GeoPackage is a convention of QGIS, not a standard; QGIS
applies by default only the QML stored there. Both are written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from reachmap.base import qml
from reachmap.base.schema import BY_NAME
from reachmap.outputs.gis.drawn import DRAWN_BY_NAME
from reachmap.outputs.palette import BY_KIND, FISHING, ONLY_FROM, WADING, Pattern, Style

SLD, OGC = "http://www.opengis.net/sld", "http://www.opengis.net/ogc"


@dataclass(frozen=True, slots=True)
class Look:
    """Style of a layer: one kind of the palette, or one for each value of a column."""

    column: str
    kinds: Mapping[str, str]


def _same(kind: str) -> Look:
    """Return the style of a layer drawn as one kind."""
    return Look("", {"": kind})


def _by(column: str, kinds: tuple[str, ...]) -> Look:
    """Return the style of a layer whose column holds names of kinds."""
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
    "beyond": Look("only_from", ONLY_FROM),
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
"""Style of each layer of the register; a layer that is not listed is drawn like the edge."""

DRAWN_LOOKS: Mapping[str, Look] = {
    "hazards_drawn": _same("hazard"),
    "hazard_outlines": _same("hazard"),
    "access_drawn": _same("access"),
}
"""Styles of the drawn layers."""

BRUSHES: Mapping[Pattern, str] = {
    Pattern.DOTS: "dense6",
    Pattern.SPECKS: "dense7",
    Pattern.SLANT: "b_diagonal",
    Pattern.LEVEL: "horizontal",
    Pattern.UPRIGHT: "vertical",
    Pattern.CROSS: "diagonal_x",
    Pattern.BRICK: "cross",
}
"""QML brushes closest to our patterns."""


MARKS: Mapping[str, str] = {"hazard": "triangle", "access": "square", "ask": "diamond"}
"""QML marks other than a circle, so that no kind differs by colour alone."""

SPARSE, SPARSE_MM = frozenset({"no"}), 3.6
"""Spacing of the hatch [mm] of kinds that cover most of a river, so that depth and names stay
legible."""

NEAR = 4000
"""Scale denominator up to which places to stand are labelled: there may be many (our choice)."""

LABELS: Mapping[str, qml.Label] = {
    "water": qml.Label('"code"', BY_KIND["edge"].day.ink, qml.OVER),
    "runs": qml.Label('"run"', BY_KIND["found_run"].day.ink, qml.OVER),
    "structure": qml.Label('"code"', BY_KIND["structure"].day.ink, qml.OVER),
    "asks": qml.Label('"code"', BY_KIND["ask"].day.ink),
    "stations": qml.Label('"code"', BY_KIND["station"].day.ink, nearest=NEAR),
    "hazards_drawn": qml.Label('"kind"', BY_KIND["hazard"].day.ink),
    "access_drawn": qml.Label('"kind"', BY_KIND["access"].day.ink),
    "hazards_near": qml.Label('"kind"', BY_KIND["hazard"].day.ink),
}
"""Labels of the features of a layer."""


def look_of(layer: str) -> Look:
    """Return the style of a layer."""
    return DRAWN_LOOKS.get(layer) or LOOKS.get(layer, _same("edge"))


def _geometry_of(layer: str) -> str:
    """Return the geometry type of a layer: Point, LineString or Polygon."""
    return (DRAWN_BY_NAME.get(layer) or BY_NAME[layer]).geometry


def sld_style(layer: str) -> str:
    """Return a layer's style as SLD 1.0.0, one rule for each kind."""
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
        _sld_symbol(rule, _geometry_of(layer), style)
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
    """Return a layer's style as QML, one category for each kind, with its label."""
    root = qml.root("Symbology|Labeling")
    add_look(root, _geometry_of(layer), look_of(layer), LABELS.get(layer))
    return qml.text_of(root)


def add_look(root: ET.Element, geometry: str, look: Look, label: qml.Label | None = None) -> None:
    """Add a categorised renderer to a style or to a layer of a project."""
    kind = "categorizedSymbol" if look.column else "singleSymbol"
    renderer = ET.SubElement(root, "renderer-v2", type=kind, symbollevels="0", enableorderby="0")
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
        _qml_symbol(symbols, str(number), geometry, BY_KIND[name])
    if label is not None:
        qml.labelled(root, label)


def _qml_symbol(symbols: ET.Element, name: str, geometry: str, style: Style) -> None:
    """Add the symbol of a kind."""
    kind = {"Polygon": "fill", "LineString": "line", "Point": "marker"}[geometry]
    symbol = qml.symbol(symbols, name, kind)
    ink = qml.rgba(style.day.ink)
    line = qml.line_values(ink, style.width, style.dash)
    if kind == "marker":
        fill = qml.rgba(style.day.fill or style.day.casing)
        values = {"name": MARKS.get(style.kind, "circle"), "color": fill, "outline_color": ink}
        qml.symbol_layer(symbol, "SimpleMarker", {**values, "size": "2.8", "outline_width": "0.5"})
    elif kind == "line":
        qml.symbol_layer(symbol, "SimpleLine", line)
    else:
        _qml_area(symbol, style)
        if style.width:
            qml.symbol_layer(symbol, "SimpleLine", line)


def _qml_area(symbol: ET.Element, style: Style) -> None:
    """Add the fill of an area; over no-go water the depth below stays visible."""
    if style.kind in SPARSE:  # pale lines cased in dark ones: visible on shallow and on deep water
        for colour, width in ((style.day.fill, 0.7), (style.day.pattern, 0.25)):
            for angle in (45, 135):
                ink = qml.rgba(colour)
                qml.hatch(symbol, ink, angle=angle, apart_mm=SPARSE_MM, width_mm=width)
        return
    hatched = qml.rgba(style.day.pattern)
    if style.day.fill and style.veil:
        veil = {"color": qml.rgba(style.day.fill, style.veil), "style": "solid"}
        qml.symbol_layer(symbol, "SimpleFill", veil | {"outline_style": "no"})
    if style.pattern is not Pattern.NONE:
        filled = {"color": hatched, "style": BRUSHES[style.pattern]}
        qml.symbol_layer(symbol, "SimpleFill", filled | {"outline_style": "no"})
