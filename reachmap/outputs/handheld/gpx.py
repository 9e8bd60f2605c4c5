"""GPX 1.1 files for a GPS: waypoints, tracks for lanes and wade lines, a route for the day.

Format: GPX 1.1 schema (TopoGrafix 2004). `sym` is free text in it (see `symbols`).
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TypeVar

import gpxpy.gpx

from reachmap.base.version import VERSION
from reachmap.markup.plan_parts import Gps
from reachmap.outputs.handheld.content import FileContent, Route, Spot, Trail
from reachmap.outputs.handheld.files import write_files
from reachmap.outputs.handheld.limits import within_limits
from reachmap.outputs.handheld.symbols import TYPES, symbols_of
from reachmap.outputs.product import Product
from reachmap.text.angler_text import clean_text, plain_ascii

COMMENT_LENGTH = 30

Place = TypeVar("Place", gpxpy.gpx.GPXWaypoint, gpxpy.gpx.GPXRoutePoint)


def write_gpx(
    product: Product,
    folder: Path,
    *,
    long_names: bool = False,
    labels: tuple[str, ...] | None = None,
) -> list[Path]:
    """Write one GPX file for each flow and one of all, as `write_files`; return the paths."""
    text = partial(_text, gps=product.markup.plan.gps)
    return write_files(product, folder, "gpx", text, long_names=long_names, labels=labels)


def _text(content: FileContent, gps: Gps) -> str:
    """Return a file's text: GPX has no folders, so the parts follow each other.

    Only the file has a time, not its places: a device would show that as the time of a visit.
    """
    content = within_limits(content, gps)
    document = gpxpy.gpx.GPX()
    document.creator = f"reachmap {VERSION}"
    document.name, document.description = content.title, content.about
    document.time = datetime.now(UTC).replace(microsecond=0)
    for thing in content.all():
        if isinstance(thing, Spot):
            document.waypoints.append(_place(gpxpy.gpx.GPXWaypoint, thing, gps))
        elif isinstance(thing, Route):
            document.routes.append(_route(thing, gps))
        else:
            document.tracks.append(_track(thing, gps))
    return document.to_xml(version="1.1")


def _place(kind: type[Place], spot: Spot, gps: Gps) -> Place:
    """Return a place as a waypoint or as a point of a route."""
    made = kind(
        latitude=spot.lat,
        longitude=spot.lon,
        name=spot.name,
        comment=plain_ascii(spot.comment, COMMENT_LENGTH),
        description=clean_text(spot.about, gps.longest_text),
        symbol=symbols_of(gps).get(spot.group),
        type=TYPES[spot.group],
    )
    if math.isfinite(spot.height_m):
        made.elevation = round(spot.height_m, 1)
    return made


def _route(route: Route, gps: Gps) -> gpxpy.gpx.GPXRoute:
    """Return a route of places in order."""
    made = gpxpy.gpx.GPXRoute(name=route.name)
    made.comment = plain_ascii(route.comment, COMMENT_LENGTH)
    made.description = clean_text(route.about, gps.longest_text)
    made.type = TYPES[route.group]
    made.points = [_place(gpxpy.gpx.GPXRoutePoint, spot, gps) for spot in route.spots]
    return made


def _track(trail: Trail, gps: Gps) -> gpxpy.gpx.GPXTrack:
    """Return a line as a track."""
    track = gpxpy.gpx.GPXTrack(name=trail.name)
    track.comment = plain_ascii(trail.comment, COMMENT_LENGTH)
    track.description = clean_text(trail.about, gps.longest_text)
    track.type = TYPES[trail.group]  # type: ignore[assignment]
    track.segments = [
        gpxpy.gpx.GPXTrackSegment(
            [gpxpy.gpx.GPXTrackPoint(latitude=lat, longitude=lon) for lon, lat in part]
        )
        for part in trail.parts
    ]
    return track
