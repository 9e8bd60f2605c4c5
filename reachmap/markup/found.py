"""Inventory of a reach folder: each file and its likely use; standard library only.

A file with a reserved name (dem.tif, markup.gpkg, track.csv, gauge/...) must be valid, or it is a
fault. Any other is identified by its content: used where it fits, else reported as unused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from reachmap.base.safe_files import FileKind, RefusedError, refusal
from reachmap.base.sniff import Content, content_of
from reachmap.markup.evidence_names import FLOAT_NAME, shows_water
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.files import (
    CLARITY_FILES,
    DEM_PATTERNS,
    DRAFT_FILE,
    FITTED_FILE,
    FORECAST_FILES,
    GAUGE_PATTERNS,
    LOG_FILE,
    OWN_FOLDERS,
    REACH_FILE,
    RULES_FILE,
    SOURCES_FILE,
    TIDE_FILES,
    TRACK_PATTERNS,
    WATER_FILES,
    drawing_files,
    imagery_patterns,
    is_written,
    matching,
    parts_of,
    patterns_of,
    raw_settings,
)
from reachmap.markup.tile_list import tiles_of
from reachmap.markup.waters_file import shared_file

NOT_GROUND = re.compile(
    r"(^|[^a-z])(n?dsm|chm|canopy|surface|slope|aspect|hillshade|shaded?|relief|intensity|depth|"
    r"first|highest|vegetation|roughness|curvature|ortho)([^a-z]|$)"
)
"""Words in the names of rasters that look like heights but are no ground model: a surface model
would turn trees into ground (our choice, from common names)."""

COMPANION = re.compile(
    r"(\.aux\.xml|\.ovr|\.msk|\.tfw|\.prj|\.shx|\.dbf|\.cpg|\.qix|\.qml|\.qmd|-wal|-shm|-journal)$"
)
"""Extensions of sidecar files; never read by themselves."""

INPUTS = frozenset(
    {
        *(Use.SETTINGS, Use.FITTED, Use.DRAWING, Use.BESIDE, Use.TERRAIN, Use.TILE_LIST),
        *(Use.SOUNDER, Use.SOUNDINGS, Use.GAUGE, Use.CLOUD, Use.IMAGERY, Use.FLOATED, Use.PHOTO),
        *(Use.WARMTH, Use.CLARITY),
    }
)
"""Uses of files that are inputs of a build."""

USED_AS = {
    Content.CLOUD: Use.CLOUD, Content.NMEA: Use.SOUNDER, Content.DEPTHS: Use.SOUNDER,
    Content.PHOTO: Use.PHOTO,
}  # fmt: skip
"""Use of a content whatever the file's name."""

DRAWN = {Content.GEOPACKAGE: ".gpkg", Content.KML: ".kml", Content.GPX: ".gpx"}
"""Contents that can hold layers by name, and the extension by which they are opened."""

ENDS = {
    Content.ARCHIVE: Unused.ARCHIVE,
    Content.PDF: Unused.DOCUMENT, Content.TEXT: Unused.DOCUMENT, Content.EMPTY: Unused.EMPTY,
    Content.RECORD: Unused.RECORD_OUTSIDE, Content.TIFF_PICTURE: Unused.TIFF_PICTURE,
    Content.TIFF_BYTES: Unused.TIFF_BYTES, Content.GEOJSON: Unused.NAMELESS,
    Content.SHAPEFILE: Unused.NAMELESS, Content.FLATGEOBUF: Unused.NAMELESS,
}  # fmt: skip
"""Why a file of a content is not used whatever its name."""


@dataclass(frozen=True, slots=True)
class Found:
    """A file of the folder and its likely use.

    Parameters
    ----------
    path
        The file, or a subfolder of which nothing is used.
    fact
        Its use as known before it is read.
    named
        Whether its name is reserved for that use, so that it must be valid.
    """

    path: Path
    fact: FileFact
    named: bool = False


def found_files(folder: Path) -> tuple[Found, ...]:
    """Return every file of the folder, sorted; hidden ones and outputs of reachmap left out."""
    if not folder.is_dir():
        return ()
    settings = raw_settings(folder)
    known = _named(folder, settings)
    known |= _tiles_listed(folder, settings, known)
    found = dict(known)
    for path in sorted(folder.iterdir()):
        if path.name.startswith("."):
            continue
        if path.is_dir() and not path.is_symlink():
            if path.name not in OWN_FOLDERS and not is_written(path):
                found |= {one.path: one for one in _subfolder(path, folder, known)}
        elif path not in found:
            fact = _use_by_content(path, folder, settings)
            found[path] = Found(path, fact)
    used = [one.path for one in found.values() if one.fact.use in INPUTS]
    for path in (part for one in used for part in parts_of(one) if part in found):
        if found[path].fact.use is Use.NOTHING and refusal(path, FileKind.DRAWING, folder) is None:
            found[path] = Found(path, FileFact(_name(path, folder), Use.BESIDE))
    return tuple(found[path] for path in sorted(found))


def input_files(folder: Path) -> list[Path]:
    """Return every file of the reach folder that a build reads, sorted; [] where there is none.

    It reads the first bytes of each, and opens only reach.toml and tile lists. The waters.toml
    above the folder comes last, where there is one.
    """
    shared = shared_file(folder)
    found = [one.path for one in found_files(folder) if _is_input(one)]
    return found + ([] if shared is None else [shared])


def _is_input(one: Found) -> bool:
    """Return whether a file is an input of a build; a photo without evidence changes no map."""
    note = one.fact.use is Use.PHOTO and not shows_water(one.path.stem)
    return one.fact.use in INPUTS and not note


def files_for(folder: Path, *uses: Use) -> list[Found]:
    """Return the files with a likely use, those with a reserved name first."""
    found = [one for one in found_files(folder) if one.fact.use in uses]
    return sorted(found, key=lambda one: not one.named)


def sounder_files(found: Iterable[Found]) -> list[Found]:
    """Return the files that may hold depths: a GPX file may hold drawing and depths both."""
    return [
        one
        for one in found
        if one.fact.use is Use.SOUNDER
        or (one.fact.use is Use.DRAWING and not one.named and one.path.suffix.lower() == ".gpx")
    ]


def terrain_files(folder: Path) -> list[Path]:
    """Return the rasters of ground heights: by reserved name first, then by content."""
    return [one.path for one in files_for(folder, Use.TERRAIN)]


def _named(folder: Path, settings: Mapping[str, Any]) -> dict[Path, Found]:
    """Return the files with a reserved name that may be opened."""
    groups = [
        (Use.SETTINGS, matching(folder, (REACH_FILE,))),
        (Use.FITTED, matching(folder, (FITTED_FILE,))),
        (Use.LOG, matching(folder, (LOG_FILE,))),
        (Use.CLARITY, matching(folder, (CLARITY_FILES,))),
        (Use.WARMTH, matching(folder, (WATER_FILES,))),
        (Use.TIDE, matching(folder, (TIDE_FILES,))),
        (Use.RULES, matching(folder, (RULES_FILE,))),
        (Use.SOURCES, matching(folder, (SOURCES_FILE,))),
        (Use.FORECAST, matching(folder, FORECAST_FILES)),
        (Use.DRAWING, drawing_files(folder)),
        (Use.IMAGERY, matching(folder, imagery_patterns(settings))),
        (Use.TERRAIN, matching(folder, patterns_of(settings, "dem", DEM_PATTERNS))),
        (Use.GAUGE, matching(folder, patterns_of(settings, "gauge", GAUGE_PATTERNS))),
        (Use.SOUNDER, matching(folder, TRACK_PATTERNS)),
    ]
    found: dict[Path, Found] = {}
    for use, paths in groups:
        for path in paths:
            found.setdefault(path, Found(path, FileFact(_name(path, folder), use), named=True))
    return found


def _tiles_listed(
    folder: Path, settings: Mapping[str, Any], known: Mapping[Path, Found]
) -> dict[Path, Found]:
    """Return lists of tiles in the folder, and the tiles that they name."""
    found: dict[Path, Found] = {}
    if _says_files(settings, "dem"):
        return found
    for path in sorted(folder.iterdir()):
        if path in known or COMPANION.search(path.name.lower()) or not _may(path, folder):
            continue
        if _content(path) is not Content.VRT:
            continue
        named = path.name.lower().startswith("dem") and path.suffix.lower() == ".vrt"
        name = _name(path, folder)
        try:
            tiles = tiles_of(path, folder)
        except (RefusedError, OSError) as error:
            why = (error.found, error.fix) if isinstance(error, RefusedError) else (str(error), "")
            odd = FileFact(name, Use.NOTHING, Unused.ODD_LIST, *why)
            found[path] = Found(path, odd, named)
            continue
        found[path] = Found(path, FileFact(name, Use.TILE_LIST, number=len(tiles)), named)
        for tile in tiles:
            if tile not in known:
                found[tile] = Found(tile, FileFact(_name(tile, folder), Use.TERRAIN))
    return found


def _subfolder(path: Path, folder: Path, known: Mapping[Path, Found]) -> Iterator[Found]:
    """Yield the entries of a subfolder: each file where some are used, else the folder."""
    used = [one for one in known if one.is_relative_to(path)]
    others = [
        one
        for one in sorted(path.iterdir())
        if not one.name.startswith(".") and one not in known and not one.is_dir()
    ]
    if not used:
        fact = FileFact(f"{_name(path, folder)}/", Use.NOTHING, Unused.SUBFOLDER)
        yield Found(path, replace(fact, number=len(others)))
        return
    for one in others:
        why, found, fix = _refused(one, folder) or (Unused.OTHERS_NAMED, "", "")
        yield Found(one, FileFact(_name(one, folder), Use.NOTHING, why, found, fix))


def _use_by_content(path: Path, folder: Path, settings: Mapping[str, Any]) -> FileFact:
    """Return the likely use of a file by its content alone."""
    name = _name(path, folder)
    wrong = _refused(path, folder)
    if wrong is not None:
        return FileFact(name, Use.NOTHING, *wrong)
    if name.lower() == DRAFT_FILE or COMPANION.search(path.name.lower()):
        why = Unused.DRAFT if name.lower() == DRAFT_FILE else Unused.COMPANION
        return FileFact(name, Use.NOTHING, why)
    content = _content(path)
    if content in {Content.TIFF, Content.ASCII_GRID}:
        return _raster(path, name, settings)
    if content is Content.VRT:
        return FileFact(name, Use.NOTHING, Unused.OTHERS_NAMED)
    if content in USED_AS:
        return FileFact(name, USED_AS[content])
    ending = path.suffix.lower()
    if content is Content.TEXT and ending == ".csv" and FLOAT_NAME.search(path.stem):
        return FileFact(name, Use.FLOATED)
    if DRAWN.get(content) == ending or (content is Content.ARCHIVE and ending == ".kmz"):
        return FileFact(name, Use.DRAWING)
    return FileFact(name, Use.NOTHING, ENDS.get(content, Unused.UNKNOWN))


def _raster(path: Path, name: str, settings: Mapping[str, Any]) -> FileFact:
    """Return the likely use of a raster of heights."""
    if NOT_GROUND.search(path.stem.lower()):
        return FileFact(name, Use.NOTHING, Unused.NOT_GROUND)
    if _says_files(settings, "dem"):
        return FileFact(name, Use.NOTHING, Unused.OTHERS_NAMED)
    return FileFact(name, Use.TERRAIN)


def _refused(path: Path, folder: Path) -> tuple[Unused, str, str] | None:
    """Return why a file must not be opened; None where it may."""
    settings = path.suffix.lower() == ".toml"
    wrong = refusal(path, FileKind.SETTINGS if settings else FileKind.TERRAIN, folder)
    return None if wrong is None else (Unused.REFUSED, *wrong)


def _may(path: Path, folder: Path) -> bool:
    """Return whether a path is a regular file that may be opened."""
    return path.is_file() and refusal(path, FileKind.TERRAIN, folder) is None


def _content(path: Path) -> Content:
    """Return the content of a file; that of an unreadable one is `OTHER`."""
    try:
        return content_of(path)
    except OSError:
        return Content.OTHER


def _says_files(settings: Mapping[str, Any], section: str) -> bool:
    """Return whether reach.toml names the files of a section."""
    given = settings.get(section)
    return isinstance(given, dict) and "files" in given


def _name(path: Path, folder: Path) -> str:
    """Return a file's path within the folder."""
    return path.relative_to(folder).as_posix()
