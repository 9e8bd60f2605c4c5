"""GPX 1.1 files for a GPS: waypoints, tracks for lanes and wade lines, a route for the day.

Format: GPX 1.1 schema (TopoGrafix 2004). `sym` is free text in it: plain words of our own.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import gpxpy.gpx

from reachmap.outputs.handheld.content import Route, Spot, Trail
from reachmap.outputs.handheld.files import DESCRIPTION_LENGTH, FileContent, write_files
from reachmap.outputs.product import Product
from reachmap.text.angler_text import clean_text, plain_ascii

SYMBOLS: Mapping[str, str] = {
    "access": "way in",
    "hazards": "danger",
    "asks": "worth a note",
    "runs": "run",
    "water": "water",
    "structure": "lie",
    "day": "today",
}
"""Words for `sym`; the code in the name carries the kind by itself."""

COMMENT_LENGTH = 30


def write_gpx(
    product: Product,
    folder: Path,
    *,
    long_names: bool = False,
    labels: tuple[str, ...] | None = None,
) -> list[Path]:
    """Write one GPX file a flow and one of all, as `write_files`; return the paths."""
    return write_files(product, folder, "gpx", _text, long_names=long_names, labels=labels)


def _text(content: FileContent) -> str:
    """Return a file's text: GPX knows no folders, so the parts follow each other."""
    document = gpxpy.gpx.GPX()
    document.creator = "reachmap"
    document.name, document.description = content.title, content.about
    for thing in content.all():
        if isinstance(thing, Spot):
            document.waypoints.append(_waypoint(thing))
        elif isinstance(thing, Route):
            document.routes.append(_route(thing))
        else:
            document.tracks.append(_track(thing))
    return document.to_xml(version="1.1")


def _waypoint(spot: Spot) -> gpxpy.gpx.GPXWaypoint:
    """Return a place as a waypoint."""
    return gpxpy.gpx.GPXWaypoint(
        latitude=spot.lat,
        longitude=spot.lon,
        name=spot.name,
        comment=plain_ascii(spot.comment, COMMENT_LENGTH),
        description=clean_text(spot.about, DESCRIPTION_LENGTH),
        symbol=SYMBOLS[spot.group],
    )


def _route(route: Route) -> gpxpy.gpx.GPXRoute:
    """Return places in order as a route."""
    made = gpxpy.gpx.GPXRoute(name=route.name)
    made.comment = plain_ascii(route.comment, COMMENT_LENGTH)
    made.description = clean_text(route.about, DESCRIPTION_LENGTH)
    made.points = [
        gpxpy.gpx.GPXRoutePoint(
            latitude=spot.lat,
            longitude=spot.lon,
            name=spot.name,
            comment=plain_ascii(spot.comment, COMMENT_LENGTH),
            description=clean_text(spot.about, DESCRIPTION_LENGTH),
            symbol=SYMBOLS[spot.group],
        )
        for spot in route.spots
    ]
    return made


def _track(trail: Trail) -> gpxpy.gpx.GPXTrack:
    """Return a line as a track."""
    track = gpxpy.gpx.GPXTrack(name=trail.name)
    track.comment = plain_ascii(trail.comment, COMMENT_LENGTH)
    track.description = clean_text(trail.about, DESCRIPTION_LENGTH)
    track.segments = [
        gpxpy.gpx.GPXTrackSegment(
            [gpxpy.gpx.GPXTrackPoint(latitude=lat, longitude=lon) for lon, lat in part]
        )
        for part in trail.parts
    ]
    return track
