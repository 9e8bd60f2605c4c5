"""Opening of GPX track files by gpxpy, after unsafe XML has been refused."""

from __future__ import annotations

import math
from datetime import datetime

import gpxpy
import numpy as np
from gpxpy.gpx import GPX

from reachmap.base.plain_xml import plain_xml
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import RefusedError


def open_gpx(body: bytes) -> GPX:
    """Return the document of a GPX file.

    Raises
    ------
    RefusedError
        If it is no GPX, or incomplete.
    """
    plain_xml(body, "gpx")  # refuses entities, deep nesting and files that are no GPX
    try:
        return gpxpy.parse(body.decode("utf-8-sig", errors="replace"))
    except (gpxpy.gpx.GPXException, ValueError, RecursionError) as error:
        msg = f"it is not whole GPX ({quoted(str(error), 100)})"
        raise RefusedError(msg, "Export it again, or take it out") from None


def gpx_seconds(when: datetime | None) -> float:
    """Return a time of a GPX file [s since 1970, UTC]; NaN for none.

    A time that names no offset is UTC, by the standard (GPX 1.1, `time` of a waypoint).
    """
    if when is None:
        return math.nan
    stamp = np.datetime64(when.replace(tzinfo=None), "s")
    offset = when.utcoffset()
    return float(stamp.astype(np.int64)) - (offset.total_seconds() if offset else 0.0)
