"""The door of the floor: a reach folder read, checked and handed on, or all its faults at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from reachmap.base.crs import WGS84, is_metric, metric_crs
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.fingerprint import digest_files
from reachmap.gauge.model import Gauge
from reachmap.gauge.read import read_gauge_files
from reachmap.markup.assemble import assemble
from reachmap.markup.check import faults_of, notes_on
from reachmap.markup.cloud import cloud_files, with_cover_heights
from reachmap.markup.config import PlanRead, read_plan
from reachmap.markup.dem_look import Tile
from reachmap.markup.drawing import Drawing, ask_dem, no_features
from reachmap.markup.features import Feature, all_of, read_features
from reachmap.markup.file_facts import FileFact
from reachmap.markup.files import (
    REACH_FILE,
    START,
    matching,
    reach_text,
    unfit_files,
    unfit_matches,
)
from reachmap.markup.found import found_files, input_files, sounder_files
from reachmap.markup.imagery import look_at_imagery
from reachmap.markup.joined import joined_mains
from reachmap.markup.layers import LAYER_NAMES
from reachmap.markup.model import Markup
from reachmap.markup.recorded import read_recorded
from reachmap.markup.settled import settled
from reachmap.markup.source import Source, Sources
from reachmap.markup.sources import read_sources
from reachmap.markup.terrain import look_at_terrain
from reachmap.markup.tracks import Frame, read_tracks
from reachmap.markup.waters_file import shared_text
from reachmap.markup.write import MARKUP_FILE


def read_markup(path: str | Path) -> Markup:
    """Return the reach folder at `path`, read and checked.

    Parameters
    ----------
    path
        The folder, or the reach.toml in it.

    Raises
    ------
    MarkupError
        Listing every fault of reach.toml, drawing, DEM and gauge files, each with its place and
        how to mend it.
    """
    folder = _folder(Path(path))
    text, faults = reach_text(folder)
    digests = digest_files(input_files(folder), folder)
    shared, wrong = shared_text(folder)
    faults += wrong
    asked = read_plan(text or "", shared)
    faults += asked.faults if text is not None else ()
    read = _read(folder, asked)
    faults += read.faults
    faults += faults_of(read.drawing)
    if faults:
        raise MarkupError(_each_once(faults))
    told = (*asked.notes, *read.notes, *notes_on(read.drawing))
    return assemble(folder, read.drawing, told, digests, read.files)


def read_drawing(folder: Path) -> tuple[Drawing, tuple[Fault, ...]]:
    """Return a folder as far as it can be read, with all its faults; for pages that draw."""
    folder = _folder(folder)
    text, faults = reach_text(folder)
    shared, wrong = shared_text(folder)
    asked = read_plan(text or "", shared)
    read = _read(folder, asked, clouds=False)
    every = [*faults, *wrong, *asked.faults, *read.faults, *faults_of(read.drawing)]
    return read.drawing, _each_once(every)


def read_unsaved(
    folder: Path, text: str, layers: Mapping[str, gpd.GeoDataFrame]
) -> tuple[Markup | None, tuple[Fault, ...]]:
    """Return a folder as it would be read with another reach.toml and drawing, or its faults.

    Point clouds are not opened and no digests are made: for a preview, never for a build.

    Parameters
    ----------
    folder
        The reach folder.
    text
        reach.toml.
    layers
        Layers that stand in the place of all those in markup.gpkg; index 1, 2, ...
    """
    folder = _folder(folder)
    shared, wrong = shared_text(folder)
    asked = read_plan(text, shared)
    read = _read(folder, asked, clouds=False, layers=layers)
    every = _each_once([*wrong, *asked.faults, *read.faults, *faults_of(read.drawing)])
    if every:
        return None, every
    told = (*asked.notes, *read.notes, *notes_on(read.drawing))
    return assemble(folder, read.drawing, told, {}, read.files), ()


def read_measured(folder: Path, text: str) -> tuple[Gauge | None, tuple[object, ...]]:
    """Return the gauge and all that tracks and photos measured, with another reach.toml."""
    drawing = _read(folder, read_plan(text, shared_text(folder)[0]), clouds=False).drawing
    return drawing.gauge, (drawing.tracks, drawing.walked, drawing.floated, drawing.leveled)


def files_of(folder: Path) -> tuple[FileFact, ...]:
    """Return what becomes of each file of a folder, however much is at fault in it."""
    text, _ = reach_text(_folder(folder))
    return _read(_folder(folder), read_plan(text or "", shared_text(folder)[0])).files


@dataclass(frozen=True, slots=True)
class _Read:
    """Everything in the folder but reach.toml, as far as it can be read."""

    drawing: Drawing
    faults: list[Fault]
    notes: list[str]
    files: tuple[FileFact, ...]


def _read(
    folder: Path,
    asked: PlanRead,
    *,
    clouds: bool = True,
    layers: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> _Read:
    """Return everything in the folder but reach.toml, as far as it can be read.

    Without `clouds` no point cloud is opened: they take their time. With `layers` these stand in
    the place of all in markup.gpkg.
    """
    found = found_files(folder)
    sources = _sources(folder, asked.crs, layers)
    crs, notes = _project_crs(sources, asked.crs)
    faults, notes = [*unfit_files(folder), *sources.faults], [*sources.notes, *notes]
    features = dict(_features(sources, crs, asked, faults))
    features["river"], told = joined_mains(features["river"])
    notes += told
    lidar = [*cloud_files(found)] if clouds else []
    covered = with_cover_heights(features["banks"], lidar, folder, crs)
    features["banks"] = covered.banks
    notes += covered.notes
    faults += _missing_files(folder, "dem", asked.dem_files if asked.dem_files_named else ())
    terrain = look_at_terrain(found, crs, all_of(features["river"]))
    faults += terrain.faults
    faults += unfit_matches(folder, asked.gauge.files, "gauge file")
    paths = matching(folder, asked.gauge.files)
    faults += _missing_files(folder, "gauge", asked.gauge.files if asked.gauge.files_named else ())
    read = read_gauge_files(paths, asked.gauge, asked.plan.units)
    faults += read.faults
    notes += read.notes
    units, zone = asked.plan.units, asked.gauge.time_zone
    frame = Frame(crs, asked.crs, units, zone, read.gauge, asked.sounder)
    sounded = read_tracks(sounder_files(found), folder, frame)
    faults += sounded.faults
    notes += sounded.notes
    recorded = read_recorded(found, [*sources.facts, *sounded.facts], folder, features, frame)
    notes += recorded.notes
    features["soundings"] = (*features["soundings"], *sounded.soundings)
    asked = _with_unit(asked, terrain.tiles)
    imagery, wrong = look_at_imagery(folder, asked.imagery_files)
    faults += wrong
    drawing = Drawing(
        crs=crs,
        asked=asked,
        features=features,
        tiles=terrain.tiles,
        gauge=read.gauge,
        tracks=sounded.tracks,
        imagery=imagery,
        files=frozenset(source.layer for source in sources.found),
        walked=tuple(recorded.edges),
        floated=tuple(recorded.speeds),
        leveled=tuple(recorded.levels),
    )
    main = drawing.main
    if main is not None and terrain.tiles:
        heights = ask_dem(drawing.tiles, main, features, crs, asked.plan.dem.height_unit)
        drawing = replace(drawing, heights=heights)
    measured = [*sounded.facts, *recorded.facts]
    drawn = [*sources.facts, *covered.facts]
    facts = settled(found, folder, drawn, terrain.facts, measured, read.gave)
    return _Read(drawing, faults, notes, facts)


def _sources(
    folder: Path, spare_crs: str, layers: Mapping[str, gpd.GeoDataFrame] | None
) -> Sources:
    """Return the drawing's layers, with `layers` in the place of those in markup.gpkg."""
    sources = read_sources(folder, spare_crs)
    if layers is not None:
        others = [one for one in sources.found if not one.file.startswith(MARKUP_FILE)]
        unsaved = [Source(name, MARKUP_FILE, frame) for name, frame in layers.items()]
        sources.found = [*unsaved, *others]
    return sources


def _missing_files(folder: Path, section: str, named: Sequence[str]) -> list[Fault]:
    """Return the fault of files that reach.toml names and that are not there."""
    if not named or matching(folder, named):
        return []
    missing = f"no file is called {' or '.join(named)}"
    fix = "Correct the name, or take it out"
    return [Fault(f"{REACH_FILE}, [{section}] files", missing, fix)]


def _folder(path: Path) -> Path:
    """Return the reach folder, or the fault that there is none."""
    if path.is_file() and path.name == REACH_FILE:
        return path.parent
    if path.is_dir():
        return path
    found = "it is a file, not a folder" if path.exists() else "there is no such folder"
    raise MarkupError([Fault(str(path), found, f"Name a reach folder. {START}")])


def _project_crs(sources: Sources, named: str) -> tuple[str, list[str]]:
    """Return the project's metric CRS: the one named, or the river's UTM zone; "" for none."""
    if named and is_metric(named):
        return named, []
    placed = {source.layer: source for source in sources.found if source.frame.crs is not None}
    for layer in LAYER_NAMES:  # the river comes first; any other layer before none
        source = placed.get(layer)
        middle = _middle(source.frame) if source is not None else None
        if middle is not None:
            crs = metric_crs(*middle)
            note = f"reach.toml's crs {named} does not count in metres: {crs} is used inside."
            return crs, [note] if named else []
    return "", []


def _middle(frame: gpd.GeoDataFrame) -> tuple[float, float] | None:
    """Return the middle of a layer as longitude and latitude; None where UTM does not reach."""
    places = shapely.get_coordinates(frame.to_crs(WGS84).geometry)
    places = places[np.isfinite(places).all(axis=1)]
    if not places.size:
        return None
    longitude, latitude = (places.min(axis=0) + places.max(axis=0)) / 2
    good = abs(longitude) <= 180 and -80 <= latitude <= 84
    return (float(longitude), float(latitude)) if good else None


def _features(
    sources: Sources, crs: str, asked: PlanRead, faults: list[Fault]
) -> Mapping[str, tuple[Feature, ...]]:
    """Return the features of each layer, adding their faults."""
    features = no_features()
    for source in sources.found:
        read, wrong = read_features(source, crs, asked.plan.units)
        faults += wrong
        features[source.layer] = (*features[source.layer], *read)
    return features


def _with_unit(asked: PlanRead, tiles: Sequence[Tile]) -> PlanRead:
    """Return the plan with the DEM's unit of height as its files say it, where it does not say."""
    told = [tile.unit_m for tile in tiles if not math.isnan(tile.unit_m)]
    if asked.height_unit_named or not told:
        return asked
    unit = "m" if abs(told[0] - 1) < 1e-3 else "ft"
    return replace(asked, plan=replace(asked.plan, dem=replace(asked.plan.dem, height_unit=unit)))


def _each_once(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Return the faults without repeats, in their order."""
    return tuple(dict.fromkeys(faults))
