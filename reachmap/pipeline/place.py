"""Output folder of a build: `written`, or `written-quick` where `written` holds a fuller build."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.generation import CACHE, REPORT, read_report
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.pipeline.stamp import WRITTEN, Options, current_report, written_folder

QUICK = "written-quick"
"""Folder for builds that are narrower than the one in `written`."""

FULL_CELL_M = 2.0
"""Cells of a full build [m]: larger ones are asked for by --cell."""

SAME_FLOW = 1e-6
"""Two flows this near, as a share, are one; our choice: rounding of units, far below a label."""

PAGE = "maps/index.html"


@dataclass(frozen=True, slots=True)
class Place:
    """Output folder of a build; `why` is a sentence where it is not the usual one, else empty."""

    folder: Path
    why: str = ""


def place_for(
    home: Path | None,
    out: Path | None,
    options: Options,
    *,
    replace: bool = False,
    cell_m: float | None = None,
) -> Place:
    """Return the output folder of a build; a narrower build never replaces a fuller one.

    A build is narrower than the one in the folder if it leaves out one of its flows, the flow
    engine, the ensemble, or detail (larger cells). The full build (what
    reach.toml says, with the engine and the ensemble, on cells of the size chosen by the river's
    width or, where asked for, of at most 2 m) is never narrower, but for cells asked for that are
    larger than those chosen for the build in the folder.

    Parameters
    ----------
    home
        The reach folder.
    out
        The folder asked for by name; None for `written`, or `written-quick` if narrower.
    options
        Of the build.
    replace
        Whether to overwrite a fuller build.
    cell_m
        Side of the cells that the options come to [m]; those asked for where not given.

    Raises
    ------
    MarkupError
        If a folder asked for by name holds a fuller build.
    """
    target = written_folder(home or Path(), out)
    cell_m = options.cell if cell_m is None else cell_m
    missing = [] if replace else left_out(options, target, cell_m)
    if not missing:
        return Place(target, _finer_before(options, target, cell_m))
    held = f"a fuller build, with {' and '.join(missing)}"
    if out is not None:
        fix = "Name another folder, or add --replace (in Python replace=True) to lose that build"
        raise MarkupError([Fault(str(out), f"it holds {held}", fix)])
    narrower = target.with_name(QUICK)
    why = (
        f"Written to {narrower}, because {target} holds {held}; --replace would overwrite that one."
    )
    return Place(narrower, why)


def left_out(options: Options, folder: Path, cell_m: float | None = None) -> list[str]:
    """Return phrases on what a folder's build has and a build with these options would not.

    `cell_m` is the side of its cells [m]; None where it is not known.
    """
    report = read_report(folder)
    if is_full(options, report):
        return []
    stood = report.get("options")
    if not isinstance(stood, dict):
        return []
    found = _flows_left_out(options, report)
    if options.quick and stood.get("quick") is False:
        found.append("the flow engine")
    if not options.ensemble and report.get("ensemble"):
        found.append("how sure it is")
    cell = _cell_of(report)
    if cell_m is not None and cell_m > cell:
        found.append(f"cells of {cell:g} m")
    return found


def is_full(options: Options, earlier: Mapping[str, Any]) -> bool:
    """Return whether a build leaves out nothing that reach.toml and the river's width ask for.

    `earlier` is the report of the build in the folder.
    """
    whole = options.flows is None and options.ensemble and not options.quick
    if options.cell is None:
        return whole
    most = min(FULL_CELL_M, _cell_of(earlier)) if _was_chosen(earlier) else FULL_CELL_M
    return whole and options.cell <= most


def last_built(home: Path, out: Path | None) -> Place:
    """Return the written folder to show: the one asked for, else the one built last."""
    target = written_folder(home, out)
    narrower = target.with_name(QUICK)
    if out is not None or not (narrower / PAGE).is_file():
        return Place(target)
    if (target / PAGE).is_file() and _built_at(target) >= _built_at(narrower):
        return Place(target)
    why = f"This is the narrower build in {narrower}, built last; --out {target} shows the other."
    return Place(narrower, why)


def known_cell(options: Options, home: Path, out: Path | None) -> float | None:
    """Return the side of the cells that options come to [m], found without reading the drawing.

    None where it is to be chosen and no build with these options is up to date.
    """
    if options.cell is not None:
        return options.cell
    target = written_folder(home, out)
    for folder in (target, target.with_name(QUICK)):
        report = current_report(home, folder, options)
        if report is not None:
            return _cell_of(report)
    return None


def other_caches(home: Path | None, out: Path) -> tuple[Path, ...]:
    """Return the caches of the reach's other written folders, to read from."""
    if home is None:
        return ()
    folders = (home / WRITTEN, home / QUICK)
    return tuple(one / CACHE for one in folders if one.resolve() != out.resolve())


def _flows_left_out(options: Options, report: Mapping[str, Any]) -> list[str]:
    """Return a phrase on the mapped flows that a build would not have."""
    rows = report.get("flows")
    if options.flows is None or not isinstance(rows, list):
        return []
    flows = [row.get("flow_m3_s") for row in rows if isinstance(row, dict)]
    gone = [
        float(flow)
        for flow in flows
        if isinstance(flow, (int, float))
        and not any(math.isclose(flow, one, rel_tol=SAME_FLOW) for one in options.flows)
    ]
    if not gone:
        return []
    metric = any(str(row.get("label")).endswith("m3s") for row in rows if isinstance(row, dict))
    units = UnitSystem.METRIC if metric else UnitSystem.US
    return [f"{len(flows)} flows ({', '.join(flow_words(flow, units) for flow in gone)} not here)"]


def _cell_of(report: Mapping[str, Any]) -> float:
    """Return the side of the cells of a build [m]; infinite where its report does not say."""
    cell = report.get("cell_m")
    return float(cell) if isinstance(cell, (int, float)) and cell > 0 else math.inf


def _was_chosen(report: Mapping[str, Any]) -> bool:
    """Return whether a build's cells were chosen by the river's width."""
    stood = report.get("options")
    return isinstance(stood, dict) and stood.get("cell", 0) is None


def _finer_before(options: Options, folder: Path, cell_m: float | None) -> str:
    """Return a sentence where a full build takes the place of one on finer cells."""
    report = read_report(folder)
    cell = _cell_of(report)
    if not is_full(options, report) or cell_m is None or cell_m <= cell:
        return ""
    return (
        f"The maps before were on cells of {cell:g} m; "
        f"`reachmap build --cell {cell:g}` makes them again, from the cache where nothing changed."
    )


def _built_at(folder: Path) -> datetime:
    """Return the time of a build: as in its report, else the report file's modification time."""
    try:
        return datetime.fromisoformat(str(read_report(folder)["built_utc"])).astimezone(UTC)
    except (KeyError, ValueError, OverflowError):
        pass
    try:
        return datetime.fromtimestamp((folder / REPORT).stat().st_mtime, UTC)
    except (OSError, OverflowError):
        return datetime.min.replace(tzinfo=UTC)
