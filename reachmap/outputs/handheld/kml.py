"""KML files for a phone: the same places and lines as in GPX, in folders, lines in our colours.

Format: OGC KML 2.2 (OGC 07-147r2). No icon has an address: a file that asks for nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pygeoif.geometry import LineString, MultiLineString, Point

from reachmap.outputs.handheld.content import Route, Spot, Trail
from reachmap.outputs.handheld.files import DESCRIPTION_LENGTH, FileContent, Things, write_files
from reachmap.outputs.handheld.kml_library import LineStyle, Style, fastkml
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.product import Product
from reachmap.text.angler_text import clean_text, never_markup

FOLDERS: Mapping[str, str] = {
    "day": "Today, in walking order",
    "access": "Ways in",
    "hazards": "Hazards",
    "asks": "Worth a note",
    "runs": "Runs in shape",
    "water": "Water",
    "structure": "Where fish lie",
    "lanes": "Travel lanes of fish",
    "wade": "Outer limits of easy wading",
}
"""Title of each folder, in this order."""

LINE_KINDS: Mapping[str, str] = {"lanes": "lane", "wade": "easy"}
LINE_WIDTH = 3.0


def write_kml(
    product: Product,
    folder: Path,
    *,
    long_names: bool = True,
    labels: tuple[str, ...] | None = None,
) -> list[Path]:
    """Write one KML file a flow and one of all, as `write_files`; a phone has room for words."""
    return write_files(product, folder, "kml", _text, long_names=long_names, labels=labels)


def _text(content: FileContent) -> str:
    """Return a file's text: in folders by group, and where it has parts, those in one a flow."""
    styles = [
        Style(
            id=group,
            styles=[LineStyle(color=_abgr(BY_KIND[kind].night.ink), width=LINE_WIDTH)],
        )
        for group, kind in LINE_KINDS.items()
    ]
    document = fastkml.Document(
        name=never_markup(content.title), description=never_markup(content.about), styles=styles
    )
    _fill(document, content.top)
    for title, things in content.parts:
        part = fastkml.Folder(name=title)
        _fill(part, things)
        document.append(part)
    xml = fastkml.KML(features=[document]).to_string(prettyprint=False)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{xml}'


def _abgr(colour: str) -> str:
    """Return #rrggbb as KML writes colours: opacity, blue, green, red."""
    return f"ff{colour[5:7]}{colour[3:5]}{colour[1:3]}"


def _fill(target: fastkml.Document | fastkml.Folder, things: Things) -> None:
    """Put things into folders by group; a group with nothing in it gets none."""
    for group, title in FOLDERS.items():
        mine = [thing for thing in things if thing.group == group]
        if mine:
            folder = fastkml.Folder(name=title)
            for thing in mine:
                spots = thing.spots if isinstance(thing, Route) else (thing,)
                for one in spots:
                    folder.append(_placemark(one))
            target.append(folder)


def _placemark(thing: Spot | Trail) -> fastkml.Placemark:
    """Return a place or a line as a placemark; its texts stay text in readers that show HTML."""
    name = never_markup(thing.name)
    said = never_markup(clean_text(thing.about, DESCRIPTION_LENGTH))
    if isinstance(thing, Spot):
        shape = Point(thing.lon, thing.lat)
        return fastkml.Placemark(name=name, description=said, geometry=shape)
    lines = [LineString(part) for part in thing.parts if len(part) > 1]
    line = lines[0] if len(lines) == 1 else MultiLineString([part.coords for part in lines])
    address = fastkml.StyleUrl(url=f"#{thing.group}")
    return fastkml.Placemark(name=name, description=said, style_url=address, geometry=line)
