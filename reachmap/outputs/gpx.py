"""GPX 1.1 files for a GPS: waypoints for spots, tracks for lanes and wade lines.

Format: GPX 1.1 schema (TopoGrafix 2004). Short names are at most six signs of A-Z and 0-9, since
small GPS screens cut the rest: a letter for the kind, two digits from the head of the reach down,
T (top) or F (foot) for the ends of a piece of water, and a letter for the flow, lowest flow A.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path

import geopandas as gpd
import gpxpy.gpx
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from reachmap.base.cache import write_aside
from reachmap.base.crs import WGS84
from reachmap.base.units import DISTANCE, LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem, WadeGrade, WaterKind
from reachmap.outputs.places import downstream_order, zone_ends
from reachmap.outputs.product import Product

KIND_LETTERS: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: "B",
    WaterKind.SEAM: "S",
    WaterKind.TAILOUT: "T",
    WaterKind.SOFT_EDGE: "E",
}
"""First letter of a water's short name."""

PLACE_LETTERS: Mapping[str, str] = {"access": "A", "hazards": "X"}
"""First letter of the short name of a place that does not change with flow."""

SYMBOLS: Mapping[str, str] = {
    "top": "start of water",
    "foot": "end of water",
    "access": "way in",
    "hazards": "danger",
}
"""Words for `sym`, which is free text in GPX: plain words of our own, the code carries the kind."""

COMMENT_LENGTH = 30
DESCRIPTION_LENGTH = 1000


def plain_ascii(text: str, length: int) -> str:
    """Return text as at most `length` printable ASCII signs, accents dropped.

    Examples
    --------
    >>> plain_ascii("Über  the <ledge>", 40)
    'Uber the <ledge>'
    """
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return " ".join("".join(c if c.isprintable() else " " for c in folded).split())[:length]


def clean_text(text: str, length: int) -> str:
    """Return text that XML 1.0 can carry: control signs and surrogates dropped, cut to length."""
    kept = "".join(
        c for c in text if c in "\n\t" or unicodedata.category(c) not in {"Cc", "Cs", "Cn"}
    )
    return kept[:length]


def flow_letter(index: int) -> str:
    """Return the letter of a flow by its place in the list, lowest first: A to Z, then 0 to 9."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
    return letters[index] if index < len(letters) else "9"


def write_gpx(product: Product, folder: Path) -> list[Path]:
    """Write one GPX file a flow and one of all; return the paths.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where `<label>.gpx` and `all.gpx` go.
    """
    written = []
    whole = _document(product, "all flows")
    whole.waypoints.extend(_places(product))
    for index, label in enumerate(product.labels):
        document = _document(product, label)
        document.waypoints.extend(_places(product))
        for target in (document, whole):
            target.waypoints.extend(_water_points(product, label, flow_letter(index)))
            target.tracks.extend(_tracks(product, label, flow_letter(index)))
        written.append(_store(document, folder / f"{label}.gpx"))
    written.append(_store(whole, folder / "all.gpx"))
    return written


def _document(product: Product, subject: str) -> gpxpy.gpx.GPX:
    """Return an empty document with its name and cautions."""
    document = gpxpy.gpx.GPX()
    document.creator = "reachmap"
    document.name = clean_text(f"{product.markup.plan.name}: {subject}", 200)
    document.description = (
        "Worked out from a drawing, not seen today. Rivers change. Look before you wade; follow "
        "local rules, gauges and guides. A point says where water may fish, never that one can "
        "stand there."
    )
    if product.preview:
        document.description += " Preview: quick one-dimensional flow, rough speeds."
    return document


def _store(document: gpxpy.gpx.GPX, path: Path) -> Path:
    """Write a document whole or not at all."""
    text = document.to_xml(version="1.1")
    return write_aside(path, lambda aside: aside.write_text(text, encoding="utf-8"))


def _lonlat(shapes: Iterable[BaseGeometry], crs: str) -> list[BaseGeometry]:
    """Return shapes in longitude and latitude."""
    return list(gpd.GeoSeries(list(shapes), crs=crs).to_crs(WGS84))


def _waypoint(
    place: Point, name: str, comment: str, about: str, symbol: str
) -> gpxpy.gpx.GPXWaypoint:
    """Return a waypoint at a place given in longitude and latitude."""
    return gpxpy.gpx.GPXWaypoint(
        latitude=round(place.y, 7),
        longitude=round(place.x, 7),
        name=name,
        comment=plain_ascii(comment, COMMENT_LENGTH),
        description=clean_text(about, DESCRIPTION_LENGTH),
        symbol=symbol,
    )


def _places(product: Product) -> list[gpxpy.gpx.GPXWaypoint]:
    """Return access and hazards: the same at every flow."""
    markup = product.markup
    told = [("access", a.place, str(a.kind), a.note) for a in markup.access]
    told += [
        ("hazards", h.shape.representative_point(), str(h.kind), h.note) for h in markup.hazards
    ]
    points = _lonlat((place for _, place, _, _ in told), markup.crs)
    numbers: dict[str, int] = {}
    result = []
    for (layer, _, kind, note), point in zip(told, points, strict=True):
        numbers[layer] = numbers.get(layer, 0) + 1
        name = f"{PLACE_LETTERS[layer]}{numbers[layer]:02d}"
        about = f"{kind}. {note}" if note else f"{kind}."
        result.append(_waypoint(point, name, kind, about, SYMBOLS[layer]))
    return result


def water_names(water: gpd.GeoDataFrame, product: Product) -> dict[int, str]:
    """Return the short name of each row of a flow's water, numbered by kind from the head down.

    The sheet and the maps number alike, so that a number means one piece of water everywhere.
    """
    order = sorted(water.index, key=lambda i: downstream_order(water.geometry[i], product.ground))
    numbers: dict[str, int] = {}
    names = {}
    for index in order:
        letter = KIND_LETTERS[str(water["kind"][index])]
        numbers[letter] = numbers.get(letter, 0) + 1
        names[index] = f"{letter}{numbers[letter]:02d}"
    return names


def _water_points(product: Product, label: str, letter: str) -> list[gpxpy.gpx.GPXWaypoint]:
    """Return top and foot of each piece of water at a flow."""
    water = product.layers["water"]
    water = water[water["flow_label"] == label]
    units = product.markup.plan.units
    result = []
    for index, name in water_names(water, product).items():
        row = water.loc[index]
        ends = _lonlat(zone_ends(row.geometry, product.ground), product.markup.crs)
        about = (
            f"{str(row['kind']).replace('_', ' ')}, {row['side']}, {label}: "
            f"{_length(row['depth_m'], units)} deep, {_speed(row['speed_m_s'], units)}, "
            f"{_distance(row['length_m'], units)} long, confidence {row['confidence']}. "
            f"{row['run']}"
        )
        for end, point in zip(("top", "foot"), ends, strict=True):
            code = f"{name}{end[0].upper()}{letter}"
            comment = f"{end} {str(row['kind']).replace('_', ' ')} {row['side']}"
            result.append(_waypoint(point, code, comment, f"{end} of {about}", SYMBOLS[end]))
    return result


def _tracks(product: Product, label: str, letter: str) -> list[gpxpy.gpx.GPXTrack]:
    """Return travel lanes and the outer limit of wading at a flow as tracks."""
    lanes = product.layers["lanes"]
    lines = [("L", "travel lane", line) for line in lanes[lanes["flow_label"] == label].geometry]
    wading = product.layers["wading"]
    limits = wading[(wading["flow_label"] == label) & (wading["grade"] == WadeGrade.EASY)]
    lines += [("W", "outer limit of easy wading", shape.boundary) for shape in limits.geometry]
    moved = _lonlat((line for _, _, line in lines), product.markup.crs)
    numbers: dict[str, int] = {}
    tracks = []
    for (kind, words, _), shape in zip(lines, moved, strict=True):
        numbers[kind] = numbers.get(kind, 0) + 1
        track = gpxpy.gpx.GPXTrack(name=f"{kind}{numbers[kind]:02d}{letter}")
        track.comment = plain_ascii(words, COMMENT_LENGTH)
        track.description = f"{words}, {label}"
        parts = shape.geoms if hasattr(shape, "geoms") else [shape]
        track.segments = [_segment(part) for part in parts if isinstance(part, LineString)]
        tracks.append(track)
    return tracks


def _segment(line: LineString) -> gpxpy.gpx.GPXTrackSegment:
    """Return a line in longitude and latitude as a track segment."""
    points = [
        gpxpy.gpx.GPXTrackPoint(latitude=round(y, 7), longitude=round(x, 7))
        for x, y, *_ in line.coords
    ]
    return gpxpy.gpx.GPXTrackSegment(points)


def _length(value: float, units: UnitSystem) -> str:
    return f"{from_si(float(value), LENGTH[units]):.1f} {LENGTH[units]}"


def _speed(value: float, units: UnitSystem) -> str:
    return f"{from_si(float(value), SPEED[units]):.1f} {SPEED[units]}"


def _distance(value: float, units: UnitSystem) -> str:
    return f"{from_si(float(value), DISTANCE[units]):.0f} {DISTANCE[units]}"
