"""Pieces of water grouped into runs: by fixed stretch of bank, or by a run that was drawn.

The same rule at every flow and in every build: position alone decides, never the score or what else
was found.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.grouped import rows_of
from reachmap.base.words import Side, WaterKind
from reachmap.water.settings import RunSettings, ScoreSettings

PIECE = ("kind", "side", "stretch", "flow", "score", "station_m", "station_end_m", "geometry")
"""Columns of the layer `water` that say which run a piece belongs to."""

Span = tuple[float, float]


@dataclass(slots=True)
class Run:
    """A run being put together.

    `side` is empty where it lies on both banks; `start` and `end` are its ends along the river [m];
    `stretch` the number of its stretch, 0 for one that was drawn, whose `outline` stays; `members`
    are rows of the water, `spans` their stretches along the river [m] by flow.
    """

    name: str
    named_by: str
    side: str
    start: float
    end: float
    stretch: int = 0
    outline: Polygon | None = None
    members: list[int] = field(default_factory=list)
    spans: dict[float, list[Span]] = field(default_factory=dict)

    def add(self, index: int, piece: np.void) -> None:
        """Take a piece of water in."""
        span = (float(piece["station_m"]), float(piece["station_end_m"]))
        self.members.append(index)
        self.spans.setdefault(float(piece["flow"]), []).append(span)


def gather_runs(
    pieces: gpd.GeoDataFrame, drawn: Sequence[Run], width: float, rules: RunSettings
) -> list[Run]:
    """Return the runs with the pieces of water that are theirs: those drawn, then the stretches.

    Parameters
    ----------
    pieces
        The `water` layers of all flows, stacked, with a plain index.
    drawn
        The angler's own runs, without members; they are filled in place.
    width
        The river's usual width [m].
    rules
        When a piece is of a drawn run.

    Notes
    -----
    A piece is of the drawn run that it shares most of the river with, if that is enough of the
    shorter one's length, it lies on its bank and near its outline; else of its stretch. Runs of
    stretches are without names.
    """
    near = rules.apart_widths * width
    stretches: dict[int, Run] = {}
    for number, piece in enumerate(rows_of(pieces, PIECE)):
        run = _drawn_run(piece, drawn, near, rules.overlap_low)
        if run is None:
            stretch = int(piece["stretch"])
            new = Run("", "reachmap", str(piece["side"]), math.nan, math.nan, stretch)
            run = stretches.setdefault(stretch, new)
        run.add(number, piece)
    for run in stretches.values():
        spans = [span for every in run.spans.values() for span in every]
        run.start, run.end = min(s for s, _ in spans), max(e for _, e in spans)
    return [*drawn, *(stretches[number] for number in sorted(stretches))]


def long_enough(run: Run, settings: ScoreSettings) -> bool:
    """Return whether a run is long enough at some flow to be one."""
    return any(covered_length(s) >= settings.run_length_m for s in run.spans.values())


def side_of_piece(piece: np.void) -> str:
    """Return a piece's bank; empty for a tailout, which lies from bank to bank."""
    return "" if piece["kind"] == WaterKind.TAILOUT else str(piece["side"])


def sides_match(a: str, b: str) -> bool:
    """Return whether two sides may be one: an island's edge is some channel's left or right."""
    return a == b or "" in (a, b) or Side.ISLAND in (a, b)


def overlap(a: Span, b: Span) -> float:
    """Return the common length of two stretches over the shorter one's, 0 to 1."""
    shorter = min(a[1] - a[0], b[1] - b[0])
    return min(max(shared_length(a, b) / shorter, 0.0), 1.0) if shorter > 0 else 0.0


def shared_length(a: Span, b: Span) -> float:
    """Return the length that two stretches have in common [m]; negative: the gap between them."""
    return min(a[1], b[1]) - max(a[0], b[0])


def covered_length(spans: Iterable[Span]) -> float:
    """Return the length that intervals cover, overlaps counted once.

    Examples
    --------
    >>> covered_length([(0, 10), (5, 20), (40, 45)])
    25.0
    """
    total, end = 0.0, -math.inf
    for low, high in sorted((float(a), float(b)) for a, b in spans):
        total += max(high - max(low, end), 0.0)
        end = max(end, high)
    return total


def _drawn_run(piece: np.void, drawn: Sequence[Run], near: float, overlap_low: float) -> Run | None:
    """Return the drawn run that a piece is of; None for none. Of two alike the first drawn."""
    span, side = (float(piece["station_m"]), float(piece["station_end_m"])), side_of_piece(piece)
    shape: BaseGeometry = piece["geometry"]
    fits = [
        run
        for run in drawn
        if run.outline is not None
        and sides_match(run.side, side)
        and overlap(span, (run.start, run.end)) >= overlap_low
        and shape.distance(run.outline) <= near
    ]
    return max(fits, key=lambda run: shared_length(span, (run.start, run.end)), default=None)
