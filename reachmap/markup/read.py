"""Entry point of the package: reads and checks a reach folder, or raises all its faults at once."""

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
from reachmap.markup.cloud import cloud_files, read_clouds
from reachmap.markup.config import PlanRead, read_plan
from reachmap.markup.dem_look import Tile
from reachmap.markup.drawing import Drawing, no_features, sample_dem
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
from reachmap.markup.flights import flown_tiles
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
    reach_toml = read_plan(text or "", shared)
    faults += reach_toml.faults if text is not None else ()
    read = _read(folder, reach_toml)
    faults += read.faults
    faults += faults_of(read.drawing)
    if faults:
        raise MarkupError(_unique(faults))
    notes = (*reach_toml.notes, *read.notes, *notes_on(read.drawing))
    return assemble(folder, read.drawing, notes, digests, read.files)


def read_drawing(folder: Path) -> tuple[Drawing, tuple[Fault, ...]]:
    """Return a folder as far as it can be read, with all its faults; for the editor."""
    folder = _folder(folder)
    text, faults = reach_text(folder)
    shared, wrong = shared_text(folder)
    reach_toml = read_plan(text or "", shared)
    read = _read(folder, reach_toml, clouds=False)
    every = [*faults, *wrong, *reach_toml.faults, *read.faults, *faults_of(read.drawing)]
    return read.drawing, _unique(every)


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
    reach_toml = read_plan(text, shared)
    read = _read(folder, reach_toml, clouds=False, layers=layers)
    every = _unique([*wrong, *reach_toml.faults, *read.faults, *faults_of(read.drawing)])
    if every:
        return None, every
    told = (*reach_toml.notes, *read.notes, *notes_on(read.drawing))
    return assemble(folder, read.drawing, told, {}, read.files), ()


def read_measured(folder: Path, text: str) -> tuple[Gauge | None, tuple[object, ...]]:
    """Return the gauge and all that tracks and photos measured, with another reach.toml."""
    drawing = _read(folder, read_plan(text, shared_text(folder)[0]), clouds=False).drawing
    return drawing.gauge, (drawing.tracks, drawing.walked, drawing.floated, drawing.leveled)


def files_of(folder: Path) -> tuple[FileFact, ...]:
    """Return the use made of each file of a folder, whatever its faults."""
    text, _ = reach_text(_folder(folder))
    return _read(_folder(folder), read_plan(text or "", shared_text(folder)[0])).files


@dataclass(frozen=True, slots=True)
class _Read:
    """Everything in the folder except reach.toml, as far as it can be read."""

    drawing: Drawing
    faults: list[Fault]
    notes: list[str]
    files: tuple[FileFact, ...]


def _read(
    folder: Path,
    reach_toml: PlanRead,
    *,
    clouds: bool = True,
    layers: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> _Read:
    """Return everything in the folder but reach.toml, as far as it can be read.

    Without `clouds` no point cloud is opened: they take their time. With `layers` these stand in
    the place of all in markup.gpkg.
    """
    found = found_files(folder)
    sources = _sources(folder, reach_toml.crs, layers)
    crs, notes = _project_crs(sources, reach_toml.crs)
    faults, notes = [*unfit_files(folder), *sources.faults], [*sources.notes, *notes]
    features = dict(_features(sources, crs, reach_toml, faults))
    features["river"], joined = joined_mains(features["river"])
    notes += joined
    rivers = all_of(features["river"])
    lidar = [*cloud_files(found)] if clouds else []
    covered = read_clouds(features["banks"], rivers, lidar, folder, crs)
    features["banks"] = covered.banks
    notes += covered.notes
    faults += _missing_files(
        folder, "dem", reach_toml.dem_files if reach_toml.dem_files_named else ()
    )
    terrain = look_at_terrain(found, crs, rivers)
    faults += unfit_matches(folder, reach_toml.gauge.files, "gauge file")
    paths = matching(folder, reach_toml.gauge.files)
    faults += _missing_files(
        folder, "gauge", reach_toml.gauge.files if reach_toml.gauge.files_named else ()
    )
    read = read_gauge_files(paths, reach_toml.gauge, reach_toml.plan.units)
    faults += read.faults
    notes += read.notes
    frame = Frame(
        crs,
        reach_toml.crs,
        reach_toml.plan.units,
        reach_toml.gauge.time_zone,
        read.gauge,
        reach_toml.sounder,
    )
    sounded = read_tracks(sounder_files(found), folder, frame)
    faults += sounded.faults
    notes += sounded.notes
    recorded = read_recorded(found, [*sources.facts, *sounded.facts], folder, features, frame)
    notes += recorded.notes
    features["soundings"] = (*features["soundings"], *sounded.soundings)
    reach_toml = _with_unit(reach_toml, terrain.tiles)
    reach_toml, flown = flown_tiles(terrain.tiles, terrain.facts, folder, reach_toml, read.gauge)
    faults += [*terrain.faults, *flown.faults]
    notes += flown.notes
    imagery, wrong = look_at_imagery(folder, reach_toml.imagery_files)
    faults += wrong
    drawing = Drawing(
        crs=crs,
        reach_toml=reach_toml,
        features=features,
        tiles=flown.tiles,
        gauge=read.gauge,
        tracks=sounded.tracks,
        imagery=imagery,
        files=frozenset(source.layer for source in sources.found),
        walked=tuple(recorded.edges),
        floated=tuple(recorded.speeds),
        leveled=tuple(recorded.levels),
        canopy=covered.canopy,
    )
    main = drawing.main
    if main is not None and flown.tiles:
        heights = sample_dem(drawing.tiles, main, features, crs, reach_toml.plan.dem.height_unit)
        drawing = replace(drawing, heights=heights)
    facts = settled(
        found,
        folder,
        [*sources.facts, *covered.facts],
        flown.facts,
        [*sounded.facts, *recorded.facts],
        read.contents,
    )
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
    """Return the fault of files that reach.toml names and that do not exist."""
    if not named or matching(folder, named):
        return []
    missing = f"no file is called {' or '.join(named)}"
    fix = "Correct the name, or take it out"
    return [Fault(f"{REACH_FILE}, [{section}] files", missing, fix)]


def _folder(path: Path) -> Path:
    """Return the reach folder; raise the fault that there is none."""
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
    for layer in LAYER_NAMES:  # the river's position is preferred, else that of any other layer
        source = placed.get(layer)
        middle = _middle(source.frame) if source is not None else None
        if middle is not None:
            crs = metric_crs(*middle)
            note = f"reach.toml's crs {named} does not count in metres: {crs} is used inside."
            return crs, [note] if named else []
    return "", []


def _middle(frame: gpd.GeoDataFrame) -> tuple[float, float] | None:
    """Return the middle of a layer as longitude and latitude; None outside the range of UTM."""
    places = shapely.get_coordinates(frame.to_crs(WGS84).geometry)
    places = places[np.isfinite(places).all(axis=1)]
    if not places.size:
        return None
    longitude, latitude = (places.min(axis=0) + places.max(axis=0)) / 2
    good = abs(longitude) <= 180 and -80 <= latitude <= 84
    return (float(longitude), float(latitude)) if good else None


def _features(
    sources: Sources, crs: str, reach_toml: PlanRead, faults: list[Fault]
) -> Mapping[str, tuple[Feature, ...]]:
    """Return the features of each layer, adding their faults."""
    features = no_features()
    for source in sources.found:
        read, wrong = read_features(source, crs, reach_toml.plan.units)
        faults += wrong
        features[source.layer] = (*features[source.layer], *read)
    return features


def _with_unit(reach_toml: PlanRead, tiles: Sequence[Tile]) -> PlanRead:
    """Return reach.toml with the DEM's unit of height from its files, where it gives none."""
    named = [tile.unit_m for tile in tiles if not math.isnan(tile.unit_m)]
    if reach_toml.height_unit_named or not named:
        return reach_toml
    unit = "m" if abs(named[0] - 1) < 1e-3 else "ft"
    return replace(
        reach_toml,
        plan=replace(reach_toml.plan, dem=replace(reach_toml.plan.dem, height_unit=unit)),
    )


def _unique(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Return the faults without duplicates, in their order."""
    return tuple(dict.fromkeys(faults))
