"""Reader of depths in the extensions of a GPX track, as chart plotters save them; by gpxpy."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from reachmap.markup.gpx_tracks import gpx_seconds, open_gpx
from reachmap.markup.sounder_rows import Rows

DEEPEST = 20
"""Deepest nesting of extensions that is searched (our choice: two are usual)."""


def read_gpx_depths(body: bytes) -> Rows | None:
    """Return the depths of a GPX file's points [m]; None where none has one.

    A depth is an element of that name in a point's extensions, in any namespace, in metres (true of
    every such extension we know of). Each track is a set; points without a track form one.

    Parameters
    ----------
    body
        The file's bytes.

    Raises
    ------
    RefusedError
        If it is no GPX, or incomplete.
    """
    if b"epth" not in body:
        return None
    document = open_gpx(body)
    rows = [(_depth(point.extensions), point, name) for name, point in _points(document)]
    if not any(math.isfinite(depth) for depth, _, _ in rows):
        return None
    rows = [one for one in rows if not math.isnan(one[0])]
    seconds = np.array([gpx_seconds(point.time) for _, point, _ in rows])
    known = np.isfinite(seconds)
    times = np.full(len(rows), "NaT", dtype="datetime64[s]")
    times[known] = seconds[known].astype(np.int64).astype("datetime64[s]")
    return Rows(
        np.array([point.longitude for _, point, _ in rows], dtype=np.float64),
        np.array([point.latitude for _, point, _ in rows], dtype=np.float64),
        True,
        np.array([depth for depth, _, _ in rows], dtype=np.float64),
        np.full(len(rows), np.nan),
        times,
        np.array([name for _, _, name in rows], dtype=object),
        np.full(len(rows), "", dtype=object),
        np.zeros(len(rows), dtype=bool),
    )


def _points(document: Any) -> Iterator[tuple[str, Any]]:
    """Yield every point with its set."""
    many = len(document.tracks) > 1
    for number, track in enumerate(document.tracks, start=1):
        name = (track.name or str(number)) if many else ""
        for segment in track.segments:
            for point in segment.points:
                yield name, point
    for point in document.waypoints:
        yield "", point


def _depth(extensions: list[Any], deep: int = 0) -> float:
    """Return the depth in a point's extensions [m], NaN for none."""
    for element in extensions:
        tag = element.tag if isinstance(element.tag, str) else ""
        if tag.rpartition("}")[2].lower() == "depth":
            try:
                return float((element.text or "").strip())
            except ValueError:
                return math.nan
        inner = _depth(list(element), deep + 1) if deep < DEEPEST else math.nan
        if not math.isnan(inner):
            return inner
    return math.nan
