"""Evidence from a folder's tracks and photos: edges, speeds, levels; and the use of each file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from shapely import Point

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.safe_files import RefusedError
from reachmap.markup.config import flow_text
from reachmap.markup.drifted import drifted_speeds
from reachmap.markup.evidence_names import EDGE_NAME, FLOAT_NAME, LEVEL_NAME
from reachmap.markup.features import Feature
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found
from reachmap.markup.layers import HEIGHT_LIMITS, Quantity
from reachmap.markup.model import Edge, Level, Origin, Speed
from reachmap.markup.photos import Shot, read_photo
from reachmap.markup.places import length_words
from reachmap.markup.quantities import number_within
from reachmap.markup.river_position import river_position
from reachmap.markup.tracks import Frame
from reachmap.markup.walked import NEAR_M, walked_edges
from reachmap.markup.ways import day_of, flow_of, read_ways

WORST_PHOTO_M = 15.0
"""Largest position error of a photo used as an edge [m] (our choice, 10-20)."""


@dataclass(slots=True)
class Recorded:
    """Evidence from tracks and photos, notes for the angler, and the use made of each file."""

    edges: list[Edge] = field(default_factory=list)
    speeds: list[Speed] = field(default_factory=list)
    levels: list[Level] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    facts: list[FileFact] = field(default_factory=list)


def read_recorded(
    found: Iterable[Found],
    taken: Iterable[FileFact],
    folder: Path,
    features: Mapping[str, tuple[Feature, ...]],
    frame: Frame,
) -> Recorded:
    """Return the evidence of a folder's tracks without depths, and of its photos.

    Parameters
    ----------
    found
        The folder's files.
    taken
        Use made of files by other readers: a file that one of them used or refused is skipped.
    folder
        Reach folder that the files must lie in.
    features
        Features of the drawing.
    frame
        Common properties of the folder.
    """
    got = Recorded()
    used = {one.name for one in taken if _is_settled(one)}
    for one in found:
        name = one.fact.name
        if not frame.crs or one.named or name in used:
            continue
        track = one.fact.use is Use.FLOATED or one.path.suffix.lower() == ".gpx"
        try:
            if one.fact.use is Use.PHOTO:
                got.facts.append(_photo(one.path, name, folder, features, frame, got))
            elif track and one.fact.use in {Use.FLOATED, Use.DRAWING}:
                got.facts += _track(one.path, name, folder, features, frame, got)
        except RefusedError as error:
            got.facts.append(_unused(name, (error.found, error.fix)))
        except OSError as error:
            got.facts.append(_unused(name, (f"it cannot be read ({error})", "")))
    return got


def _is_settled(fact: FileFact) -> bool:
    """Return whether another reader used a file, or reported a fault of it."""
    if fact.use is Use.DRAWING:
        return bool(fact.detail)
    return fact.use is not Use.NOTHING or fact.why is Unused.REFUSED


def _unused(name: str, wrong: tuple[str, str]) -> FileFact:
    """Return the fact that a file is not used."""
    return FileFact(name, Use.NOTHING, Unused.REFUSED, *wrong)


def _track(
    path: Path,
    name: str,
    folder: Path,
    features: Mapping[str, tuple[Feature, ...]],
    frame: Frame,
    got: Recorded,
) -> list[FileFact]:
    """Add a track's edges or speeds; return the use of its file, [] for a track of neither kind."""
    edge, drift = EDGE_NAME.search(path.stem), FLOAT_NAME.search(path.stem)
    if edge and drift:
        fix = "Leave one of the two words in its name"
        return [_unused(name, ("its name says both an edge and a drift", fix))]
    if not (edge or drift):
        return []
    ways = read_ways(path, folder, frame)
    rivers, banks = features["river"], features["banks"]
    if edge:
        walked = walked_edges(ways, rivers, banks, frame)
        if walked.wrong is not None:
            return [_unused(name, walked.wrong)]
        got.edges += walked.edges
        flow = flow_text(walked.edges[0].flow, frame.units)
        used, whole = (length_words(one, frame.units) for one in (walked.used_m, walked.walked_m))
        if used != whole:
            got.notes.append(
                f"{name}: {used} of {whole} walked are taken as the water's edge at {flow}; the "
                "rest does not run along the river's water."
            )
        return [FileFact(name, Use.WALKED, detail=f"at {flow}", number=len(walked.edges))]
    drifted = drifted_speeds(ways, rivers, banks, frame)
    if drifted.wrong is not None:
        return [_unused(name, drifted.wrong)]
    got.speeds += drifted.speeds
    flow = flow_text(drifted.speeds[0].flow, frame.units)
    if drifted.left_out:
        got.notes.append(
            f"{name}: {drifted.left_out} of {drifted.left_out + len(drifted.speeds)} stretches "
            "were left out: unsteady, or not down the river."
        )
    return [FileFact(name, Use.FLOATED, detail=f"at {flow}", number=len(drifted.speeds))]


def _photo(
    path: Path,
    name: str,
    folder: Path,
    features: Mapping[str, tuple[Feature, ...]],
    frame: Frame,
    got: Recorded,
) -> FileFact:
    """Add the evidence of a photo by its name, and return the use made of it."""
    shot = read_photo(path, folder, frame.zone)
    x, y = transform_points(np.array([shot.longitude]), np.array([shot.latitude]), WGS84, frame.crs)
    position = river_position(features["river"], features["banks"], x, y)
    if position is None or not position.off[0] <= position.half[0] + NEAR_M:
        fix = "It stays a picture of yours; nothing is to be done"
        return _unused(name, ("it was not taken beside the drawn river", fix))
    place = Point(float(x[0]), float(y[0]))
    edge, level = EDGE_NAME.search(path.stem), LEVEL_NAME.search(path.stem)
    flow = flow_of(path.stem, np.array([shot.seconds]), frame)
    if not (edge or level):
        return FileFact(name, Use.PHOTO, detail=_taken(shot, flow, frame))
    if isinstance(flow, tuple):
        return _unused(name, flow)
    if edge and shot.error_m > WORST_PHOTO_M:
        found = f"its place is known to {shot.error_m:.0f} m only"
        return _unused(name, (found, "Draw the edge that it shows: reachmap mark"))
    if level:
        said = f"{level[1].replace(',', '.')} {level[2]}"
        height, wrong = number_within(said, Quantity.HEIGHT, frame.units, HEIGHT_LIMITS)
        if wrong is not None:
            return _unused(name, wrong)
        got.levels.append(Level(place, height, flow))
        return FileFact(name, Use.PHOTO_LEVEL, detail=f"at {flow_text(flow, frame.units)}")
    got.edges.append(Edge(place, flow, day_of(shot.seconds), Origin.PHOTO))
    return FileFact(name, Use.PHOTO_EDGE, detail=f"at {flow_text(flow, frame.units)}")


def _taken(shot: Shot, flow: float | tuple[str, str], frame: Frame) -> str:
    """Return time and flow of a photo in words; never its place, since reports are handed on."""
    if math.isnan(shot.seconds):
        return "when is not said"
    when = str(np.datetime64(int(shot.seconds), "s"))[:16].replace("T", " ")
    at = "" if isinstance(flow, tuple) else f" at {flow_text(flow, frame.units)}"
    return f"taken {when} UTC{at}"
