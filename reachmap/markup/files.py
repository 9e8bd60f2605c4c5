"""Which files of a reach folder matter to a build; standard library only, to answer at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from reachmap.markup.layers import LAYER_NAMES

REACH_FILE = "reach.toml"
FITTED_FILE = "fitted.toml"
MARKUP_STEM = "markup"

DRAWING_ENDINGS = (".gpkg", ".geojson", ".json", ".kml", ".kmz", ".gpx", ".shp", ".fgb")
"""Endings of files that hold a layer, one of the layer's name each."""

WHOLE_ENDINGS = (".gpkg", ".kml", ".kmz", ".gpx")
"""Endings of files that can hold all layers, under the name ``markup``."""

BESIDE_ENDINGS = (".dbf", ".shx", ".prj", ".cpg")
"""Endings of what belongs to a shapefile."""

UNSAVED = "-wal"
"""Ending of SQLite's notebook: what another program has changed and not yet folded in."""

DEM_PATTERNS = ("dem*.tif", "dem*.tiff")
GAUGE_PATTERNS = ("gauge/*",)
DEM_BESIDE = (".aux.xml", ".prj", ".tfw", ".ovr", ".msk")


def input_files(folder: Path) -> list[Path]:
    """Return every file of the reach folder that a build reads, sorted; [] where there is none.

    It opens nothing but reach.toml, and that only for the patterns of the DEM and gauge files.
    """
    told = _told(folder)
    found = set(drawing_files(folder))
    found.update(path for path in (folder / REACH_FILE, folder / FITTED_FILE) if path.is_file())
    dems = matching(folder, patterns_of(told, "dem", DEM_PATTERNS))
    found.update(dems)
    for path in [*found]:
        found.update(_beside(path))
    found.update(matching(folder, patterns_of(told, "gauge", GAUGE_PATTERNS)))
    return sorted(found)


def drawing_files(folder: Path) -> list[Path]:
    """Return the files that hold mark-up layers, sorted."""
    wanted = {MARKUP_STEM: WHOLE_ENDINGS, **dict.fromkeys(LAYER_NAMES, DRAWING_ENDINGS)}
    if not folder.is_dir():
        return []
    return sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in wanted.get(path.stem.lower(), ()) and path.is_file()
    )


def matching(folder: Path, patterns: Sequence[str]) -> list[Path]:
    """Return the files that patterns inside the folder match, each once, sorted.

    Hidden files, and what other programs keep beside a raster, are left out.
    """
    found = {
        path
        for pattern in patterns
        if stays_inside(pattern)
        for path in folder.glob(pattern)
        if path.is_file() and not path.name.startswith(".") and not path.name.endswith(DEM_BESIDE)
    }
    return sorted(found)


def stays_inside(pattern: str) -> bool:
    """Return whether a pattern names files within the folder only."""
    path = PurePosixPath(pattern.replace("\\", "/"))
    plain = bool(pattern.strip()) and ":" not in pattern
    return plain and not path.is_absolute() and ".." not in path.parts


def patterns_of(told: Mapping[str, Any], section: str, default: tuple[str, ...]) -> tuple[str, ...]:
    """Return the file patterns a section of reach.toml gives, or the usual ones."""
    given = told.get(section)
    files = given.get("files") if isinstance(given, dict) else None
    if isinstance(files, str):
        return (files,)
    if isinstance(files, list) and all(isinstance(item, str) for item in files):
        return tuple(files)
    return default


def _told(folder: Path) -> Mapping[str, Any]:
    """Return reach.toml, or nothing where it cannot be read: the check will tell of that."""
    try:
        return tomllib.loads((folder / REACH_FILE).read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return {}


def _beside(path: Path) -> list[Path]:
    """Return the files that belong to a file."""
    names = [path.name + UNSAVED, path.name + ".aux.xml"]
    names += [path.stem + ending for ending in (*BESIDE_ENDINGS, *DEM_BESIDE)]
    return [path.with_name(name) for name in names if path.with_name(name).is_file()]
