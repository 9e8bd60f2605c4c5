"""Opening of GPX track files by gpxpy, after unsafe XML has been refused."""

from __future__ import annotations

import gpxpy
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
