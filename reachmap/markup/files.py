"""Names of the files of a reach folder used by a build; standard library only, for fast start."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.safe_files import FileKind, RefusedError, read_text, refusal
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import LAYER_NAMES

REACH_FILE = "reach.toml"
START = "Begin one with: reachmap new DIR"
FITTED_FILE = "fitted.toml"
MARKUP_STEM = "markup"
DRAFT_FILE = "draft.gpkg"
"""A draft made from terrain: never evidence, never read as a drawing."""

DRAWING_ENDINGS = (".gpkg", ".geojson", ".json", ".kml", ".kmz", ".gpx", ".shp", ".fgb")
"""Extensions of files that hold one layer, named like it."""

WHOLE_ENDINGS = (".gpkg", ".kml", ".kmz", ".gpx")
"""Extensions of files that can hold all layers, under the name ``markup``."""

TEXT_ENDINGS = (".geojson", ".json", ".kml", ".kmz", ".gpx")
"""Extensions of those that are text, or compressed text."""

SHAPEFILE_SIDECARS = (".dbf", ".shx", ".prj", ".cpg")
"""Extensions of the further files of a shapefile."""

UNSAVED = "-wal"
"""Suffix of SQLite's write-ahead log: another program's changes not yet in the database."""

DEM_PATTERNS = ("dem*.tif", "dem*.tiff", "dem*.asc")
GAUGE_PATTERNS = ("gauge/*",)
TRACK_PATTERNS = ("track*.csv", "sounding*.csv")
CLARITY_FILES = "clarity*.csv"
"""Clarity notes; the next: water temperatures, the tide (the first by name is used), closed
dates."""

WATER_FILES = "temperature*.csv"
TIDE_FILES = "tide*.csv"
RULES_FILE = "rules.csv"
LOG_FILE = "log.gpkg"
SOURCES_FILE = "sources.csv"
"""Where fetched files came from."""

FORECAST_FILES = ("forecast*.json", "forecast*.csv", "forecast*.xml", "forecast*.nc")
"""Forecasts of the flow, for `days --forecast`; never part of the record."""

OWN_FOLDERS = ("underlay", "log-backups")
"""Folders in which reachmap keeps its own files, besides the output folder."""

IMAGERY_PATTERNS = ("imagery*.tif", "imagery*.tiff", "imagery*.mbtiles", "imagery*.pmtiles")
DEM_SIDECARS = (".aux.xml", ".prj", ".tfw", ".ovr", ".msk")


def is_written(folder: Path) -> bool:
    """Return whether a folder is an output of reachmap, finished or not."""
    named = folder.name == "written" or folder.name.startswith("written-")
    return named or (folder / "report.json").is_file() or folder.name == "cache"


def refuse_no_folder(folder: Path) -> None:
    """Raise for a folder that does not exist, so that a mistyped name starts nothing.

    Raises
    ------
    MarkupError
        If there is no such folder.
    """
    if not folder.is_dir():
        raise MarkupError([Fault(str(folder), "there is no such folder", "Name a reach folder")])


def folder_units(folder: Path) -> UnitSystem:
    """Return the units of reach.toml; US where it cannot be read (the check reports that)."""
    try:
        settings = tomllib.loads(read_text(folder / REACH_FILE, FileKind.SETTINGS, folder))
        return UnitSystem(str(settings.get("units")))
    except (RefusedError, OSError, ValueError, RecursionError):
        return UnitSystem.US


def drawing_files(folder: Path) -> list[Path]:
    """Return the files that hold mark-up layers and may be read, sorted."""
    return [path for path in _named_like_layers(folder) if _fit(path, folder)]


def matching(folder: Path, patterns: Sequence[str]) -> list[Path]:
    """Return the files in the folder that match patterns and may be read, without duplicates.

    They are sorted. Hidden files and sidecar files of rasters are left out.
    """
    return [path for path in _matched(folder, patterns) if _fit(path, folder)]


def unfit_files(folder: Path) -> list[Fault]:
    """Return a fault for each file of the drawing, the DEM and the fit that must not be opened.

    `unfit_matches` reports those of the gauge.
    """
    dems = patterns_of(raw_settings(folder), "dem", DEM_PATTERNS)
    drawn = _named_like_layers(folder)
    beside = [part for path in drawn if _fit(path, folder) for part in parts_of(path)]
    faults = [_unfit(path, folder, path.name) for path in [*drawn, *beside, folder / FITTED_FILE]]
    tracks = unfit_matches(folder, TRACK_PATTERNS, "track")
    return [*(each for each in faults if each), *unfit_matches(folder, dems, "DEM"), *tracks]


def unfit_matches(folder: Path, patterns: Sequence[str], what: str) -> list[Fault]:
    """Return a fault for each file that patterns match and that must not be opened."""
    matched = [path for path in _matched(folder, patterns) if not path.is_dir()]
    faults = [_unfit(path, folder, f"{what} {path.name}") for path in matched]
    return [each for each in faults if each]


def _named_like_layers(folder: Path) -> list[Path]:
    """Return the paths named like a file of layers, of any kind, sorted."""
    wanted = {MARKUP_STEM: WHOLE_ENDINGS, **dict.fromkeys(LAYER_NAMES, DRAWING_ENDINGS)}
    if not folder.is_dir():
        return []
    return sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in wanted.get(path.stem.lower(), ())
    )


def _matched(folder: Path, patterns: Sequence[str]) -> list[Path]:
    """Return the paths in the folder that match patterns, of any kind, unique and sorted."""
    found = {
        path
        for pattern in patterns
        if stays_inside(pattern)
        for path in folder.glob(pattern)
        if not path.name.startswith(".") and not path.name.endswith(DEM_SIDECARS)
    }
    return sorted(found)


def kind_of(path: Path) -> FileKind:
    """Return how a file of a reach folder is read, by its name."""
    ending = path.suffix.lower()
    if ending == ".toml":
        return FileKind.SETTINGS
    if ending in {".mbtiles", ".pmtiles"}:
        return FileKind.IMAGERY
    if ending in {".tif", ".tiff", ".asc"} or path.name.lower().endswith(DEM_SIDECARS[3:]):
        return FileKind.TERRAIN
    called_like_layers = path.stem.lower() in {MARKUP_STEM, *LAYER_NAMES}
    if called_like_layers and ending in DRAWING_ENDINGS:
        return FileKind.TEXT if ending in TEXT_ENDINGS else FileKind.DRAWING
    return FileKind.DRAWING if called_like_layers else FileKind.RECORD


def _fit(path: Path, folder: Path) -> bool:
    """Return whether a file exists and may be opened."""
    return path.is_file() and refusal(path, kind_of(path), folder) is None


def _unfit(path: Path, folder: Path, where: str) -> Fault | None:
    """Return the fault of a path that must not be opened; None where it may, or does not exist."""
    wrong = refusal(path, kind_of(path), folder)
    return None if wrong is None else Fault(where, *wrong)


def imagery_patterns(settings: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the name of the aerial picture in reach.toml, or the default patterns."""
    given = settings.get("imagery")
    file = given.get("file") if isinstance(given, dict) else None
    return (file,) if isinstance(file, str) and file else IMAGERY_PATTERNS


def stays_inside(pattern: str) -> bool:
    """Return whether a pattern names files within the folder only."""
    path = PurePosixPath(pattern.replace("\\", "/"))
    plain = bool(pattern.strip()) and ":" not in pattern
    return plain and not path.is_absolute() and ".." not in path.parts


def patterns_of(
    settings: Mapping[str, Any], section: str, default: tuple[str, ...]
) -> tuple[str, ...]:
    """Return the file patterns of a section of reach.toml, or the defaults."""
    given = settings.get(section)
    files = given.get("files") if isinstance(given, dict) else None
    if isinstance(files, str):
        return (files,)
    if isinstance(files, list) and all(isinstance(item, str) for item in files):
        return tuple(files)
    return default


def reach_text(folder: Path) -> tuple[str | None, list[Fault]]:
    """Return the text of reach.toml; None with a fault where it cannot be read."""
    path = folder / REACH_FILE
    try:
        return read_text(path, FileKind.SETTINGS, folder), []
    except FileNotFoundError:
        found = f"there is no {REACH_FILE} in {folder}"
        return None, [Fault(REACH_FILE, found, f"Name a reach folder. {START}")]
    except RefusedError as error:
        return None, [Fault(REACH_FILE, error.found, error.fix)]
    except OSError as error:
        return None, [Fault(REACH_FILE, f"it cannot be read ({error})", "Mend its access rights")]


def raw_settings(folder: Path) -> Mapping[str, Any]:
    """Return reach.toml parsed; an empty mapping where it cannot be read (the check reports it)."""
    try:
        return tomllib.loads(read_text(folder / REACH_FILE, FileKind.SETTINGS, folder))
    except (RefusedError, OSError, ValueError, RecursionError):
        return {}


def parts_of(path: Path) -> list[Path]:
    """Return a file and its sidecar files, those that exist."""
    names = [path.name + UNSAVED, path.name + ".aux.xml"]
    names += [path.stem + ending for ending in (*SHAPEFILE_SIDECARS, *DEM_SIDECARS)]
    return [path.with_name(name) for name in names]
