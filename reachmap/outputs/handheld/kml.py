"""KML files for a phone: the places and lines of the GPX files, in folders, in the map's colours.

Format: OGC KML 2.2 (OGC 07-147r2). No icon has a URL, so that the file needs no network.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from pygeoif.geometry import LineString, MultiLineString, Point

from reachmap.base.language import noted, tr
from reachmap.outputs.handheld.content import (
    DESCRIPTION_LENGTH,
    FileContent,
    Route,
    Spot,
    Things,
    Trail,
)
from reachmap.outputs.handheld.files import write_files
from reachmap.outputs.handheld.kml_library import (
    BalloonStyle,
    Data,
    ExtendedData,
    IconStyle,
    LabelStyle,
    LineStyle,
    LookAt,
    Style,
    fastkml,
)
from reachmap.outputs.handheld.symbols import TYPES
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.product import Product
from reachmap.text.angler_text import clean_text, never_markup

FOLDERS: Mapping[str, str] = {
    "day": noted("Today, in walking order"),
    "access": noted("Ways in"),
    "hazards": noted("Hazards"),
    "asks": noted("Worth a note"),
    "runs": noted("Runs in shape"),
    "water": noted("Water"),
    "structure": noted("Where fish lie"),
    "lanes": noted("Travel lanes of fish"),
    "wade": noted("Outer limits of easy wading"),
}
"""Title of each folder, in this order."""

LASTING = frozenset({"access", "hazards", "asks"})
"""Groups common to all flows."""

KINDS: Mapping[str, str] = {
    **{"day": "own_run", "access": "access", "hazards": "hazard", "asks": "ask"},
    **{"runs": "found_run", "water": "inside_bend", "structure": "structure"},
    **{"lanes": "lane", "wade": "easy"},
}
"""Kind of the palette whose colours each group uses."""

LOUD = "hazards"
"""Group whose places are drawn larger than all others."""

LINE_WIDTH = 3.0

SEEN_FROM = 1.6
"""Height of the initial view above the reach, over the reach's length (our choice)."""

LEAST_SEEN_M = 400.0
DEGREE_M = 111_320.0
"""Length of a degree of latitude [m]: accurate enough for a view."""


def write_kml(
    product: Product,
    folder: Path,
    *,
    long_names: bool = True,
    labels: tuple[str, ...] | None = None,
) -> list[Path]:
    """Write one KML file for each flow and one of all, as `write_files`, with long names."""
    return write_files(product, folder, "kml", _text, long_names=long_names, labels=labels)


def _text(content: FileContent) -> str:
    """Return a file's text: folders by group; parts by flow are folders of their own."""
    document = fastkml.Document(
        name=never_markup(content.title),
        description=never_markup(content.about),
        styles=[_style(group) for group in KINDS if any(x.group == group for x in content.all())],
        view=_view(content),
    )
    _fill(document, content.top, content.flow)
    for title, things in content.parts:
        part = fastkml.Folder(name=title)
        _fill(part, things, title)
        document.append(part)
    xml = fastkml.KML(features=[document]).to_string(prettyprint=False)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{xml}'


def _style(group: str) -> Style:
    """Return the style of a group: colour and size of its places, names and lines."""
    colour = _abgr(BY_KIND[KINDS[group]].night.ink)
    size = 1.3 if group == LOUD else 0.9
    return Style(
        id=group,
        styles=[
            IconStyle(color=colour, scale=size),
            LabelStyle(color=colour, scale=size),
            LineStyle(color=colour, width=LINE_WIDTH),
            BalloonStyle(text="$[name]\n\n$[description]"),
        ],
    )


def _view(content: FileContent) -> LookAt | None:
    """Return the initial view: straight down on everything in the file; None for an empty one."""
    xy = [place for thing in content.all() for place in _places(thing)]
    if not xy:
        return None
    (west, east), (south, north) = ((min(axis), max(axis)) for axis in zip(*xy, strict=True))
    middle = (south + north) / 2
    wide = (east - west) * math.cos(math.radians(middle))
    length = DEGREE_M * math.hypot(wide, north - south)
    return LookAt(
        longitude=round((west + east) / 2, 6),
        latitude=round(middle, 6),
        altitude=0.0,
        heading=0.0,
        tilt=0.0,
        range=round(max(LEAST_SEEN_M, SEEN_FROM * length)),
    )


def _places(thing: Spot | Trail | Route) -> list[tuple[float, float]]:
    """Return the longitude and latitude of each point of a thing."""
    if isinstance(thing, Spot):
        return [(thing.lon, thing.lat)]
    if isinstance(thing, Route):
        return [(spot.lon, spot.lat) for spot in thing.spots]
    return [place for part in thing.parts for place in part]


def _abgr(colour: str) -> str:
    """Return #rrggbb in KML's order of colours: opacity, blue, green, red."""
    return f"ff{colour[5:7]}{colour[3:5]}{colour[1:3]}"


def _fill(target: fastkml.Document | fastkml.Folder, things: Things, flow: str) -> None:
    """Put things into folders by group; empty groups get none."""
    for group, title in FOLDERS.items():
        mine = [thing for thing in things if thing.group == group]
        if mine:
            folder = fastkml.Folder(name=tr(title))
            for thing in mine:
                spots = thing.spots if isinstance(thing, Route) else ()
                for spot in spots:
                    folder.append(_placemark(spot, flow))
                folder.append(_placemark(thing, flow))
            target.append(folder)


def _placemark(thing: Spot | Trail | Route, flow: str) -> fastkml.Placemark:
    """Return a place or a line as a placemark; its texts stay text in readers that show HTML."""
    return fastkml.Placemark(
        name=never_markup(thing.name),
        description=never_markup(clean_text(thing.about, DESCRIPTION_LENGTH)),
        style_url=fastkml.StyleUrl(url=f"#{thing.group}"),
        extended_data=_facts(thing, flow),
        geometry=_shape(thing),
    )


def _facts(thing: Spot | Trail | Route, flow: str) -> ExtendedData:
    """Return the extended data of a thing: its group, kind, flow and height."""
    fields = {"group": TYPES[thing.group], "kind": thing.comment}
    if flow and thing.group not in LASTING:
        fields["flow"] = flow
    if isinstance(thing, Spot) and math.isfinite(thing.height_m):
        fields["height_m"] = f"{thing.height_m:.1f}"
    return ExtendedData(
        elements=[
            Data(name=name, value=never_markup(clean_text(value, DESCRIPTION_LENGTH)))
            for name, value in fields.items()
        ]
    )


def _shape(thing: Spot | Trail | Route) -> Point | LineString | MultiLineString:
    """Return the geometry of a thing."""
    if isinstance(thing, Spot):
        return Point(thing.lon, thing.lat)
    if isinstance(thing, Route):
        return LineString(_places(thing))
    lines = [LineString(part) for part in thing.parts if len(part) > 1]
    return lines[0] if len(lines) == 1 else MultiLineString([part.coords for part in lines])
