"""Checks of the bank polygons: side, overlap with the river line and with each other, width."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import compress, islice

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.errors import Fault
from reachmap.base.words import Side
from reachmap.markup.check_river import drawn_upstream
from reachmap.markup.drawing import Drawing
from reachmap.markup.features import Feature
from reachmap.markup.places import along_words, length_words, place_words

OUTLINE_POINTS = 96
"""Points along a bank's outline by which its side is judged (our choice)."""

ON_LINE = 2.0
"""Greatest length of the river line that a bank may cover [m] (our choice, 1-5)."""

THIN = 1.5
"""Overlaps that vanish when shrunk by this are drawing errors, not faults [m] (our choice, 1-3)."""

WIDTH_LIMITS = (3.0, 500.0)
"""Limits of the median distance between left and right banks [m] (our choice)."""

WIDTH_SAMPLES = 80
"""Number of places along the line at which the width is measured (our choice)."""

LINE_STEP_M = 2.0
"""Spacing of the vertices of the drawn line [m] (our choice, 1-5)."""

BARE = 3.0
"""A stretch counts as without a bank where the nearest is more than this many half-widths away."""


def both_sides(drawing: Drawing) -> list[Fault]:
    """Return a fault for each side of the river without a bank."""
    banks = drawing.features["banks"]
    unknown = any(one.values["side"] is None for one in banks)
    if not banks or unknown:
        return []
    faults = []
    for side in (Side.LEFT, Side.RIGHT):
        if not any(one.values["side"] is side for one in banks):
            fix = f"Draw the {side} bank, looking downstream, from the water's edge outwards"
            faults.append(Fault("banks", f"no bank on river {side} is drawn", fix))
    return faults


def on_their_side(drawing: Drawing) -> list[Fault]:
    """Return a fault for each bank drawn on the wrong side; a single fault where most are."""
    main = drawing.main
    if main is None:
        return []
    sided = [
        one
        for one in drawing.features["banks"]
        if one.shape is not None and one.values["side"] in (Side.LEFT, Side.RIGHT)
    ]
    shares = left_shares([one.shape for one in sided], main)
    judged = [(one, share) for one, share in zip(sided, shares, strict=True) if np.isfinite(share)]
    wrong = [one for one, share in judged if (share > 0.5) != (one.values["side"] is Side.LEFT)]
    if len(wrong) * 2 > len(judged) and len(wrong) > 1:
        upstream = " (so do the heights: see there)" if drawn_upstream(drawing) else ""
        found = f"{len(wrong)} of {len(judged)} banks lie on the other side than they say"
        fix = (
            f"Either the river line is drawn upstream: reverse it{upstream}; or left and right are "
            "swapped: name the sides as you look downstream"
        )
        return [Fault("banks", found, fix)]
    return [
        Fault(
            one.where,
            f"it says {one.values['side']} but lies on river {_other(one.values['side'])}",
            "Correct its side, named as you look downstream, or its outline",
        )
        for one in wrong
    ]


def over_the_line(drawing: Drawing) -> list[Fault]:
    """Return a fault for each bank that covers part of the main line."""
    main = drawing.main
    faults: list[Fault] = []
    if main is None:
        return faults
    banks = [(one, one.shape) for one in drawing.features["banks"] if one.shape is not None]
    shapely.prepare(main)
    met = shapely.intersects(main, [shape for _, shape in banks])
    for one, shape in compress(banks, met):
        covered = shape.intersection(main)
        if covered.length <= ON_LINE:
            continue
        place = covered.representative_point()
        found = (
            f"it covers {length_words(covered.length, drawing.units)} of the river line, "
            f"{along_words(main, place, drawing.units)} "
            f"({place_words(place.x, place.y, drawing.crs)})"
        )
        fix = "Draw the bank from the water's edge outwards, or move the line into the water"
        faults.append(Fault(one.where, found, fix))
    return faults


MOST_PAIRS = 2_000
"""Most overlapping pairs of banks examined (our choice, far more than any drawing has)."""


def drawn_twice(drawing: Drawing) -> list[Fault]:
    """Return a fault for each bank that is drawn more than once in the same place."""
    faults = []
    for copies in _copies(drawing):
        if len(copies) > 1:
            others = ", ".join(one.where for one in copies[1:4])
            more = f" and {len(copies) - 4} more" if len(copies) > 4 else ""
            found = f"it is drawn {len(copies)} times in the same place (also {others}{more})"
            faults.append(Fault(copies[0].where, found, "Keep one of them and delete the others"))
    return faults


def over_each_other(drawing: Drawing) -> list[Fault]:
    """Return a fault for each pair of banks that overlap by more than a drawing error (`THIN`)."""
    faults = []
    for number, (one, other, overlap) in enumerate(_overlaps(drawing)):
        if number == MOST_PAIRS:
            fix = "Draw banks side by side: each place has one kind of cover"
            faults.append(Fault("banks", f"more than {MOST_PAIRS:,} pairs overlap", fix))
            break
        if overlap.buffer(-THIN).is_empty:
            continue
        place = overlap.representative_point()
        found = (
            f"it overlaps {other.where} by {overlap.area:,.0f} m2 at "
            f"{place_words(place.x, place.y, drawing.crs)}"
        )
        fix = "Cut one out of the other: each place has one kind of cover"
        faults.append(Fault(one.where, found, fix))
    return faults


def width(drawing: Drawing) -> list[Fault]:
    """Return a fault where the banks stand implausibly close or far apart."""
    found = median_width(drawing)
    if np.isnan(found) or WIDTH_LIMITS[0] <= found <= WIDTH_LIMITS[1]:
        return []
    low, high = (length_words(limit, drawing.units) for limit in WIDTH_LIMITS)
    words = f"the river would be {length_words(found, drawing.units)} wide between left and right"
    fix = (
        f"Wants {low} to {high}: draw the banks from the water's edge at the traced flow; if they "
        "are, check that the CRS of the file is the true one (feet taken for metres?)"
    )
    return [Fault("banks", words, fix)]


def thin_overlaps(drawing: Drawing) -> list[str]:
    """Return a note where banks overlap by a drawing error (`THIN`)."""
    pairs = islice(_overlaps(drawing), MOST_PAIRS)
    count = sum(1 for *_, overlap in pairs if overlap.buffer(-THIN).is_empty)
    if not count:
        return []
    return [f"{count} pairs of banks overlap by a thin sliver: one of the two covers counts there."]


def bare_stretches(drawing: Drawing) -> list[str]:
    """Return a note for each side with stretches where no bank is drawn."""
    main = drawing.main
    usual = median_width(drawing)
    if main is None or np.isnan(usual):
        return []
    notes = []
    for side in (Side.LEFT, Side.RIGHT):
        away = _distances(drawing, main, side)
        share = float(np.mean(away > BARE * usual / 2))
        if share > 0.05:
            length = length_words(share * main.length, drawing.units)
            notes.append(
                f"River {side} has no bank drawn along about {length}: what is there is unknown."
            )
    return notes


def median_width(drawing: Drawing) -> float:
    """Return the median distance between left and right banks [m]; NaN where it is unknown."""
    main = drawing.main
    if main is None:
        return float("nan")
    both = _distances(drawing, main, Side.LEFT) + _distances(drawing, main, Side.RIGHT)
    good = both[np.isfinite(both)]
    return float(np.median(good)) if good.size else float("nan")


def left_shares(outlines: Sequence[Polygon], main: LineString) -> FloatArray:
    """Return the share of each bank's near outline that lies on river left, shape (n,).

    NaN where no part lies abreast of the line. Only the nearer half of an outline is used, and only
    points abreast of the line, so that wide banks in tight bends and banks beyond the line's ends
    do not bias the result.
    """
    line = Centreline.along(main, LINE_STEP_M)
    steps = np.linspace(0, 1, OUTLINE_POINTS, endpoint=False)
    rings = np.array([outline.exterior for outline in outlines], dtype=object)
    points = shapely.line_interpolate_point(rings[:, None], steps, normalized=True)
    places = line.to_station_offset(*shapely.get_coordinates(points).T)
    station, offset = (one.reshape(-1, OUTLINE_POINTS) for one in places)
    abreast = (station > 0) & (station < line.length)
    shares = [_left_share(one[kept]) for one, kept in zip(offset, abreast, strict=True)]
    return np.array(shares, dtype=np.float64)


def _left_share(offset: FloatArray) -> float:
    """Return the share of the nearer half of offsets [m] that lies on river left; NaN for none."""
    if not offset.size:
        return float("nan")
    away = np.abs(offset)
    return float(np.mean(offset[away <= np.median(away)] > 0))


def _distances(drawing: Drawing, main: LineString, side: Side) -> FloatArray:
    """Return the distance to the nearest bank of a side at places along the line [m]."""
    shapes = [
        one.shape
        for one in drawing.features["banks"]
        if one.shape is not None and one.values["side"] is side
    ]
    if not shapes:
        return np.full(WIDTH_SAMPLES, np.nan)
    points = main.interpolate(np.linspace(0, main.length, WIDTH_SAMPLES))
    tree = shapely.STRtree(shapes)
    _, away = tree.query_nearest(points, return_distance=True, all_matches=False)
    return np.asarray(away, dtype=np.float64)


def _copies(drawing: Drawing) -> list[list[Feature]]:
    """Return the banks grouped by identical outline, in their order."""
    groups: dict[bytes, list[Feature]] = {}
    for one in drawing.features["banks"]:
        if one.shape is not None:
            groups.setdefault(one.shape.normalize().wkb, []).append(one)
    return list(groups.values())


def _overlaps(drawing: Drawing) -> Iterator[tuple[Feature, Feature, BaseGeometry]]:
    """Yield pairs of banks whose areas overlap; of copies of one bank only the first is used."""
    banks = [copies[0] for copies in _copies(drawing)]
    shapes = np.array([one.shape for one in banks], dtype=object)
    tree = shapely.STRtree(shapes)
    pairs = tree.query(shapes, predicate="intersects").T
    pairs = pairs[pairs[:, 0] < pairs[:, 1]]
    for first, second in sorted(map(tuple, pairs)):
        overlap = shapely.intersection(shapes[first], shapes[second])
        if overlap.area > 0:
            yield banks[first], banks[second], overlap


def _other(side: Side) -> Side:
    """Return the other side."""
    return Side.RIGHT if side is Side.LEFT else Side.LEFT
