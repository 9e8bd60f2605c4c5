"""Whether a build is up to date, by file digests alone; imports nothing heavy."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from reachmap.base.fingerprint import digest_bytes, digest_files, stage_key
from reachmap.base.generation import is_intact, read_report
from reachmap.base.writer import settle_if_free
from reachmap.gauge.warmth_csv import RANGE_C
from reachmap.logbook.digest import evidence_digest
from reachmap.logbook.store import FILE as LOG_FILE
from reachmap.markup.found import input_files
from reachmap.markup.layers import FLOW_LIMITS, MOST_FLOWS
from reachmap.outputs.choices import is_tile_address

WRITTEN = "written"

CELLS = (0.5, 1.0, 2.0, 4.0)
"""Sides that a raster cell may have [m]."""


@dataclass(frozen=True, slots=True)
class Options:
    """Options of a build.

    Parameters
    ----------
    flows
        Discharges to map [m3/s], or None for those of reach.toml.
    cell
        Side of a raster cell [m], one of `CELLS`; None to have it chosen by the river's width.
    quick
        Whether the one-dimensional preview stands in for the flow engine.
    season
        Whose limits apply, "winter" or "summer"; None for that of reach.toml.
    wind
        "calm", or where it blows: "upstream", "downstream", "left" or "right"; or a forecast like
        "SW 12 mph".
    clarity_m
        How far one sees into the water [m]; None for clear enough not to matter.
    water_c
        Temperature of the water [C]; None for that of reach.toml or of the folder's record.
    ensemble
        Whether an ensemble of a dozen grounds consistent with the evidence is run, for the map's
        confidence.
    tiles
        Address of imagery tiles for the maps, empty for none.
    long_names
        Whether names in GPX files are in words.
    log
        Whether the maps show the angler's own log.
    site
        Whether the maps are written as an installable page too.
    zarr
        Whether the fields are written as Zarr stores too.
    """

    flows: tuple[float, ...] | None = None
    cell: float | None = None
    quick: bool = False
    season: str | None = None
    wind: str = "calm"
    clarity_m: float | None = None
    ensemble: bool = True
    tiles: str = ""
    long_names: bool = False
    log: bool = True
    site: bool = False
    zarr: bool = False
    water_c: float | None = None


def written_folder(folder: Path, out: Path | None) -> Path:
    """Return where a build of the reach folder writes."""
    return out if out is not None else folder / WRITTEN


def settled_folder(folder: Path, out: Path | None) -> Path:
    """Return the written folder to read from, an interrupted change of it settled first."""
    target = written_folder(folder, out)
    settle_if_free(target)
    return target


def program_digest() -> str:
    """Return a digest over the program's own files: a new version never trusts old results."""
    home = Path(__file__).resolve().parents[1]
    kinds = {".py", ".js", ".css", ".html", ".toml", ".json", ".po"}
    files = [path for path in home.rglob("*") if path.suffix in kinds]
    return digest_bytes(json.dumps(digest_files(files, home)).encode())


def build_stamp(folder: Path, options: Options) -> str:
    """Return the stamp of a build: program, options and every input file."""
    files = input_files(folder)
    if options.log and (folder / LOG_FILE).is_file():
        files.append(folder / LOG_FILE)
    # Even without trips on the pages their observations of bed and edge make the ground.
    log = "" if options.log else evidence_digest(folder)
    return stage_key(
        "build",
        1,
        {"program": program_digest(), "log_evidence": log, **asdict(options)},
        digest_files(files, folder),
    )


def stored_options(out: Path) -> Options:
    """Return the options of the build that wrote a folder; the usual ones where there is none.

    A report is untrusted data: options that no command would accept count as none.
    """
    stored = read_report(out).get("options")
    try:
        flows = stored["flows"]  # type: ignore[index]
        flows = None if flows is None else tuple(float(flow) for flow in flows)
        options = Options(**{**stored, "flows": flows})  # type: ignore[dict-item]
    except (ValueError, KeyError, TypeError, OverflowError):
        return Options()
    return options if _is_plausible(options) else Options()


def _is_plausible(options: Options) -> bool:
    """Return whether options are of the kinds and sizes that a command gives."""
    flags = (
        options.quick,
        options.ensemble,
        options.long_names,
        options.log,
        options.site,
        options.zarr,
    )
    return (
        all(isinstance(one, bool) for one in flags)
        and all(isinstance(one, str) for one in (options.wind, options.tiles))
        and (options.tiles == "" or is_tile_address(options.tiles))
        and options.season in (None, "winter", "summer")
        and (options.cell is None or options.cell in CELLS)
        and (options.clarity_m is None or _is_length(options.clarity_m))
        and (options.water_c is None or _is_warmth(options.water_c))
        and (options.flows is None or _are_flows(options.flows))
    )


def _is_length(value: object) -> bool:
    """Return whether a value is a length [m]."""
    return isinstance(value, (int, float)) and 0 <= value < math.inf


def _is_warmth(value: object) -> bool:
    """Return whether a value is a temperature of water [C]."""
    low, high = RANGE_C
    return isinstance(value, (int, float)) and low <= value <= high


def _are_flows(flows: tuple[float, ...]) -> bool:
    """Return whether flows are some, and each within the limits."""
    low, high = FLOW_LIMITS
    return 0 < len(flows) <= MOST_FLOWS and all(low <= flow <= high for flow in flows)


def current_report(folder: Path, out: Path, options: Options) -> Mapping[str, Any] | None:
    """Return the report of an earlier build if building again would change nothing, else None.

    Every file that build wrote must still be there, byte for byte; a report that names a file
    outside the folder is rejected.
    """
    report = read_report(out)
    try:
        if report["stamp"] != build_stamp(folder, options):
            return None
        files = report["files"].items()
        intact = all(is_intact(out, name, digest) for name, digest in files)
    except (OSError, KeyError, AttributeError, TypeError):
        return None
    return report if intact else None
