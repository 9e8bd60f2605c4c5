"""The river line through the middle of the box, by `dataretrieval`'s network index (US).

The service knows its river by the place: the stretch that the middle of the box drains to, then
its main stem up and down. The lines are the national hydrography's at medium resolution, drawn
downstream.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import shapely
from shapely import LineString

from reachmap.base.cache import write_aside
from reachmap.online.box import Box
from reachmap.online.free_names import free_name
from reachmap.online.libraries import failures, library
from reachmap.online.model import (
    AskError,
    Fetching,
    Got,
    Kind,
    Offer,
    Service,
    Why,
    first_line,
)

HOST = "api.water.usgs.gov"

LICENCE = "public domain (US federal work)"

ERRORS = ("dataretrieval.exceptions.DataRetrievalError",)

TITLE = "National Hydrography Dataset Plus, main stem, medium resolution"

SCALE_M = 25.0
"""What a line at 1:100,000 is good for [m]: a quarter of a millimetre on paper; our choice."""


def offers(box: Box) -> list[Offer]:
    """Return the main stem through the middle of the box, cut to the box.

    Raises
    ------
    AskError
        If the library is missing, the service does not answer, or no river is there.
    """
    client = library("dataretrieval.nldi")
    longitude, latitude = box.middle
    try:
        at = client.get_features(lat=latitude, long=longitude, as_json=True)
        comid = _comid(at)
        if comid is None:
            raise AskError(Why.NOTHING_HERE)
        far = math.ceil(sum(box.sides_km))
        up, down = (
            client.get_flowlines(mode, distance=far, comid=comid, as_json=True)
            for mode in ("UM", "DM")
        )
    except failures(*ERRORS) as error:
        raise AskError(Why.NO_ANSWER, first_line(error)) from None
    line = main_stem([up, at, down], box)
    if line is None:
        raise AskError(Why.NOTHING_HERE)
    text = _geojson(line)
    return [
        Offer(
            "river", Kind.RIVER, Service.RIVER, TITLE, HOST, size_bytes=float(len(text)),
            resolution_m=SCALE_M, licence=LICENCE, ask={"geojson": text, "comid": comid},
        )
    ]  # fmt: skip


def fetch(offer: Offer, how: Fetching) -> Got:
    """Write the line: as the river where none is drawn, else beside the drawing to be looked at."""
    name = "found-river.geojson" if how.river_drawn else "river.geojson"
    target = free_name(how.folder, name)
    write_aside(target, lambda aside: aside.write_text(offer.ask["geojson"], encoding="utf-8"))
    how.hear(1, 1)
    address = f"https://{HOST}/nldi/linked-data/comid/{offer.ask['comid']}"
    return Got(offer, (target,), address)


def main_stem(answers: list[Mapping[str, Any]], box: Box) -> LineString | None:
    """Return the pieces of some answers as one line downstream, cut to the box; None for none.

    Parameters
    ----------
    answers
        GeoJSON of flowlines, each drawn downstream; those that come twice count once.
    box
        Where it is wanted; of several stretches in it the longest is taken.
    """
    lines: dict[str, LineString] = {}
    for answer in answers:
        for feature in answer.get("features") or []:
            shape = shapely.geometry.shape(feature["geometry"])
            for part in getattr(shape, "geoms", [shape]):
                if isinstance(part, LineString) and len(part.coords) > 1:
                    flat = shapely.force_2d(part)
                    lines[flat.wkb_hex] = flat
    if not lines:
        return None
    merged = shapely.line_merge(shapely.MultiLineString(list(lines.values())), directed=True)
    inside = shapely.intersection(merged, shapely.box(*box.bounds))
    parts = [one for one in shapely.get_parts(inside) if isinstance(one, LineString)]
    if len(parts) > 1:  # cutting may part what it leaves whole
        joined = shapely.line_merge(shapely.MultiLineString(parts), directed=True)
        parts = [one for one in shapely.get_parts(joined) if isinstance(one, LineString)]
    whole = [one for one in parts if one.length > 0]
    return max(whole, key=lambda one: float(one.length), default=None)


def _comid(answer: Mapping[str, Any]) -> int | None:
    """Return the number of the stretch at a place; None where the service knows none."""
    for feature in answer.get("features") or []:
        told = feature.get("properties", {})
        number = told.get("comid") or told.get("identifier") or told.get("nhdplus_comid")
        if number:
            return int(number)
    return None


def _geojson(line: LineString) -> str:
    """Return the river layer of a reach folder with one main line."""
    places = [[round(x, 7), round(y, 7)] for x, y in line.coords]
    feature = {
        "type": "Feature",
        "properties": {"name": "", "part": "main"},
        "geometry": {"type": "LineString", "coordinates": places},
    }
    return json.dumps({"type": "FeatureCollection", "features": [feature]}, indent=1) + "\n"
