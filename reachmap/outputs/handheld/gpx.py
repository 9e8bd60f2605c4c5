"""GPX 1.1 files for a GPS: waypoints for places, tracks for lanes and wade lines.

Format: GPX 1.1 schema (TopoGrafix 2004). `sym` is free text in it: plain words of our own.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import gpxpy.gpx

from reachmap.base.cache import write_aside
from reachmap.outputs.handheld.content import (
    Spot,
    Trail,
    flow_spots,
    flow_title,
    flow_trails,
    lasting_spots,
)
from reachmap.outputs.product import Product
from reachmap.text import cautions
from reachmap.text.angler_text import clean_text, plain_ascii
from reachmap.text.wading_terms import terms_of

SYMBOLS: Mapping[str, str] = {
    "access": "way in",
    "hazards": "danger",
    "asks": "worth a note",
    "runs": "run",
    "water": "water",
}
"""Words for `sym`; the code in the name carries the kind by itself."""

COMMENT_LENGTH = 30
DESCRIPTION_LENGTH = 1000


def write_gpx(
    product: Product,
    folder: Path,
    *,
    long_names: bool = False,
    labels: tuple[str, ...] | None = None,
) -> list[Path]:
    """Write one GPX file a flow and one of all; return the paths.

    Parameters
    ----------
    product
        The built reach.
    folder
        Where `<label>.gpx` and `all.gpx` go.
    long_names
        Whether names are in words instead of at most six signs.
    labels
        Flows to write; all, and `all.gpx`, if not given.
    """
    written = []
    lasting = lasting_spots(product, long_names=long_names)
    whole = _document(product, "all flows", lasting)
    for label in labels or product.labels:
        document = _document(product, flow_title(product, label), lasting)
        spots = [_waypoint(s) for s in flow_spots(product, label, long_names=long_names)]
        tracks = [_track(t) for t in flow_trails(product, label, long_names=long_names)]
        for target in (document, whole):
            target.waypoints.extend(spots)
            target.tracks.extend(tracks)
        written.append(_store(document, folder / f"{label}.gpx"))
    if labels is None:
        written.append(_store(whole, folder / "all.gpx"))
    return written


def about_file(product: Product, subject: str) -> tuple[str, str]:
    """Return title and description of a file: how it was graded, then the cautions."""
    title = clean_text(f"{product.markup.plan.name}: {subject}", 200)
    terms = terms_of(product.report, product.markup.plan.units)
    caution = cautions.IN_FILES + (cautions.PREVIEW_IN_FILES if product.preview else "")
    return title, clean_text(" ".join((*terms.first, caution, *terms.more)), DESCRIPTION_LENGTH)


def _document(product: Product, subject: str, lasting: list[Spot]) -> gpxpy.gpx.GPX:
    """Return a document with its name, its cautions and what is there at every flow."""
    document = gpxpy.gpx.GPX()
    document.creator = "reachmap"
    document.name, document.description = about_file(product, subject)
    document.waypoints.extend(_waypoint(spot) for spot in lasting)
    return document


def _store(document: gpxpy.gpx.GPX, path: Path) -> Path:
    """Write a document whole or not at all."""
    text = document.to_xml(version="1.1")
    return write_aside(path, lambda aside: aside.write_text(text, encoding="utf-8"))


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
