"""KML files for a phone: the same places and lines as in GPX, in folders, lines in our colours.

Format: OGC KML 2.2 (OGC 07-147r2). No icon has an address: a file that asks for nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from pygeoif.geometry import LineString, MultiLineString, Point

from reachmap.base.cache import write_aside
from reachmap.outputs.handheld.content import (
    Spot,
    Trail,
    flow_spots,
    flow_title,
    flow_trails,
    lasting_spots,
)
from reachmap.outputs.handheld.gpx import DESCRIPTION_LENGTH, about_file
from reachmap.outputs.handheld.kml_library import LineStyle, Style, fastkml
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.product import Product
from reachmap.text.angler_text import clean_text, never_markup

FOLDERS: Mapping[str, str] = {
    "access": "Ways in",
    "hazards": "Hazards",
    "asks": "Worth a note",
    "runs": "Runs in shape",
    "water": "Water",
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
    """Write one KML file a flow and one of all; return the paths.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where `<label>.kml` and `all.kml` go.
    long_names
        Whether names are in words; a phone has room for them.
    labels
        Flows to write; all, and `all.kml`, if not given.
    """
    lasting = lasting_spots(product, long_names=long_names)
    written: list[Path] = []
    parts: list[tuple[str, list[Spot | Trail]]] = []
    for label in labels or product.labels:
        things: list[Spot | Trail] = [
            *flow_spots(product, label, long_names=long_names),
            *flow_trails(product, label, long_names=long_names),
        ]
        document = _document(product, flow_title(product, label))
        _fill(document, [*lasting, *things])
        written.append(_store(document, folder / f"{label}.kml"))
        parts.append((label, things))
    if labels is None:
        whole = _document(product, "all flows")
        _fill(whole, lasting)
        for label, things in parts:
            part = fastkml.Folder(name=flow_title(product, label))
            _fill(part, things)
            whole.append(part)
        written.append(_store(whole, folder / "all.kml"))
    return written


def _document(product: Product, subject: str) -> fastkml.Document:
    """Return an empty document with its name, its cautions and the styles of its lines."""
    title, caution = about_file(product, subject)
    styles = [
        Style(
            id=group,
            styles=[LineStyle(color=_abgr(BY_KIND[kind].night.ink), width=LINE_WIDTH)],
        )
        for group, kind in LINE_KINDS.items()
    ]
    return fastkml.Document(
        name=never_markup(title), description=never_markup(caution), styles=styles
    )


def _abgr(colour: str) -> str:
    """Return #rrggbb as KML writes colours: opacity, blue, green, red."""
    return f"ff{colour[5:7]}{colour[3:5]}{colour[1:3]}"


def _fill(target: fastkml.Document | fastkml.Folder, things: Iterable[Spot | Trail]) -> None:
    """Put things into folders by group; a group with nothing in it gets none."""
    listed = list(things)
    for group, title in FOLDERS.items():
        mine = [thing for thing in listed if thing.group == group]
        if mine:
            folder = fastkml.Folder(name=title)
            for thing in mine:
                folder.append(_placemark(thing))
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


def _store(document: fastkml.Document, path: Path) -> Path:
    """Write a document whole or not at all."""
    text = '<?xml version="1.0" encoding="UTF-8"?>\n' + fastkml.KML(features=[document]).to_string(
        prettyprint=False
    )
    return write_aside(path, lambda aside: aside.write_text(text, encoding="utf-8"))
