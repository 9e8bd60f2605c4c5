"""GPX and KML as a phone or a person would write them: fields as text."""

from __future__ import annotations

from xml.sax.saxutils import escape

import geopandas as gpd
import gpxpy.gpx


def gpx_of(name: str, frame: gpd.GeoDataFrame, gpx: gpxpy.gpx.GPX, *, typed: bool) -> None:
    """Add a layer as a person would: points as waypoints, the rest as tracks, fields as text."""
    for row in frame.to_crs("EPSG:4326").to_dict("records"):
        place = row.pop("geometry")
        label = row.pop("name", "") or None
        note = row.pop("note", "")
        pairs = [
            f"{key} = {value}"
            for key, value in row.items()
            if value not in ("", None) and value == value
        ]
        text = "; ".join([*pairs, *([note] if note else [])])
        kind = name if typed else None
        if place.geom_type == "Point":
            gpx.waypoints.append(
                gpxpy.gpx.GPXWaypoint(
                    place.y, place.x, 12.0, name=label, description=text, type=kind
                )
            )
            continue
        ring = place.exterior if place.geom_type == "Polygon" else place
        corners = list(ring.coords)[: -1 if place.geom_type == "Polygon" else None]
        track = gpxpy.gpx.GPXTrack(name=label, description=text)
        track.type = kind
        points = [gpxpy.gpx.GPXTrackPoint(y, x) for x, y in corners]
        track.segments.append(gpxpy.gpx.GPXTrackSegment(points))
        gpx.tracks.append(track)


def kml_folder(name: str, frame: gpd.GeoDataFrame, *, extended: bool) -> str:
    """Return a layer as a KML folder: fields as ExtendedData, or as pairs in the description."""
    marks = []
    for row in frame.to_crs("EPSG:4326").to_dict("records"):
        place = row.pop("geometry")
        label = escape(row.pop("name", "") or "")
        told = {
            key: value for key, value in row.items() if value not in ("", None) and value == value
        }
        if extended:
            data = "".join(
                f'<Data name="{key}"><value>{escape(str(value))}</value></Data>'
                for key, value in told.items()
            )
            text = f"<ExtendedData>{data}</ExtendedData>"
        else:
            lines = "<br>".join(f"{key}: {value}" for key, value in told.items())
            text = f"<description><![CDATA[{lines}]]></description>"
        marks.append(f"<Placemark><name>{label}</name>{text}{kml_shape(place)}</Placemark>")
    return f"<Folder><name>{name}</name>{''.join(marks)}</Folder>"


def kml_shape(place) -> str:
    def coordinates(ring) -> str:
        points = " ".join(f"{x:.9f},{y:.9f},3" for x, y in ring.coords)
        return f"<coordinates>{points}</coordinates>"

    if place.geom_type == "Point":
        return f"<Point>{coordinates(place)}</Point>"
    if place.geom_type == "LineString":
        return f"<LineString>{coordinates(place)}</LineString>"
    ring = f"<LinearRing>{coordinates(place.exterior)}</LinearRing>"
    return f"<Polygon><outerBoundaryIs>{ring}</outerBoundaryIs></Polygon>"


def kml(folders: str) -> str:
    head = '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2">'
    return f"{head}<Document>{folders}</Document></kml>"
