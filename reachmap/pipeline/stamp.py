"""Whether a build would change anything, known from file digests alone: no heavy import here."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import reachmap
from reachmap.base.stamp import digest_bytes, digest_file, digest_files, stage_key
from reachmap.markup.files import input_files
from reachmap.triplog.store import FILE as LOG_FILE

REPORT = "report.json"
WRITTEN = "written"


@dataclass(frozen=True, slots=True)
class Options:
    """What was asked of a build.

    Parameters
    ----------
    flows
        Discharges to map [m3/s], or None for those of reach.toml.
    cell
        Side of a raster cell [m]: 1, 2 or 4.
    quick
        Whether the one-dimensional preview stands in for the flow engine.
    season
        Whose limits apply, "winter" or "summer"; None for that of reach.toml.
    wind
        "calm", or where it blows: "upstream", "downstream", "left" or "right"; or a forecast like
        "SW 12 mph".
    clarity_m
        How far one sees into the water [m]; None for clear enough not to matter.
    ensemble
        Whether a dozen grounds that the evidence allows are run, so that the map tells how sure it
        is.
    tiles
        Address of imagery tiles for the maps, empty for none.
    long_names
        Whether names in GPX files are in words.
    log
        Whether the maps show the angler's own log.
    """

    flows: tuple[float, ...] | None = None
    cell: float = 2.0
    quick: bool = False
    season: str | None = None
    wind: str = "calm"
    clarity_m: float | None = None
    ensemble: bool = True
    tiles: str = ""
    long_names: bool = False
    log: bool = True


def written_folder(folder: Path, out: Path | None) -> Path:
    """Return where a build of the reach folder writes."""
    return out if out is not None else folder / WRITTEN


def program_digest() -> str:
    """Return a digest over the program's own files: a new version never trusts old results."""
    home = Path(reachmap.__file__).parent
    kinds = {".py", ".js", ".css", ".html", ".toml", ".json"}
    files = [path for path in home.rglob("*") if path.suffix in kinds]
    return digest_bytes(json.dumps(digest_files(files, home)).encode())


def build_stamp(folder: Path, options: Options) -> str:
    """Return the stamp of a build: program, options and every input file."""
    files = input_files(folder)
    if options.log and (folder / LOG_FILE).is_file():
        files.append(folder / LOG_FILE)
    return stage_key(
        "build",
        1,
        {"program": program_digest(), **asdict(options)},
        digest_files(files, folder),
    )


def asked_before(out: Path) -> Options:
    """Return the options of the build that wrote a folder; the usual ones where nobody built."""
    try:
        told = json.loads((out / REPORT).read_text(encoding="utf-8"))["options"]
        flows = None if told["flows"] is None else tuple(float(flow) for flow in told["flows"])
        return Options(**{**told, "flows": flows})
    except (OSError, ValueError, KeyError, TypeError):
        return Options()


def current_report(folder: Path, out: Path, options: Options) -> Mapping[str, Any] | None:
    """Return the report of an earlier build if building again would change nothing, else None.

    Every file that build wrote must still be there, byte for byte.
    """
    try:
        report = json.loads((out / REPORT).read_text(encoding="utf-8"))
        if report["stamp"] != build_stamp(folder, options):
            return None
        files = report["files"].items()
        intact = all(digest_file(out / name) == digest for name, digest in files)
    except (OSError, ValueError, KeyError, AttributeError, TypeError):
        return None
    return report if intact else None
