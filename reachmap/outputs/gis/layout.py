"""Print layouts: one for each flow, one page per run with its name, map, scale bar and cautions."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from xml.etree import ElementTree as ET

from reachmap.base import qml

PAGE, MAP, LABEL, SCALE = "65638", "65639", "65641", "65646"
"""Types of layout items, as numbered by QGIS."""

WIDTH, HEIGHT = 210.0, 148.0
"""Page size [mm]: A5 landscape, which also fits on half letter (our choice)."""

MARGIN = 8.0
HOME = uuid.UUID("6f3f6e0e-8f0e-5a53-9a5d-0c6d6a1f2b10")
"""Namespace of the items' identifiers, so that the same reach gives the same bytes."""


def add_layouts(
    root: ET.Element, runs: str, themes: Mapping[str, str], caution: str, credit: str
) -> None:
    """Add one layout for each flow, whose pages are the runs in order.

    Parameters
    ----------
    root
        The project.
    runs
        Identifier of the layer of runs.
    themes
        Name of each layout, and the theme that its map shows.
    caution
        Caution below the map.
    credit
        Credit line next to it.
    """
    layouts = ET.SubElement(root, "Layouts")
    for name, theme in themes.items():
        layout = ET.SubElement(layouts, "Layout", name=name, units="mm", printResolution="200")
        pages = ET.SubElement(layout, "PageCollection")
        paper = qml.symbol(pages, "", "fill")
        qml.symbol_layer(paper, "SimpleFill", {"color": "255,255,255,255", "outline_style": "no"})
        _item(pages, PAGE, name, "page", (0, 0, WIDTH, HEIGHT))
        wide = WIDTH - 2 * MARGIN
        drawn = _map(layout, name, theme, (MARGIN, 17, wide, HEIGHT - 43))
        _scale(layout, name, drawn, (MARGIN + 3, HEIGHT - 39, 70, 10))
        title = f'[% "run" %]: {theme}'
        _label(layout, name, "title", title, (MARGIN, 6, wide, 10), size=14)
        _label(layout, name, "caution", caution, (MARGIN, HEIGHT - 24, wide, 13), size=8)
        _label(layout, name, "credit", credit, (MARGIN, HEIGHT - 10, wide, 6), size=7)
        ET.SubElement(
            layout,
            "Atlas",
            enabled="1",
            coverageLayer=runs,
            pageNameExpression='"run"',
            filenamePattern="'run_'||@atlas_featurenumber",
            hideCoverage="0",
            sortFeatures="1",
            sortKey='"station_m"',
            sortAscending="1",
            filterFeatures="0",
        )


def _item(
    parent: ET.Element, kind: str, layout: str, name: str, box: tuple[float, float, float, float]
) -> ET.Element:
    """Return a new item; `box` is left, top, width and height [mm]."""
    left, top, width, height = box
    mine = "{" + str(uuid.uuid5(HOME, f"{layout}/{name}")) + "}"
    place = f"{left:g},{top:g},mm"
    return ET.SubElement(
        parent,
        "LayoutItem",
        type=kind,
        id=name,
        uuid=mine,
        templateUuid=mine,
        position=place,
        positionOnPage=place,
        size=f"{width:g},{height:g},mm",
        visibility="1",
        referencePoint="0",
        opacity="1",
    )


def _map(layout: ET.Element, name: str, theme: str, box: tuple[float, float, float, float]) -> str:
    """Add the map of the page's run; return its identifier."""
    item = _item(layout, MAP, name, "map", box)
    for key, value in {"followPreset": "true", "followPresetName": theme, "frame": "true"}.items():
        item.set(key, value)
    item.set("background", "true")
    ET.SubElement(item, "FrameColor", red="28", green="42", blue="43", alpha="255")
    ET.SubElement(item, "BackgroundColor", red="245", green="240", blue="229", alpha="255")
    ET.SubElement(item, "Extent", xmin="0", ymin="0", xmax=f"{box[2]:g}", ymax=f"{box[3]:g}")
    ET.SubElement(item, "LayerSet")
    ET.SubElement(item, "AtlasMap", atlasDriven="1", scalingMode="2", margin="0.15")
    return str(item.get("uuid"))


def _scale(
    layout: ET.Element, name: str, drawn: str, box: tuple[float, float, float, float]
) -> None:
    """Add a scale bar to the map."""
    item = _item(layout, SCALE, name, "scale", box)
    values = {
        **{"style": "Single Box", "mapUuid": drawn, "unitType": "meters", "unitLabel": "m"},
        **{"numMapUnitsPerScaleBarUnit": "1", "numSegments": "2", "numSegmentsLeft": "0"},
        **{"segmentSizeMode": "1", "minBarWidth": "30", "maxBarWidth": "60", "height": "2"},
        **{"labelBarSpace": "1", "boxContentSpace": "1", "background": "true"},
    }
    for key, value in values.items():
        item.set(key, value)
    ET.SubElement(item, "BackgroundColor", red="255", green="253", blue="246", alpha="200")
    ET.SubElement(
        item,
        "text-style",
        fontSize="8",
        fontSizeUnit="Point",
        textColor="28,42,43,255",
    )
    for tag, colour in (("fillSymbol1", "#1c2a2b"), ("fillSymbol2", "#fffdf6")):
        part = qml.symbol(ET.SubElement(item, tag), "", "fill")
        qml.symbol_layer(part, "SimpleFill", {"color": qml.rgba(colour), "outline_style": "no"})
    line = qml.symbol(ET.SubElement(item, "lineSymbol"), "", "line")
    qml.symbol_layer(line, "SimpleLine", qml.line_values(qml.rgba("#1c2a2b"), 1.0))


def _label(
    layout: ET.Element,
    name: str,
    part: str,
    text: str,
    box: tuple[float, float, float, float],
    *,
    size: int,
) -> None:
    """Add a line of text."""
    item = _item(layout, LABEL, name, part, box)
    item.set("labelText", text)
    item.set("valign", "32")
    item.set("halign", "1")
    ET.SubElement(item, "LabelFont", description=f"Sans Serif,{size},-1,5,50,0,0,0,0,0", style="")
    ET.SubElement(item, "FontColor", red="28", green="42", blue="43", alpha="255")
